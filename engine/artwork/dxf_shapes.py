"""The entities that are lines: each as cubics end to end, in the plane it is seen in from above.

An entity of the object's own system is turned by the "arbitrary axis" of its extrusion (published DXF reference,
"Object Coordinate Systems"). An arc is drawn in steps of 45 degrees at most: a cubic then strays 4.2e-6 of the radius.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from engine.artwork.dxf_spline import fit_cubics, spline_cubics
from engine.artwork.dxf_tags import Entity
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError
from engine.kernel.units import TURN_RAD

__all__ = [
    "CORNERS",
    "DRAWN",
    "Row",
    "after",
    "arc",
    "bulged",
    "chain",
    "corners",
    "drawn",
    "moved",
    "own_system",
    "plane_points",
    "spline",
    "vertices",
]

Row = tuple[float, ...]  # x0 y0 x1 y1 x2 y2 x3 y3 of a cubic, and 1 where it is straight
Point = tuple[float, ...]
NEAR_POLE = 1.0 / 64  # of the arbitrary axis
SAME = 1e-9  # rad: an arc that ends where it begins goes all the way round
MOST_TURNS = 2  # of an arc: angles beyond are a slip
DRAWN = ("LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE")
CORNERS = ("SOLID", "TRACE")
CLOSED, MESHES, CURVE_FRAME = 1, 16 | 64, 16  # bits of group 70 of a polyline, of a vertex


def drawn(entity: Entity, following: Sequence[Entity]) -> list[Row]:
    """The run of one entity; empty where it has no length. following : the vertices of a POLYLINE.

    Raises
    ------
    ArtworkError where its numbers make no such thing.
    """
    kind = entity.kind
    if kind == "LINE":
        (x0, y0, _), (x1, y1, _) = entity.point(10), entity.point(11)
        return _straight((x0, y0), (x1, y1))
    if kind == "SPLINE":
        return spline(
            entity,
            degree=entity.whole(71),
            knots=entity.numbers(40),
            weights=entity.numbers(41),
            fits=plane_points(entity, 11),
        )
    if kind == "ELLIPSE":
        return _ellipse(entity)
    if kind == "LWPOLYLINE":
        points, bulges = vertices(entity)
        return moved(
            bulged(points, bulges, closed=bool(entity.whole(70) & CLOSED)), own_system(entity, entity.number(38))
        )
    if kind == "POLYLINE":
        return _polyline(entity, following)
    x, y, z = entity.point(10)
    radius = entity.number(40)
    if not radius > 0:
        raise ArtworkError(f"{kind}: a radius of {radius:g}", where=entity.where)
    first, last = (0.0, TURN_RAD) if kind == "CIRCLE" else (math.radians(entity.number(c)) for c in (50, 51))
    return moved(arc((x, y), (radius, 0.0), (0.0, radius), first, after(first, last)), own_system(entity, z))


def corners(entity: Entity) -> list[Row]:
    """The edge of a SOLID or TRACE, whose third and fourth corner are stated crosswise."""
    codes = (10, 11, 13, 12) if entity.has(13) else (10, 11, 12)
    points = [entity.point(code) for code in codes]
    flat = [(x, y) for x, y, _ in points]
    return moved(chain([*flat, flat[0]]), own_system(entity, points[0][2]))


def arc(centre: Point, p: Point, q: Point, first: float, last: float) -> list[Row]:
    """An ellipse's arc: centre + p cos t + q sin t for t from `first` to `last`, rad."""
    steps = max(1, math.ceil(abs(last - first) / (math.pi / 4) - 1e-9))
    h = 4 / 3 * math.tan((last - first) / steps / 4)
    rows = []
    for k in range(steps):
        a, b = first + (last - first) * k / steps, first + (last - first) * (k + 1) / steps
        ca, sa, cb, sb = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
        round_of = ((ca, sa), (ca - h * sa, sa + h * ca), (cb + h * sb, sb - h * cb), (cb, sb))
        rows.append((*(v for u, w in round_of for v in _affine(centre, p, q, u, w)), 0.0))
    return rows


def _affine(centre: Point, p: Point, q: Point, u: float, w: float) -> Point:
    return centre[0] + p[0] * u + q[0] * w, centre[1] + p[1] * u + q[1] * w


def bulged(points: Sequence[Point], bulges: Sequence[float], *, closed: bool) -> list[Row]:
    """A polyline; a bulge is the tangent of a quarter of the arc's angle, above 0 counter-clockwise."""
    ends = [*points[1:], points[0]] if closed and points else points[1:]
    rows: list[Row] = []
    for (x0, y0), (x1, y1), bulge in zip(points, ends, bulges, strict=False):
        if abs(bulge) < SAME or (x0, y0) == (x1, y1):
            rows += _straight((x0, y0), (x1, y1))
            continue
        away = (1.0 / bulge - bulge) / 4.0  # from the chord's middle to the centre, in chords, to the left
        cx, cy = (x0 + x1) / 2 - (y1 - y0) * away, (y0 + y1) / 2 + (x1 - x0) * away
        px, py = x0 - cx, y0 - cy
        bent = arc((cx, cy), (px, py), (-py, px), 0.0, 4.0 * math.atan(bulge))
        rows += [*bent[:-1], (*bent[-1][:6], x1, y1, 0.0)]
    return rows


