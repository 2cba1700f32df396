"""A measured skin from a CSV of readings: columns x_mm, angle_deg, radius_mm, rows in any order; and such a CSV.

A fourth column sigma_mm, where there is one, says how sure each reading is (one standard deviation).

Takes bytes; gives `Sampled`, smooth and periodic through every reading. Stations and angles may be unevenly spaced but
every station has a reading at every angle. Around, a periodic cubic spline carries uneven angles to even ones; along, a
cubic spline does the same for stations. Refuses (BlankError, with the row) missing, doubled or broken readings.
"""

import numpy as np
from scipy.interpolate import CubicSpline

from engine.blank.csv_rows import MOST_ROWS, rows_of
from engine.blank.spline import Sampled
from engine.blank.spread import Spread
from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError, GapsError
from engine.kernel.units import TURN_DEG, TURN_RAD

__all__ = ["COLUMNS", "check_grid", "read_grid", "write_grid"]

COLUMNS = ("x_mm", "angle_deg", "radius_mm")
SIGMA = "sigma_mm"
WHERE = "/blank/asset"
LEAST_STATIONS = 5  # that carry a cubic with not-a-knot ends
LEAST_ANGLES = 8  # three harmonics, so an oval and lobes, and one reading over
EVERY_PLACE = "one reading for every station at every angle"
SAME_DEG = 1e-6  # two angles closer than this are one


def read_grid(data: bytes, *, sigma_mm: float | None = None, unstated_mm: float = 0.0) -> Sampled:
    """The skin that the CSV describes; the blank runs from the least to the greatest x.

    sigma_mm : one standard deviation of all of it, whatever the table says; None: as the table says place by place, and
    `unstated_mm` where it says nothing.
    """
    x, angle, radius, sigma = _readings(data)
    ends = float(x[0]), float(x[-1])
    spread = None
    if sigma_mm is None and sigma is not None:
        spread = Spread(x0_mm=ends[0], x1_mm=ends[1], sigma_mm=_even_straight(x, angle, sigma))
    stated = unstated_mm if sigma_mm is None else sigma_mm
    skin = Sampled.of(_even(x, angle, radius), *ends, sigma_mm=stated, spread=spread)
    _refuse_holes(skin)
    return skin


def write_grid(x_mm: Floats, radius_mm: Floats, sigma_mm: Floats) -> bytes:
    """The CSV of a skin at m stations and n even angles from 0 over a turn: radius and sigma (m, n)."""
    m, n = radius_mm.shape
    x, angle = np.repeat(x_mm, n), np.tile(np.arange(n) * (TURN_DEG / n), m)
    rows = zip(x.tolist(), angle.tolist(), radius_mm.ravel().tolist(), sigma_mm.ravel().tolist(), strict=True)
    lines = (f"{a:.7f},{b:.6f},{r:.5f},{s:.5f}" for a, b, r, s in rows)
    return "\n".join([",".join((*COLUMNS, SIGMA)), *lines, ""]).encode()


def check_grid(data: bytes) -> None:
    """Refuse a CSV with broken, doubled, missing or too few readings, at little cost: no surface is laid through them.

    Raises
    ------
    BlankError, with the row or the place.
    """
    _readings(data)


def _readings(data: bytes) -> tuple[Floats, Floats, Floats, Floats | None]:
    """(m,) stations, (n,) angles in degrees from 0 to a turn, both rising, and (m, n) radius and sigma at each."""
    rows = _rows(data)
    x, i = np.unique(rows[:, 0], return_inverse=True)
    turned = np.mod(rows[:, 1], TURN_DEG)
    turned[TURN_DEG - turned < SAME_DEG] = 0.0
    angle, j = np.unique(np.round(turned / SAME_DEG) * SAME_DEG, return_inverse=True)
    if len(x) < LEAST_STATIONS or len(angle) < LEAST_ANGLES:
        least = f"at least {LEAST_STATIONS} stations and {LEAST_ANGLES} angles"
        raise _gap(f"{len(x)} stations and {len(angle)} angles are too few", least)
    if len(x) * len(angle) > MOST_ROWS:  # before anything of that size is made
        raise _gap(f"{len(x)} stations at {len(angle)} angles are not {len(rows)} readings")
    count = np.zeros((len(x), len(angle)), np.int64)
    np.add.at(count, (i, j), 1)
    for wrong, word in ((count > 1, "more than one reading"), (count == 0, "no reading")):
        if wrong.any():
            a, b = (int(v[0]) for v in np.nonzero(wrong))
            message = f"{word} at x {x[a]:g}, angle {angle[b]:g}, and {int(wrong.sum()) - 1} more such places"
            raise _gap(message)
    radius, sigma = np.zeros(count.shape), np.zeros(count.shape)
    radius[i, j], sigma[i, j] = rows[:, 2], rows[:, -1]
    return x, angle, radius, sigma if rows.shape[1] > len(COLUMNS) else None


