"""The boundary of a hatch: closed loops of lines, arcs, ellipses and splines.

Source of the codes: the published DXF reference, "HATCH" and "Boundary Path Data". An arc that runs clockwise is stored
by the angles of its mirror image. The angles of an ellipse are taken as seen from its middle, as `ezdxf` takes them.
"""

import math
from itertools import pairwise

from engine.artwork.dxf_shapes import Row, after, arc, bulged, chain, moved, own_system, plane_points, spline, vertices
from engine.artwork.dxf_tags import Entity, Value
from engine.kernel.errors import ArtworkError

__all__ = ["loops_of"]

LOOP, EDGE, END = 92, 72, 75  # group codes at which a loop, an edge, and what follows the loops begin
POLYLINE, CLOSED = 2, 73  # a bit of group 92; the group that says a polyline is closed


def loops_of(entity: Entity) -> list[list[Row]]:
    """The loops of a HATCH, each as a run that ends where it begins.

    Raises
    ------
    ArtworkError where a loop's numbers make none.
    """
    plane = own_system(entity, entity.number(30))
    tags = list(entity)
    stop = next((k for k, (code, _) in enumerate(tags) if code == END), len(tags))
    loops = []
    for loop in _parts(entity, tags[:stop], LOOP):
        rows = _polyline(loop) if loop.whole(LOOP) & POLYLINE else _edges(loop)
        if rows:
            loops.append(moved([*rows, *chain([rows[-1][6:8], rows[0][:2]])], plane))
    return loops


def _parts(entity: Entity, tags: list[tuple[int, Value]], at: int) -> list[Entity]:
    """An entity's values cut where a code stands, each part as an entity of its own."""
    begins = [k for k, (code, _) in enumerate(tags) if code == at]
    cuts = pairwise([*begins, len(tags)])
    return [Entity(entity.kind, [c for c, _ in tags[a:b]], [v for _, v in tags[a:b]], entity.where) for a, b in cuts]


def _polyline(loop: Entity) -> list[Row]:
    return bulged(*vertices(loop), closed=True)


def _edges(loop: Entity) -> list[Row]:
    """The edges end to end; one that was stored the other way round is turned."""
    edges = [_edge(edge) for edge in _parts(loop, list(loop), EDGE)]
    edges = [rows for rows in edges if rows]
    out: list[Row] = []
    for k, rows in enumerate(edges):
        if out:
            backwards = _away(out[-1][6:8], rows[-1][6:8]) < _away(out[-1][6:8], rows[0][:2])
        else:
            following = edges[k + 1] if len(edges) > 1 else rows
            ends = following[0][:2], following[-1][6:8]
            backwards = min(_away(rows[0][:2], e) for e in ends) < min(_away(rows[-1][6:8], e) for e in ends)
        run = _turned(rows) if backwards and len(edges) > 1 else rows
        out += chain([out[-1][6:8], run[0][:2]]) if out else []
        out += run
    return out


def _away(a: Row, b: Row) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _turned(rows: list[Row]) -> list[Row]:
    return [(*r[6:8], *r[4:6], *r[2:4], *r[0:2], r[8]) for r in reversed(rows)]


def _edge(edge: Entity) -> list[Row]:
    kind = edge.whole(EDGE)
    if kind == 1:
        return chain([edge.point(10)[:2], edge.point(11)[:2]])
    if kind == 4:
        knots, weights = edge.numbers(40), edge.numbers(42)
        return spline(edge, degree=edge.whole(94), knots=knots, weights=weights, fits=plane_points(edge, 11))
    if kind not in (2, 3):
        raise ArtworkError(f"HATCH: no edge is of kind {kind}", where=edge.where)
    (x, y, _), first, last = edge.point(10), math.radians(edge.number(50)), math.radians(edge.number(51))
    if not edge.whole(CLOSED, 1):
        first, last = -last, -first
    size = edge.number(40)
    p = (size, 0.0) if kind == 2 else edge.point(11)[:2]
    ratio = 1.0 if kind == 2 else size
    if not (math.hypot(*p) > 0 and ratio > 0):
        raise ArtworkError("HATCH: an arc has no radius", where=edge.where)
    last = after(first, last)
    if kind == 3:
        first, last = _parameter(first, ratio), _parameter(last, ratio)
    return arc((x, y), p, (-p[1] * ratio, p[0] * ratio), first, last)


def _parameter(angle: float, ratio: float) -> float:
    """The parameter at which an ellipse is seen under an angle from its middle, in the same turn."""
    seen = math.atan2(math.sin(angle), math.cos(angle))
    return math.atan2(math.sin(seen) / ratio, math.cos(seen)) + angle - seen