def chain(points: Sequence[Point]) -> list[Row]:
    """Straight lines from point to point."""
    return [row for a, b in pairwise(points) for row in _straight(a, b)]


def _straight(a: Point, b: Point) -> list[Row]:
    return [(a[0], a[1], a[0], a[1], b[0], b[1], b[0], b[1], 1.0)] if a != b else []


def spline(entity: Entity, *, degree: int, knots: list[float], weights: list[float], fits: Floats) -> list[Row]:
    """A spline of control points, else through its fit points."""
    control = plane_points(entity, 10)
    if len(control):
        held = np.array(weights) if weights else None
        cubics = spline_cubics(degree, np.array(knots), control, held, entity.where)
    else:
        start, end = (np.array(entity.point(code)[:2]) if entity.has(code) else None for code in (12, 13))
        cubics = fit_cubics(fits, start, end, entity.where)
    return [(*row, 0.0) for row in cubics.reshape(-1, 8).tolist()]


def plane_points(entity: Entity, code: int) -> Floats:
    """(n, 2) the points whose x have this code and y ten more."""
    x, y = entity.numbers(code), entity.numbers(code + 10)
    if len(x) != len(y):
        raise ArtworkError(f"{entity.kind}: a point has no y", where=entity.where)
    return np.array([x, y]).T


def _ellipse(entity: Entity) -> list[Row]:
    """The minor axis is the extrusion across the major axis, shorter by the ratio."""
    (x, y, _), (mx, my, mz), ratio = entity.point(10), entity.point(11), entity.number(40)
    nx, ny, nz = _normal(entity)
    if not math.hypot(mx, my, mz) > 0 or not 0 < ratio <= 1e6:
        raise ArtworkError("ELLIPSE: an axis has no length", where=entity.where)
    minor = (ratio * (ny * mz - nz * my), ratio * (nz * mx - nx * mz))
    first, last = entity.number(41, 0.0), entity.number(42, TURN_RAD)
    return arc((x, y), (mx, my), minor, first, after(first, last))


def after(first: float, last: float) -> float:
    """`last` as the end of an arc that runs counter-clockwise, at most one turn after its beginning."""
    if not abs(last - first) <= MOST_TURNS * TURN_RAD + SAME:
        raise ArtworkError("an arc's angle is beyond two turns", where="file")
    span = math.fmod(last - first, TURN_RAD)
    if span <= SAME:
        span += TURN_RAD
    return first + span


def vertices(entity: Entity) -> tuple[list[Point], list[float]]:
    """The corners of a polyline in one entity, and the bulge after each."""
    points: list[Point] = []
    bulges: list[float] = []
    for code, value in entity:
        if code == 10:
            points.append((entity.as_number(value), 0.0))
            bulges.append(0.0)
        elif code == 20 and points:
            points[-1] = points[-1][0], entity.as_number(value)
        elif code == 42 and points:
            bulges[-1] = entity.as_number(value)
    return points, bulges


def _polyline(entity: Entity, following: Sequence[Entity]) -> list[Row]:
    flags = entity.whole(70)
    if flags & MESHES:
        raise ArtworkError("POLYLINE: a mesh is no line", where=entity.where)
    kept = [v for v in following if not v.whole(70) & CURVE_FRAME]  # a fitted curve's frame is not the curve
    points = [v.point(10) for v in kept]
    flat = bulged([(x, y) for x, y, _ in points], [v.number(42) for v in kept], closed=bool(flags & CLOSED))
    in_space = bool(flags & 8)
    return flat if in_space else moved(flat, own_system(entity, entity.point(10)[2]))


def _normal(entity: Entity) -> Point:
    if not entity.has(230):
        return 0.0, 0.0, 1.0
    x, y, z = entity.number(210), entity.number(220), entity.number(230, 1.0)
    size = math.hypot(x, y, z)
    if not 0 < size < math.inf:
        raise ArtworkError(f"{entity.kind}: the extrusion has no direction", where=entity.where)
    return x / size, y / size, z / size


def own_system(entity: Entity, z: float) -> Floats | None:
    """(2, 3) from the plane of the object's own system at height z to the plan; None where they are one."""
    nx, ny, nz = _normal(entity)
    if (nx, ny) == (0.0, 0.0) and nz > 0:
        return None
    ax, ay, az = (nz, 0.0, -nx) if abs(nx) < NEAR_POLE and abs(ny) < NEAR_POLE else (-ny, nx, 0.0)
    size = math.hypot(ax, ay, az)
    ax, ay, az = ax / size, ay / size, az / size
    return np.array([[ax, ny * az - nz * ay, z * nx], [ay, nz * ax - nx * az, z * ny]])


def moved(rows: list[Row], plane: Floats | None) -> list[Row]:
    """The rows in the plan, out of the plane of an object's own system."""
    if plane is None or not rows:
        return rows
    table = np.array(rows)
    points = table[:, :8].reshape(-1, 2) @ plane[:, :2].T + plane[:, 2]
    return [tuple(row) for row in np.column_stack([points.reshape(-1, 8), table[:, 8]]).tolist()]