def _refuse_holes(skin: Sampled) -> None:
    """A cubic through wild readings may swing below the axis between them: look at four places a cell and refuse."""
    x0, x1, _, _, nx, nt = skin.frame
    x = np.linspace(x0, x1, 2 * nx - 1)
    theta: Floats = np.linspace(0.0, TURN_RAD, 2 * nt, endpoint=False)
    radius = skin.radius(x[:, None], theta[None, :])
    if not (radius > 0).all():
        a, b = np.unravel_index(int(radius.argmin()), radius.shape)
        raise _fault(
            f"between the readings the skin falls below the axis near x {x[a]:g}, angle {np.degrees(theta[b]):g}",
            "look for a wrong reading there, or measure more closely",
        )


def _even(x: Floats, angle: Floats, radius: Floats) -> Floats:
    """The readings carried to even stations and to even angles that begin at 0; even ones are kept as they are."""
    if not (angle[0] == 0 and np.allclose(np.diff(angle), TURN_DEG / len(angle), atol=10 * SAME_DEG)):
        closed = np.concatenate([radius, radius[:, :1]], axis=1)
        around = CubicSpline(np.append(angle, angle[0] + TURN_DEG), closed, axis=1, bc_type="periodic")
        n = int(min(720, np.ceil(TURN_DEG / np.diff(np.append(angle, angle[0] + TURN_DEG)).min())))
        radius = np.asarray(around(np.arange(n) * (TURN_DEG / n)))
    steps = np.diff(x)
    if not np.allclose(steps, steps[0], rtol=1e-6):
        n = int(min(2000, np.ceil((x[-1] - x[0]) / steps.min()))) + 1
        radius = np.asarray(CubicSpline(x, radius, axis=0)(np.linspace(x[0], x[-1], n)))
    return radius


def _even_straight(x: Floats, angle: Floats, sigma: Floats) -> Floats:
    """Sigmas carried to as many even stations and angles along straight lines, which never make them less than 0."""
    m, n = sigma.shape
    turn: Floats = np.arange(n) * (TURN_DEG / n)
    around = np.stack([np.interp(turn, angle, row, period=TURN_DEG) for row in sigma])
    stations = np.linspace(x[0], x[-1], m)
    return np.stack([np.interp(stations, x, column) for column in around.T], axis=1)


def _rows(data: bytes) -> Floats:
    """(n, 3) in the order of COLUMNS, or (n, 4) with the sigmas."""
    head, rows, _ = rows_of(data, where=WHERE)
    if set(COLUMNS) - set(head):
        raise _fault("the first line lacks a column", f"a first line with {', '.join(COLUMNS)}")
    at = [head.index(name) for name in (*COLUMNS, SIGMA) if name in head]
    held = [_numbers(row, at, number, len(head)) for number, row in rows]
    return np.array(held, np.float64).reshape(-1, len(at))


def _numbers(row: list[str], at: list[int], number: int, columns: int) -> list[float]:
    if any(cell.strip() for cell in row[columns:]):
        told = f"row {number} has more cells than the {columns} headings: decimal commas between commas?"
        raise _fault(told, "decimal points, or semicolons between the columns")
    if any(k < len(row) and not row[k].strip() for k in at):
        raise _gap(f"row {number} has an empty cell")
    try:
        values = [float(row[k]) for k in at]
    except (ValueError, IndexError) as exc:
        raise _fault(f"row {number} does not hold {len(at)} numbers", "a decimal point, no thousands mark") from exc
    x, angle, radius = values[:3]
    if not 0 <= values[-1] <= 10_000:
        raise _fault(f"row {number} is out of range", "a sigma_mm of 0 or more")
    if radius == 0:
        raise _gap(f"row {number} lies at the axis", "a radius above 0")
    if not (abs(x) <= 10_000 and abs(angle) <= 36_000 and 0 < radius <= 10_000):
        raise _fault(f"row {number} is out of range", "lengths within 10 000 mm, radius above 0")
    return values


def _gap(message: str, needed: str = EVERY_PLACE) -> GapsError:
    return GapsError(message, where=WHERE, hint=f"{needed}, or have the gaps filled by measuring")


def _fault(message: str, hint: str) -> BlankError:
    return BlankError(message, where=WHERE, hint=hint)
