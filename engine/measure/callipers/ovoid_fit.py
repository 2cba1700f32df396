"""Many calliper readings of an egg to the published four-reading curve, by least squares.

Source of the curve: see `engine.blank.ovoid`. Either end may be the blunt one: both are tried and the better is told.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import OptimizeResult, least_squares
from scipy.stats import chi2

from engine.blank.ovoid import Ovoid
from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.callipers.slips import slips_told

__all__ = ["OvoidFit", "fit_ovoid"]

CHANCE = 0.001  # one egg in a thousand would be called unlike an egg by its readings' error alone
SHIFTS = (0.03, 0.12)  # of the length: where the search begins
LEAST_SHIFT = -0.02  # of the length: the curve with its breadth further from the blunt end is the other way round
OFF = 1e3  # times a diameter: how far a curve that is none is taken to miss it, so that the search turns back
LEAST_SIGMA_MM = 1e-6  # readings stated to be exact are taken as good as a nanometre
UNSURE_MM = 1.0  # of a reading of the curve: less sure it places no art on the egg; no source
NAMES = ("length", "breadth", "shift of the breadth", "diameter a quarter from the point")
LENGTH_ROOM = 0.5  # of the last station: how far the other end may lie beyond it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OvoidFit:
    """The four readings that fit best, one standard deviation of each, and what is left.

    blunt_first : station 0 of the stations given is the blunt end; else they ran from the pointed one, and the curve's
    station is length less theirs. residual_mm : (k,) diameter read less the curve's.
    """

    length_mm: float
    breadth_mm: float
    shift_mm: float
    quarter_diameter_mm: float
    length_sigma_mm: float
    breadth_sigma_mm: float
    shift_sigma_mm: float
    quarter_diameter_sigma_mm: float
    blunt_first: bool
    residual_mm: Floats
    rms_mm: float
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "residual_mm", frozen_floats(self.residual_mm))

    @property
    def ovoid(self) -> Ovoid:
        """The curve itself, its blunt end at station 0; its error is half of what the diameters leave."""
        return Ovoid(
            length_mm=self.length_mm,
            breadth_mm=self.breadth_mm,
            shift_mm=self.shift_mm,
            quarter_diameter_mm=self.quarter_diameter_mm,
            sigma_mm=0.5 * self.rms_mm,
        )


def fit_ovoid(x_mm: Floats, diameter_mm: Floats, length_mm: float | None, sigma_mm: float) -> OvoidFit:
    """The egg whose diameters come nearest to those read.

    x_mm : (k,) distances from one end. diameter_mm : (k,) > 0. length_mm : where it was read, else it is found too.
    sigma_mm : one standard deviation of a diameter; 0 where not known: then taken from what is left.

    Raises
    ------
    BlankError with /stations/k/field or /length_mm where a reading is impossible or there are too few of them.
    """
    x, d = np.asarray(x_mm, np.float64), np.asarray(diameter_mm, np.float64)
    _refuse_wrong(x, d, length_mm, sigma_mm)
    scale = max(sigma_mm, LEAST_SIGMA_MM)
    tries = [(_best(x, d, length_mm, scale, blunt_first), blunt_first) for blunt_first in (True, False)]
    found, blunt_first = min(tries, key=lambda one: (round(float(one[0].cost), 9), not one[1]))
    values = _values(found.x, length_mm)
    residual = d - _diameters(values, x, blunt_first)
    free = len(x) - len(found.x)
    rms = float(np.sqrt((residual**2).mean()))
    noise = max(sigma_mm, float(np.sqrt((residual**2).sum() / free)) if free else 0.0)
    sigma = np.zeros(4)
    sigma[4 - len(found.x) :] = _sigma(found, noise / scale)
    return OvoidFit(
        length_mm=values[0],
        breadth_mm=values[1],
        shift_mm=values[2],
        quarter_diameter_mm=values[3],
        length_sigma_mm=float(sigma[0]),
        breadth_sigma_mm=float(sigma[1]),
        shift_sigma_mm=float(sigma[2]),
        quarter_diameter_sigma_mm=float(sigma[3]),
        blunt_first=blunt_first,
        residual_mm=residual,
        rms_mm=rms,
        findings=(
            *slips_told(x, d),
            *_unlike(x, residual, sigma_mm, free),
            *_unsure(dict(zip(NAMES, sigma.tolist(), strict=True))),
            *_turned(blunt_first),
        ),
    )


def _values(parameters: Floats, length_mm: float | None) -> tuple[float, float, float, float]:
    """(length, breadth, shift, quarter diameter)."""
    first = [] if length_mm is None else [length_mm]
    length, breadth, shift, quarter = (float(v) for v in (*first, *parameters))
    return length, breadth, shift, quarter


def _diameters(values: tuple[float, float, float, float], x: Floats, blunt_first: bool) -> Floats:
    """(k,) of the curve; BlankError where these values give none."""
    length, breadth, shift, quarter = values
    curve = Ovoid(length_mm=length, breadth_mm=breadth, shift_mm=shift, quarter_diameter_mm=quarter)
    return 2.0 * curve.radius(x if blunt_first else length - x, np.zeros(1))


def _best(x: Floats, d: Floats, length_mm: float | None, scale: float, blunt_first: bool) -> OptimizeResult:
    """The best of a few searches that begin at different shifts."""

    def misses(parameters: Floats) -> Floats:
        try:
            return (d - _diameters(_values(parameters, length_mm), x, blunt_first)) / scale
        except BlankError:
            return np.full(len(x), OFF) * d / scale

    last, breadth = float(x.max()), float(d.max())
    found = []
    for share in SHIFTS:
        length = length_mm or 1.02 * last
        w = share * length
        quarter = 0.98 * np.sqrt(3.0) * breadth * length / (2.0 * np.sqrt(length**2 + 2.0 * w * length + 4.0 * w**2))
        start = np.array([length, breadth, w, quarter])[0 if length_mm is None else 1 :]
        lower = np.array([last, 0.5 * breadth, LEAST_SHIFT * length, 0.1 * breadth])[-len(start) :]
        upper = np.array([(1.0 + LENGTH_ROOM) * last, 1.5 * breadth, 0.45 * length, 1.5 * breadth])[-len(start) :]
        found.append(
            least_squares(
                misses,
                np.clip(start, lower * 1.000001, upper),
                bounds=(lower, upper),
                x_scale=start,
                xtol=1e-10,
                ftol=1e-10,
                gtol=1e-10,
                max_nfev=200,
            )
        )
    return min(found, key=lambda one: float(one.cost))


def _sigma(found: OptimizeResult, noise: float) -> Floats:
    """(p,) standard deviations of the parameters, where a miss of 1 is one `noise`th."""
    _, s, turned = np.linalg.svd(found.jac / np.linalg.norm(found.jac, axis=0), full_matrices=False)
    if not s[-1] > 1e-7 * s[0]:
        raise BlankError(
            "these stations do not tell the curve's four readings apart",
            where="/stations",
            hint="read diameters from end to end, some of them near the ends",
        )
    spread = np.sqrt(((turned / s[:, None]) ** 2).sum(0))
    return np.asarray(noise * spread / np.linalg.norm(found.jac, axis=0))


def _unlike(x: Floats, residual: Floats, sigma_mm: float, free: int) -> tuple[Finding, ...]:
    """The finding `not-egg-like`, where more is left than the readings' own error; a note where nothing can be left."""
    if free == 0:
        return (
            Finding(
                severity=Severity.NOTE,
                code="no-reading-to-spare",
                message="the curve runs through every reading, so what is left says nothing of how well it fits",
                advice="read one more diameter",
            ),
        )
    if not sigma_mm or (residual**2).sum() / sigma_mm**2 <= chi2.ppf(1.0 - CHANCE, free):
        return ()
    k = int(np.abs(residual).argmax())
    return (
        Finding(
            severity=Severity.WARNING,
            code="not-egg-like",
            message=f"the curve misses the diameters by {np.sqrt((residual**2).mean()):.3f} mm RMS where the readings "
            f"explain {sigma_mm:.3f}; most at x {x[k]:.1f}: {residual[k]:+.3f} mm",
            advice="look for a wrong reading there; for a blank unlike an egg take the stations themselves",
            where=Where(x_mm=float(x[k]), pointer=f"/stations/{k}/diameter_mm"),
        ),
    )


