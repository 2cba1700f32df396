"""Which readings are wild: those that all the others do not foresee, and that stand alone.

Each reading is compared with what the fit without it foretells. Where a whole neighbourhood fits badly the skin itself
is rougher there than the smoothing allows, so a reading must also stand out from its neighbours.
"""

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.robust import robust_sigma
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings

__all__ = ["local_scale", "studentized", "tell_outliers", "wild"]

CUT = 4.0  # standard deviations; of a thousand good readings less than one in ten lies further off
NEIGHBOURS = 12
WORST = 5  # places named in the finding


def studentized(residual: Floats, weight: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """(left-out residual, its standard deviation in units of the noise), each (k,).

    residual : reading less fit. weight : of each reading in the fit, 0 where it had no say. variance : of the fit at
    each, in units of the noise. Source: R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982), 2.2.
    """
    free = np.maximum(1.0 - weight * variance, 1e-6)
    return residual / free, np.sqrt(1.0 + variance / free)


def local_scale(deviate: Floats, places: Floats, box: Floats) -> Floats:
    """(k,) how widely the deviates (k,) of each reading's neighbours spread, at least 1.

    places : (k, 2) in usual spacings, periodic in `box`.
    """
    count = min(NEIGHBOURS, len(places) - 1)
    if count < 1:
        return np.ones(len(places))
    near = np.asarray(cKDTree(places, boxsize=box).query(places, count + 1)[1])[:, 1:]
    return np.maximum(robust_sigma(deviate[near]), 1.0)


def wild(deviate: Floats, places: Floats, box: Floats) -> Bools:
    """(k,) True for the readings that stand out from what was foretold and from their neighbours."""
    return np.asarray(np.abs(deviate) > CUT * local_scale(deviate, places, box))


def tell_outliers(readings: Readings, away_mm: Floats, used: Bools, *, kept: bool = False) -> tuple[Finding, ...]:
    """The finding `outliers` with their count and the worst places, and their fate; none where all were used.

    kept : they stay in the skin as they are, so that it is a warning however few they are.
    """
    out = np.flatnonzero(~used)
    if not len(out):
        return ()
    worst = out[np.argsort(-np.abs(away_mm[out]), kind="stable")]
    angle = np.degrees(np.mod(readings.theta_rad, TURN_RAD))
    named = "; ".join(f"x {readings.x_mm[i]:.1f}, angle {angle[i]:.1f}: {away_mm[i]:+.2f} mm" for i in worst[:WORST])
    more = f" and {len(out) - WORST} more" if len(out) > WORST else ""
    many = len(out) > 0.1 * len(used)
    fate = "had no say in the filling, but are kept" if kept else "were left out"
    return (
        Finding(
            severity=Severity.WARNING if many or kept else Severity.NOTE,
            code="outliers",
            message=f"{len(out)} of {len(used)} readings do not fit their neighbours and {fate}: {named}{more}",
            advice="look at these places; read them again where the skin really has a bump or a dent",
            where=Where(x_mm=float(readings.x_mm[worst[0]]), angle_deg=float(angle[worst[0]])),
        ),
    )
