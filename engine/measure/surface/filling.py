"""A grid with missing cells to a skin: the readings stay as they are, the rest is filled by a smooth periodic surface.

The surface is fitted to the readings; what they differ from it is carried between them in straight lines and is nothing
at missing cells. So the skin passes through every reading, and uneven stations and angles become even ones.
"""

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from engine.blank import MOST_ROWS
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Measured, Readings, even_angles
from engine.measure.surface.equations import Equations
from engine.measure.surface.outliers import tell_outliers
from engine.measure.surface.reach import TELLING_MM, few_angles, least_sigma
from engine.measure.surface.settling import Surface, settle
from engine.measure.surface.telling import how_settled, noisy
from engine.measure.surface.unseen import unseen_between

__all__ = ["fill_grid"]

LEAST_STATIONS, LEAST_ANGLES = 5, 8
MOST_ANGLES = 720  # every half degree
SAME = 1e-6  # of a step: stations even to this are even
SAME_RAD = 1e-5  # angles even to this, 0.0006 degrees, are even
WIDE = 1.5  # usual spacings to the nearest reading: cells further off are a gap, nearer ones have readings on all sides
MANY = 0.05  # share of cells filled from which on it is a warning
NAMED = 5  # places named in the finding


def fill_grid(x_mm: Floats, angle_deg: Floats, radius_mm: Floats, *, sigma_mm: Floats | None = None) -> Measured:
    """The skin through a grid's readings.

    x_mm : (m,) rising, m >= 5. angle_deg : (n,) rising within a turn, n >= 8. radius_mm : (m, n), NaN where missing.
    sigma_mm : (m, n) one standard deviation of each, 0 where not known; None or any 0: found from the readings.
    `known` is False wherever a missing cell has a share. `residual_mm` is each reading less the smooth surface, which
    shows what is wild; the skin itself passes through all of them.

    Raises
    ------
    BlankError where more than half is missing, or a whole end station, or a number is impossible.
    """
    x, angle, radius = (np.asarray(v, np.float64) for v in (x_mm, angle_deg, radius_mm))
    _refuse_wrong(x, angle, radius)
    seen, theta = ~np.isnan(radius), np.radians(angle)
    errors = np.zeros(radius.shape) if sigma_mm is None else np.broadcast_to(np.asarray(sigma_mm, float), radius.shape)
    at = np.nonzero(seen)
    readings = Readings(x_mm=x[at[0]], theta_rad=theta[at[1]], radius_mm=radius[at], sigma_mm=errors[at])
    surface = settle(Equations(readings, (float(x[0]), float(x[-1]))), None)
    even_x, even_theta = _even(x, theta)
    share, skin, sigma = _carried_over(surface, seen, (x, theta), (even_x, even_theta))
    known = share > 1.0 - SAME
    wide = ~known & (surface.equations.spacing.distance(readings, even_x, even_theta) > WIDE)
    least = np.maximum(
        least_sigma(readings, seen[at], even_x, even_theta, wide), unseen_between(surface, even_x)[:, None]
    )
    return Measured(
        x_mm=even_x,
        radius_mm=skin,
        sigma_mm=np.maximum(sigma, least),
        known=known,
        findings=(
            *_filled(x, angle, seen, surface),
            *tell_outliers(readings, surface.away_mm, surface.used, kept=True),
            *few_angles(len(theta)),
            *noisy(surface),
        ),
        how=(
            ("filling", "readings kept; missing cells by a smooth periodic surface through the others"),
            *how_settled(surface),
        ),
        readings=readings,
        residual_mm=surface.residual_mm,
        used=np.ones(len(readings), np.bool_),
    )


