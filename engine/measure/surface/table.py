"""A table of readings from CSV: named columns, angles in degrees or radians, empty cells where a reading is missing.

Looser than the reader of finished grids (`engine.blank.grid`): semicolons and tabs, decimal commas, other column names,
diameters, an error for each reading, rows in any order, readings strewn anywhere, headings in capitals, a radius of 0
at a pole. What cannot be read is refused with its row and column, and angles of plainly another unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from engine.blank import rows_of
from engine.kernel.arrays import Bools, Floats, frozen_floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.measured import Readings

__all__ = ["Grid", "Table", "read_table"]

MOST_MM = 10_000.0  # no lathe of a shop is longer
MOST_DEG = 36_000.0  # a hundred turns: beyond, it is no angle
NAMES = ("x_mm", "angle_deg", "angle_rad", "radius_mm", "diameter_mm", "sigma_mm")
SAME = 1e-6  # mm or degrees: two stations or angles nearer than this are one
ASK_BELOW = 6.3  # a little over a turn in radians
ALL_AROUND = 5.0  # of these: five even angles and more reach further
WHOLE_DEG = 0.25  # degrees are mostly whole numbers of these, radians all around never
LEAST_STATIONS, LEAST_ANGLES = 5, 8  # of a grid, as for finished ones
WHERE, UNIT = "/asset", "/angle_unit"
ABOVE_0 = "must be above 0, or empty; 0 is taken where all of a first or last station lie at the axis"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Readings at every station and angle. x_mm : (m,), angle_deg : (n,) within a turn, both rising, perhaps uneven.

    radius_mm : (m, n), NaN where missing. sigma_mm : (m, n), 0 where not known.
    """

    x_mm: Floats
    angle_deg: Floats
    radius_mm: Floats
    sigma_mm: Floats

    def __post_init__(self) -> None:
        for name in ("x_mm", "angle_deg", "radius_mm", "sigma_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """What a table holds. readings : the rows that have a radius, in their order. missing : how many have none.

    grid : the same laid out, where at least half the places of its stations and angles are read, none twice.
    """

    readings: Readings
    grid: Grid | None
    missing: int
    findings: tuple[Finding, ...]


def read_table(
    data: bytes, *, columns: Mapping[str, str] | None = None, angle_unit: Literal["deg", "rad"] | None = None
) -> Table:
    """The readings of a CSV.

    columns : from a name of `NAMES` to the table's own heading; by default they are the same. angle_unit : of the
    angles, None: as the column's name says. A diameter counts as two radii, and so does its error.

    Raises
    ------
    BlankError at /asset: no text, no such column, a cell that is no number (with row and column), too much; at
    /angle_unit: angles plainly of the other unit.
    """
    head, rows = _lines(data)
    at = _found(head, columns or {})
    cells = np.full((len(rows), len(NAMES)), np.nan)
    for name, k in at.items():
        cells[:, NAMES.index(name)] = [_number(row, k, head[k], number) for number, row in rows]
    x, radius, sigma = cells[:, 0], cells[:, 3], cells[:, 5]
    if "diameter_mm" in at:
        radius, sigma = 0.5 * cells[:, 4], 0.5 * sigma
    in_radians = "angle_rad" in at or angle_unit == "rad"
    if "angle_rad" in at and angle_unit == "deg":
        raise _fault(f"the column {head[at['angle_rad']]} was stated in degrees and in radians", "state one unit")
    given = cells[:, 2] if "angle_rad" in at else cells[:, 1]
    angle = np.degrees(given) if in_radians else given
    pole = _poles(x, radius)
    for field, values, good, words in (
        ("x_mm", x, np.abs(x) <= MOST_MM, "must be a length within 10 000 mm"),
        ("angle", angle, np.abs(angle) <= MOST_DEG, "must be an angle within 100 turns"),
        ("radius", radius, np.isnan(radius) | ((radius > 0) & (radius <= MOST_MM)) | pole, ABOVE_0),
        ("sigma_mm", sigma, np.isnan(sigma) | ((sigma >= 0) & (sigma <= MOST_MM)), "must be 0 or more, or empty"),
    ):
        if not good.all():
            k = int(good.argmin())
            held = "empty" if np.isnan(values[k]) else f"{values[k]:g}"
            raise _fault(f"row {rows[k][0]}, {field} is {held}", f"it {words}")
    _refuse_other_unit(given, in_radians)
    if pole.all():
        raise _fault("every radius is 0", "give the readings between the poles")
    x_of_poles = np.unique(x[pole])
    x, angle, radius, sigma = x[~pole], angle[~pole], radius[~pole], np.nan_to_num(sigma[~pole])
    read = ~np.isnan(radius)
    readings = Readings(x_mm=x[read], theta_rad=np.radians(angle[read]), radius_mm=radius[read], sigma_mm=sigma[read])
    return Table(
        readings=readings,
        grid=_grid(x, angle, radius, sigma),
        missing=int((~read).sum()),
        findings=(*_asked(angle, in_radians), *_halved("diameter_mm" in at), *_closed(x_of_poles, x)),
    )


def _lines(data: bytes) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Headings, and (row number, cells) of every row that holds anything."""
    head, rows, mark = rows_of(data, where=WHERE, marks=",;\t")
    if not rows:
        raise _fault("the table holds no readings", "headings in the first line, one reading in each line below")
    wide = next((number for number, row in rows if mark == "," and any(c.strip() for c in row[len(head) :])), None)
    if wide is not None:
        raise _fault(
            f"row {wide} has more cells than the {len(head)} headings: decimal commas between commas?",
            "write decimal points, or part the columns by semicolons or tabs",
        )
    return head, rows


def _found(head: list[str], columns: Mapping[str, str]) -> dict[str, int]:
    """The place of every known column that the table has."""
    unknown = sorted(set(columns) - set(NAMES))
    if unknown:
        raise _fault(f"no column is called {unknown[0]}", f"of {', '.join(NAMES)}")
    plain, at = [heading.casefold() for heading in head], {}
    for name in NAMES:
        heading = columns.get(name, name).strip()
        count = plain.count(heading.casefold())
        if count > 1:
            raise _fault(f"two columns are headed {heading}", "each heading once")
        if count:
            at[name] = plain.index(heading.casefold())
        elif name in columns:
            raise _fault(f"no column is headed {heading}", f"the headings are {', '.join(head)}")
    for choice in (("x_mm",), ("angle_deg", "angle_rad"), ("radius_mm", "diameter_mm")):
        held = [name for name in choice if name in at]
        if len(held) != 1:
            problem = f"has both {' and '.join(held)}" if held else f"lacks a column {' or '.join(choice)}"
            raise _fault(
                f"the table {problem}; its headings are {', '.join(head)}",
                "one column each: x_mm, angle_deg or angle_rad, radius_mm or diameter_mm, and sigma_mm where it is "
                "known; or say which heading stands for which",
            )
    return at


def _number(row: list[str], k: int, heading: str, number: int) -> float:
    """The cell as a number, NaN where empty; a single comma is a decimal one."""
    cell = row[k].strip() if k < len(row) else ""
    if not cell:
        return float("nan")
    plain = cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell
    try:
        value = float(plain)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise _fault(f"row {number}, column {heading}: {cell[:20]!r} is no number", "a number, or empty where missing")
    return value


def _grid(x: Floats, angle: Floats, radius: Floats, sigma: Floats) -> Grid | None:
    """The readings laid out by station and angle; None where they are strewn, doubled, or mostly missing."""
    turned = np.mod(np.round(angle / SAME) * SAME, 360.0)
    stations, i = np.unique(np.round(x / SAME) * SAME, return_inverse=True)
    angles, j = np.unique(np.round(turned / SAME) * SAME, return_inverse=True)
    m, n = len(stations), len(angles)
    read = int((~np.isnan(radius)).sum())
    if m < LEAST_STATIONS or n < LEAST_ANGLES or 2 * read < m * n or len(np.unique(i * n + j)) < len(x):
        return None
    laid = np.full((m, n), np.nan)
    errors = np.zeros((m, n))
    laid[i, j], errors[i, j] = radius, sigma
    return Grid(x_mm=stations, angle_deg=angles, radius_mm=laid, sigma_mm=errors)


def _poles(x: Floats, radius: Floats) -> Bools:
    """(k,) True for the readings of a first or last station of which all are 0: there the piece closes at the axis."""
    pole = np.zeros(len(x), np.bool_)
    for end in (x.min(), x.max()):
        here = np.abs(x - end) <= SAME
        if here.sum() > 1 and (radius[here] == 0).all():  # one alone is a slip of the pen
            pole |= here
    return pole


def _refuse_other_unit(given: Floats, in_radians: bool) -> None:
    """BlankError where the angles, taken as stated, are plainly of the other unit."""
    whole = bool((np.abs(given / WHOLE_DEG - np.round(given / WHOLE_DEG)) < SAME).all())
    if in_radians and whole and np.ptp(given) > ASK_BELOW:
        raise _fault(
            f"the angles look like degrees: whole numbers from {given.min():g} to {given.max():g}, and radians were "
            "stated",
            "state degrees, or head the column angle_deg",
            UNIT,
        )
    if not in_radians and given.min() >= 0 and given.max() <= ASK_BELOW and np.ptp(given) > ALL_AROUND and not whole:
        raise _fault(
            f"the angles look like radians: they run from {given.min():g} to {given.max():g}, and degrees were stated",
            "state radians, or head the column angle_rad",
            UNIT,
        )


def _asked(angle: Floats, in_radians: bool) -> tuple[Finding, ...]:
    """The finding `angle-unit` where degrees look like radians."""
    if in_radians or not ((angle >= 0) & (angle <= ASK_BELOW)).all():
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="angle-unit",
            message=f"every angle lies between {angle.min():g} and {angle.max():g} degrees: are they radians?",
            advice="head the column angle_rad, or state the unit",
            where=Where(pointer=UNIT),
        ),
    )


def _closed(poles_mm: Floats, x_mm: Floats) -> tuple[Finding, ...]:
    """The note `pole` where a station at the axis was left out."""
    if not len(poles_mm):
        return ()
    return (
        Finding(
            severity=Severity.NOTE,
            code="pole",
            message=f"the piece closes at the axis at x {' and '.join(f'{x:g}' for x in poles_mm)}; its skin runs from "
            f"x {x_mm.min():g} to {x_mm.max():g}, the nearest stations",
            advice="read a station nearer to the pole where art reaches there",
        ),
    )


def _halved(by_diameter: bool) -> tuple[Finding, ...]:
    if not by_diameter:
        return ()
    return (
        Finding(
            severity=Severity.NOTE,
            code="half-diameters",
            message="radii were taken as half the diameters, so a blank held off its axis does not show",
            advice="read radii with a probe or a dial gauge where the blank runs out",
        ),
    )


def _fault(message: str, hint: str, where: str = WHERE) -> BlankError:
    return BlankError(message, where=where, hint=hint)
