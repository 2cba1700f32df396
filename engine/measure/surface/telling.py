"""What a settled fit says of itself: how it was done, in pairs of a name and words, and readings worse than stated."""

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity
from engine.measure.surface.settling import Surface

__all__ = ["how_settled", "noisy"]

MORE_THAN_STATED = 1.5  # times the noise that was stated


def noisy(surface: Surface) -> tuple[Finding, ...]:
    """The finding `noisier-than-stated`, where the readings strew more than they say."""
    stated = surface.equations.stated_mm
    if not (stated and surface.noise_mm > MORE_THAN_STATED * stated):
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="noisier-than-stated",
            message=f"the readings strew by {surface.noise_mm:.3f} mm where {stated:.3f} mm was stated",
            advice="the error counts with the larger; look for play, a loose blank or a moving tip",
        ),
    )


def how_settled(surface: Surface) -> tuple[tuple[str, str], ...]:
    """What was done, in pairs of a name and words."""
    e, at = surface.equations, surface.decades
    left = surface.away_mm[surface.used]
    source = "stated, confirmed by the residuals" if e.stated_mm == surface.noise_mm else "from the residuals"
    weights = f"{10**at.round_:.2g} of the round body, {10**at.along:.2g} along, {10**at.around:.2g} around"
    return (
        ("smoothing", f"{surface.chosen}; weights: {weights}"),
        ("knots", f"{e.model.basis.nx} along and {e.model.basis.nt} around; {surface.parameters:.0f} parameters spent"),
        ("noise of a reading", f"{surface.noise_mm:.4f} mm, {source}"),
        ("left out one by one", f"each reading is foretold by the others within {_rms(left):.4f} mm RMS"),
        ("outliers", f"{int((~surface.used).sum())} of {len(surface.used)} readings left out"),
        ("neighbouring residuals", f"together raise the error by a factor of {surface.growth:.2f}"),
    )


def _rms(values: Floats) -> float:
    return float(np.sqrt((values**2).mean())) if len(values) else 0.0
