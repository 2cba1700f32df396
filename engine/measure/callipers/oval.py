"""Calliper stations to a skin: one diameter where the section is round, two at right angles where it is oval.

A section is an ellipse, the first diameter at angle 0 and the one across at 90 degrees; each half-axis runs along by a
shape-preserving curve. What the curve misses between stations is judged by leaving each inner station out.
Source: F. N. Fritsch, R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17 (1980) 238-246
(from memory), as scipy's PchipInterpolator carries it out; ellipse about its centre in polar form (handbook formula).
"""

import numpy as np
from scipy.interpolate import PchipInterpolator

from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.callipers.neighbours import scatter, standing, standing_told
from engine.measure.callipers.slips import slips_told
from engine.measure.measured import Measured, Readings, even_angles

__all__ = ["ellipse_radius", "stations_skin"]

ANGLES = 120
LEAST_STATIONS = 2  # a straight taper
LEAST_STEP_MM = 0.001  # stations closer than a calliper can tell apart are one
LEAST_GRID = 5  # stations of the grid
MOST_GRID = 800  # likewise; a longer piece has them farther apart
SEEN = 4  # stations from which on leaving one out tells something of the curve between
TWICE = 2.0  # the stated error: a scatter beyond is told
LEAST_TOLD_MM = 0.01  # of scatter: the last figure of a calliper


def ellipse_radius(a_mm: Floats, b_mm: Floats, theta_rad: Floats) -> Floats:
    """The radius of an ellipse with half-axes a at angle 0 and b at 90 degrees, all broadcast."""
    return np.asarray(a_mm * b_mm / np.hypot(b_mm * np.cos(theta_rad), a_mm * np.sin(theta_rad)))


def stations_skin(
    x_mm: Floats, diameter_mm: Floats, across_mm: Floats, reading_sigma_mm: float, *, step_mm: float = 1.0
) -> Measured:
    """The skin from the first to the last station.

    x_mm : (k,) rising, k >= 2. diameter_mm : (k,) > 0, at angle 0. across_mm : (k,) > 0 at 90 degrees, NaN where the
    section is round. reading_sigma_mm : one standard deviation of a diameter; where the readings scatter by more, that
    counts. About a reading that stands out, what it is off is in the error. `residual_mm` is each reading's radius less
    what the other stations foretell, 0 at the two ends, which nothing foretells.

    Raises
    ------
    BlankError with the reading's own pointer, /stations/k/field.
    """
    x, d, across = (np.asarray(v, np.float64) for v in (x_mm, diameter_mm, across_mm))
    _refuse_wrong(x, d, across, reading_sigma_mm)
    oval = ~np.isnan(across)
    half = 0.5 * np.stack([d, np.where(oval, across, d)])  # (2, k): a and b
    even = np.linspace(x[0], x[-1], int(np.clip(np.round((x[-1] - x[0]) / step_mm) + 1, LEAST_GRID, MOST_GRID)))
    missed = half - _left_out(x, half)
    sigma = max(reading_sigma_mm, *(2.0 * scatter(x, of) for of in half))
    doubted = np.stack([np.interp(even, x, _doubt(x, of)) for of in half])[:, :, None]
    a, b = PchipInterpolator(x, half, axis=1)(even)[:, :, None]
    theta = even_angles(ANGLES)
    radius = ellipse_radius(a, b, theta)
    share = np.stack([radius**3 * np.cos(theta) ** 2 / a**3, radius**3 * np.sin(theta) ** 2 / b**3])  # dr/da, dr/db
    apart = np.interp(even, x, oval)[:, None] > 0  # two readings err each for itself, the one of a circle as one
    read = np.where(apart, np.hypot(*share), share.sum(0)) * 0.5 * sigma
    between = _between(x, missed, even, sigma)[:, :, None]
    missing = share * np.hypot(between, doubted)
    readings, residual = _as_readings(x, half, missed, oval, sigma)
    return Measured(
        x_mm=even,
        radius_mm=radius,
        sigma_mm=np.hypot(read, np.where(apart, np.hypot(*missing), missing.sum(0))),
        known=np.ones(radius.shape, np.bool_),
        findings=(
            *_unseen(len(x)),
            *_scattered(reading_sigma_mm, sigma),
            *_named(x, d),
            *_named(x, np.where(oval, across, d), field="across_mm", of=oval),
        ),
        how=_told(len(x), int(oval.sum()), missed, between, sigma),
        readings=readings,
        residual_mm=residual,
        used=np.ones(len(readings), np.bool_),
    )


def _doubt(x: Floats, half: Floats) -> Floats:
    """(k,) by how much each station that stands out is off, 0 for the others: a radius, as `half` is."""
    off = np.abs(half - standing(x, half)[0])
    return np.where(np.isnan(off), 0.0, off)


def _named(x: Floats, d: Floats, field: str = "diameter_mm", of: Bools | None = None) -> tuple[Finding, ...]:
    """The rows whose diameter looks wrong, each by one finding."""
    slips = slips_told(x, d, field=field, of=of)
    places = [slip.where for slip in slips]
    return (*slips, *(more for more in standing_told(x, d, field=field, of=of) if more.where not in places))