def _carried_over(
    surface: Surface, seen: Bools, grid: tuple[Floats, Floats], even: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """(m', n') on an even grid of x and theta: the share that readings have in a place, the skin through them, and its
    sigma. seen : (m, n) of the grid, whether it was read.
    """
    rest, own = np.zeros(seen.shape), np.zeros(seen.shape)
    rest[seen] = surface.residual_mm
    own[seen] = np.where(surface.used, surface.noise_mm / np.sqrt(surface.equations.trust), np.abs(surface.residual_mm))
    share = np.clip(_carried(*grid, seen.astype(np.float64), *even), 0.0, 1.0)
    spread = surface.sigma(*even)
    skin = surface.radius(*even) + _carried(*grid, rest, *even)
    read = np.maximum(_carried(*grid, own, *even) / np.maximum(share, SAME), spread)
    if not (skin > 0).all():
        i, j = np.unravel_index(int(skin.argmin()), skin.shape)
        raise BlankError(
            f"the filled skin falls to the axis near x {even[0][i]:.1f}, angle {np.degrees(even[1][j]):.0f}",
            where="/asset",
            hint="read the missing cells there",
        )
    return share, skin, np.sqrt(share * read**2 + (1.0 - share) * spread**2)


def _even(x: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Even stations and angles, the given ones where they are so already; else as close as the closest."""
    gaps = np.diff(np.append(theta, theta[0] + TURN_RAD))
    even = bool(theta[0] == 0.0 and np.ptp(gaps) < SAME_RAD)
    n = len(theta) if even else int(min(MOST_ANGLES, np.ceil(TURN_RAD / gaps.min() - SAME)))
    steps = np.diff(x)
    if np.ptp(steps) < SAME * steps[0]:
        return x, even_angles(n)
    most = MOST_ROWS // n
    return np.linspace(x[0], x[-1], int(min(most, np.ceil((x[-1] - x[0]) / steps.min() - SAME) + 1))), even_angles(n)


def _carried(x: Floats, theta: Floats, values: Floats, to_x: Floats, to_theta: Floats) -> Floats:
    """(m', n') values of a grid carried to another in straight lines, around without a seam."""
    wide = np.concatenate([[theta[-1] - TURN_RAD], theta, [theta[0] + TURN_RAD]])
    wrapped = np.concatenate([values[:, -1:], values, values[:, :1]], axis=1)
    at = np.stack(np.meshgrid(to_x, to_theta, indexing="ij"), axis=-1)
    return np.asarray(RegularGridInterpolator((x, wide), wrapped)(at))


def _refuse_wrong(x: Floats, angle: Floats, radius: Floats) -> None:
    if x.ndim != 1 or angle.ndim != 1 or radius.shape != (len(x), len(angle)):
        raise _fault("the radii are not one for every station and angle", "a table of stations by angles")
    if len(x) < LEAST_STATIONS or len(angle) < LEAST_ANGLES:
        raise _fault(
            f"{len(x)} stations and {len(angle)} angles are too few",
            f"at least {LEAST_STATIONS} stations and {LEAST_ANGLES} angles",
        )
    rising = all(np.isfinite(v).all() and (np.diff(v) > 0).all() for v in (x, angle))
    if not (rising and angle[0] >= 0 and angle[-1] < 360):
        raise _fault("stations and angles must rise, the angles within a turn from 0", "sort the table")
    seen = ~np.isnan(radius)
    bad = seen & ~(np.isfinite(radius) & (radius > 0))
    if bad.any():
        i, j = (int(v[0]) for v in np.nonzero(bad))
        raise _fault(f"the radius at x {x[i]:g}, angle {angle[j]:g} is not above 0", "read it again, or leave it empty")
    if 2 * seen.sum() < seen.size:
        raise _fault(
            f"{seen.size - int(seen.sum())} of {seen.size} cells are missing, more than half",
            "read more of them, or give the readings as scattered points",
        )
    for k in (0, len(x) - 1):
        if not seen[k].any():
            raise _fault(
                f"the whole end station x {x[k]:g} is missing", "read it, or end the table one station earlier"
            )


def _filled(x: Floats, angle: Floats, seen: Bools, surface: Surface) -> tuple[Finding, ...]:
    """The finding `filled` with the count and the least sure places."""
    at = np.nonzero(~seen)
    count = len(at[0])
    if not count:
        return ()
    theta, spacing, readings = np.radians(angle), surface.equations.spacing, surface.equations.readings
    wide = ~seen & (spacing.distance(readings, x, theta) > WIDE)
    least = least_sigma(readings, np.ones(len(readings), np.bool_), x, theta, wide)[at]
    sigma = np.maximum(surface.sigma_at(x[at[0]], theta[at[1]]), np.maximum(least, unseen_between(surface, x)[at[0]]))
    worst = np.argsort(-np.round(sigma, 9), kind="stable")[:NAMED]
    named = "; ".join(f"x {x[at[0][k]]:g}, angle {angle[at[1][k]]:g}: within {sigma[k]:.3f} mm" for k in worst)
    more = f" and {count - NAMED} more" if count > NAMED else ""
    return (
        Finding(
            severity=Severity.WARNING if count > MANY * seen.size or least.max() > TELLING_MM else Severity.NOTE,
            code="filled",
            message=f"{count} of {seen.size} cells were missing and filled by a smooth surface: {named}{more}",
            advice="read them, or keep the art away from there",
            where=Where(x_mm=float(x[at[0][worst[0]]]), angle_deg=float(angle[at[1][worst[0]]])),
        ),
    )


def _fault(message: str, hint: str) -> BlankError:
    return BlankError(message, where="/asset", hint=hint)