def _unsure(sigma_mm: dict[str, float]) -> tuple[Finding, ...]:
    """The finding `egg-unsure`, where the stations hardly tell one of the curve's four readings, by name."""
    loose = {name: sigma for name, sigma in sigma_mm.items() if sigma > UNSURE_MM}
    if not loose:
        return ()
    named = ", ".join(f"the {name} within {sigma:.2g} mm" for name, sigma in loose.items())
    return (
        Finding(
            severity=Severity.WARNING,
            code="egg-unsure",
            message=f"the stations hardly tell the egg: {named} (one standard deviation)",
            advice="measure its length, and read diameters from end to end, some of them near the ends",
            where=Where(pointer="/stations"),
        ),
    )


def _turned(blunt_first: bool) -> tuple[Finding, ...]:
    if blunt_first:
        return ()
    return (
        Finding(
            severity=Severity.NOTE,
            code="blunt-end-last",
            message="the stations run from the pointed end: the curve's own run from the blunt one, length less theirs",
            advice="hold the blank with its blunt end at the datum face, or measure from there",
        ),
    )


def _refuse_wrong(x: Floats, d: Floats, length_mm: float | None, sigma_mm: float) -> None:
    least = 3 if length_mm is not None else 4
    if x.ndim != 1 or x.shape != d.shape or len(x) < least:
        raise BlankError(f"{least} diameters at least are needed", where="/stations", hint="more stations")
    if not 0 <= sigma_mm < np.inf:
        raise BlankError("a reading's error must be 0 or more", where="/sigma_mm", hint="0.02 for a calliper")
    for field, good, words in (
        ("x_mm", np.isfinite(x) & (x >= 0), "a station is counted from the end, 0 or more"),
        ("diameter_mm", np.isfinite(d) & (d > 0), "a diameter must be above 0"),
    ):
        if not good.all():
            raise BlankError(words, where=f"/stations/{int(good.argmin())}/{field}", hint="read it again")
    if length_mm is not None and not (0 < length_mm < np.inf and x.max() < length_mm):
        raise BlankError(
            f"a station lies at {x.max():g}, not within the length", where="/length_mm", hint="count from the end"
        )