def _scattered(stated_mm: float, sigma_mm: float) -> tuple[Finding, ...]:
    """The finding `readings-scatter`, where they do by far more than was stated of one."""
    if sigma_mm <= max(TWICE * stated_mm, LEAST_TOLD_MM):
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="readings-scatter",
            message=f"the diameters scatter by {sigma_mm:.2g} mm from station to station where {stated_mm:g} was "
            "stated for one reading: the larger is in the error",
            advice="read all of them at the same angle, again where the residuals are greatest, or state the error as "
            "it is",
            where=Where(pointer="/reading_error_mm"),
        ),
    )


def _left_out(x: Floats, half: Floats) -> Floats:
    """(2, k) each inner station as the others foretell it; the ends as they are."""
    out = half.copy()
    if len(x) < SEEN:
        return out
    for k in range(1, len(x) - 1):
        rest = np.arange(len(x)) != k
        out[:, k] = PchipInterpolator(x[rest], half[:, rest], axis=1)(x[k])
    return out


def _between(x: Floats, missed: Floats, even: Floats, reading_sigma_mm: float) -> Floats:
    """(2, m) standard deviation of what the curve misses: 0 at stations, greatest half-way.

    A station left out between neighbours h and g away is missed by about curvature x h g / 2, the middle of a gap of
    width h by curvature x h^2 / 8 (interpolation error of second order); the reading errors of the three stations are
    taken off first. A gap takes the larger of its two ends, and no less than all have on the average: a station where
    the skin happens to run straight is no proof for its neighbourhood.
    """
    out = np.zeros((2, len(even)))
    if len(x) < SEEN:
        return out
    gap = np.diff(x)
    noise = 1.5 * (0.5 * reading_sigma_mm) ** 2  # of the station itself, and half as much of its two neighbours
    spread = np.maximum(missed[:, 1:-1] ** 2 - noise, 0.0) / (gap[:-1] * gap[1:]) ** 2
    ends = np.concatenate([spread[:, :1], spread, spread[:, -1:]], axis=1)
    steep = np.sqrt(np.maximum(np.maximum(ends[:, :-1], ends[:, 1:]), spread.mean(axis=1, keepdims=True)))
    i = np.clip(np.searchsorted(x, even, side="right") - 1, 0, len(gap) - 1)
    return np.asarray(steep[:, i] * (even - x[i]) * (x[i + 1] - even))


def _as_readings(
    x: Floats, half: Floats, missed: Floats, oval: Floats, reading_sigma_mm: float
) -> tuple[Readings, Floats]:
    """The half-axes as points of the skin at 0 and, where oval, 90 degrees, station by station; and their misses."""
    station, axis = np.nonzero(np.stack([np.ones(len(x), np.bool_), oval], axis=1))
    return Readings(
        x_mm=x[station],
        theta_rad=np.asarray(axis * (0.5 * np.pi), np.float64),
        radius_mm=half[axis, station],
        sigma_mm=np.full(len(station), 0.5 * reading_sigma_mm),
    ), missed[axis, station]


def _refuse_wrong(x: Floats, d: Floats, across: Floats, reading_sigma_mm: float) -> None:
    if x.ndim != 1 or not x.shape == d.shape == across.shape or len(x) < LEAST_STATIONS:
        raise BlankError("two stations at least are needed", where="/stations", hint="add a station")
    if not 0 <= reading_sigma_mm < np.inf:
        raise BlankError("a reading's error must be 0 or more", where="/reading_sigma_mm", hint="0.02 for a calliper")
    rises = np.append(True, np.diff(x) >= LEAST_STEP_MM)
    for field, good, words, hint in (
        ("x_mm", np.isfinite(x), "a station must be a number", "its distance from the datum face"),
        ("x_mm", rises, "the station does not lie beyond the one before it", "list them rising, each once"),
        ("diameter_mm", np.isfinite(d) & (d > 0), "a diameter must be above 0", "read it again"),
        (
            "across_mm",
            np.isnan(across) | (np.isfinite(across) & (across > 0)),
            "a diameter must be above 0",
            "or empty",
        ),
    ):
        if not good.all():
            raise BlankError(words, where=f"/stations/{int(good.argmin())}/{field}", hint=hint)


def _unseen(count: int) -> tuple[Finding, ...]:
    if count >= SEEN:
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="between-stations-unknown",
            message=f"{count} stations do not tell how the skin runs between them; its error counts the readings only",
            advice=f"add stations until there are {SEEN} or more, closest where the skin bends",
        ),
    )


def _told(
    count: int, oval: int, missed: Floats, between: Floats, reading_sigma_mm: float
) -> tuple[tuple[str, str], ...]:
    parts = (
        ("sections", f"{count} stations, {oval} of them oval: an ellipse through both diameters, else a circle"),
        ("profile", "each half-axis by a shape-preserving cubic through its stations"),
        ("error of the readings", f"{0.5 * reading_sigma_mm:.4f} mm on a radius, half of that on a diameter"),
    )
    if count < SEEN:
        return (*parts, ("error between stations", "not known: too few stations to leave one out"))
    rms = np.sqrt((missed[:, 1:-1] ** 2).mean())
    return (
        *parts,
        (
            "error between stations",
            f"an inner station is foretold by the others within {rms:.4f} mm RMS; so {between.max():.4f} mm half-way",
        ),
    )
