"""Scattered readings to one skin: robust, smooth, periodic, and how sure it is at each place.

A robust round profile first; then a round part and a deviation together by penalised least squares, with smoothing by
generalised cross-validation. Readings that the others do not foresee are left out and the fit is repeated until none
changes sides. What is far from every reading is filled in and marked, and so is where several neighbours were left out.
"""

import numpy as np

from engine.blank import MOST_ROWS
from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.measured import Measured, Readings, even_angles
from engine.measure.spline import Smoothing
from engine.measure.surface.equations import Equations
from engine.measure.surface.features import features_of
from engine.measure.surface.outliers import tell_outliers
from engine.measure.surface.reach import TELLING_MM, few_angles, least_sigma
from engine.measure.surface.repeats import repeats_of
from engine.measure.surface.settling import Surface, settle
from engine.measure.surface.telling import how_settled, noisy
from engine.measure.surface.unseen import unseen_sigma

__all__ = ["fit_readings"]

LEAST_STATIONS = 5  # of a grid's own table
FAR = 2.0  # usual spacings to the nearest reading: further off nothing is known
SMALL_SHARE = 0.002  # of the skin: smaller gaps are chance among strewn readings and only noted
ANGLES = (120, 180, 240, 360)


def fit_readings(
    readings: Readings,
    x_range_mm: tuple[float, float] | None = None,
    *,
    smoothing: Smoothing | None = None,
    laid_out: Readings | None = None,
    step_mm: float = 1.0,
    angles: int | None = None,
) -> Measured:
    """The skin through scattered readings, from the first to the last station unless a range is given.

    smoothing : along and around, for the deviation from round; None: chosen by cross-validation, told in `how`.
    laid_out : the readings before they were moved a little, as a ball's centres are to where it touched: these say how
    far apart the skin was looked at.
    step_mm : of the stations, widened where the grid would pass its table's limit. angles : 120 to 360 around.

    Raises
    ------
    BlankError, with what to do, where the readings do not tell a skin all around, or the skin falls to the axis.
    """
    lo, hi = x_range_mm or (float(readings.x_mm.min(initial=np.inf)), float(readings.x_mm.max(initial=-np.inf)))
    if len(readings):
        _refuse_wrong(readings, has_length=lo < hi and step_mm > 0)
    surface = settle(Equations(readings, (lo, hi), laid_out), smoothing)
    theta = even_angles(_around(surface, angles))
    most = MOST_ROWS // len(theta)
    x = np.linspace(lo, hi, int(np.clip(np.round((hi - lo) / step_mm) + 1, LEAST_STATIONS, most)))
    radius = surface.radius(x, theta)
    _refuse_axis(radius, x, theta)
    distance = surface.equations.spacing.distance(readings, x, theta)
    least = least_sigma(readings, surface.used, x, theta, distance > FAR)
    features, repeats = features_of(surface), repeats_of(surface, laid_out or readings)
    left_out = features.least_sigma(x, theta)
    sure = np.maximum.reduce([surface.sigma(x, theta), unseen_sigma(surface, x, theta), least, left_out])
    return Measured(
        x_mm=x,
        radius_mm=radius,
        sigma_mm=np.maximum(sure, repeats.least_sigma_mm),
        known=(distance <= FAR) & (left_out == 0),
        findings=(
            *features.findings(),
            *repeats.findings,
            *tell_outliers(readings, surface.away_mm, surface.used),
            *_gaps(distance, least, x, theta),
            *few_angles(surface.equations.spacing.angles),
            *noisy(surface),
        ),
        how=how_settled(surface),
        readings=readings,
        residual_mm=surface.residual_mm,
        used=surface.used,
    )


def _around(surface: Surface, angles: int | None) -> int:
    """How many angles around: four a spline at least."""
    if angles is not None:
        if not ANGLES[0] <= angles <= ANGLES[-1]:
            raise BlankError(f"{angles} angles", where="/angles", hint=f"{ANGLES[0]} to {ANGLES[-1]}")
        return angles
    return next((n for n in ANGLES if n >= 4 * surface.equations.model.basis.nt), ANGLES[-1])


def _refuse_wrong(readings: Readings, *, has_length: bool) -> None:
    if not has_length:
        raise BlankError("the skin has no length", where="/x_range_mm", hint="the second station beyond the first")
    if not (readings.radius_mm > 0).all():
        k = int((readings.radius_mm > 0).argmin())
        raise BlankError("a radius must be above 0", where=f"/readings/{k}/radius_mm", hint="check the axis's height")


def _refuse_axis(radius_mm: Floats, x_mm: Floats, theta_rad: Floats) -> None:
    """BlankError where the skin (m, n) falls to the axis."""
    if (radius_mm > 0).all():
        return
    i, j = np.unravel_index(int(radius_mm.argmin()), radius_mm.shape)
    raise BlankError(
        f"the skin falls to the axis near x {x_mm[i]:.1f}, angle {np.degrees(theta_rad[j]):.0f}",
        where="/x_range_mm",
        hint="end it nearer to the readings, or read there",
    )


def _gaps(distance: Floats, least: Floats, x_mm: Floats, theta_rad: Floats) -> tuple[Finding, ...]:
    """The finding `gaps` with its share and the place furthest from every reading."""
    share = float((distance > FAR).mean())
    if share == 0.0:
        return ()
    wide = share > SMALL_SHARE or least.max() > TELLING_MM
    i, j = np.unravel_index(int(distance.argmax()), distance.shape)
    x, angle = float(x_mm[i]), float(np.degrees(theta_rad[j]))
    return (
        Finding(
            severity=Severity.WARNING if wide else Severity.NOTE,
            code="gaps",
            message=f"{100 * share:.1f} % of the skin is further than {FAR:g} usual spacings from any reading and was "
            f"filled in; the furthest place is x {x:.1f}, angle {angle:.0f}, {distance[i, j]:.1f} spacings off, "
            f"the least sure one known to {least.max():.2f} mm at best",
            advice="read there, or keep the art away from it",
            where=Where(x_mm=x, angle_deg=angle),
        ),
    )
