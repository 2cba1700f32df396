"""Regions grown or drawn in by a distance that is true on the skin, whatever the sheet's scale does on the way.

Every edge is moved by the vector that is square to it in the skin's metric and as long as asked there; a gap at a
corner is closed by an arc of the metric's circle, an overlap by the way through the corner itself. The curve so walked
winds round a place once for the region, and once more (grown) or less (drawn in) for every strip and sector that covers
it: the new region is where it winds round at least once. Source: offsetting by winding numbers (X. Chen, S. McMains,
"Polygon offsetting by computing winding numbers", ASME DETC 2005; from memory), carried to a metric (derived here).
"""

import numpy as np
import shapely

from engine.artwork.regions import Objects, polygons_of, rings_of
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged, offsets_of
from engine.kernel.units import TURN_RAD
from engine.marking.apart import groups
from engine.marking.ground import Ground, Net, metric_at

__all__ = ["CHORD_MM", "offset", "regions_of", "swollen"]

CHORD_MM = 0.002  # how far an arc's chords, and what is thinned, may lie from the true offset
THIN = 0.5  # of that, by which what is offset is thinned first
EDGE_MM = 0.5  # edges are cut so short that the metric runs straight along them
SAME_MM = 1e-7  # points so near are one
STRAIGHT_MM = 1e-6  # the ends of two edges moved so nearly to one place need no arc and no way round
BACK_RAD = 3.1415926  # a way that turns by more goes straight back
# Where waves of the outline are finer than the way it goes, the new curve folds over itself and crosses itself dozens
# of times a wave, each to be noded. A short step first takes the waves away, and the rest of the way is smooth; both
# make the whole, since distances along a shortest way add up, but for the error of a chord more. By trial: a third of
# the time on waves of 0.16 mm; no gain where less than a quarter of the corners fold.
FOLDED, FIRST = 0.29, 0.25  # of the corners, from which on; of the way, that the first step is
FEW = 4.0  # chords: a way so short is gone in one step
SURELY = 0.5  # of a disc's area: what the metric at a region's middle may be wrong by, and much more
LEAST_MM2 = 1e-9  # a smaller region is rounding
FAR_MM = 1e3  # where, beside the art, the triangle lies that carries the rings which wind backwards


def regions_of(rings: Ragged) -> Objects:
    """(n,) polygons that the rings of a drawing fill, even-odd."""
    if not len(rings):
        return np.zeros(0, object)
    closed = shapely.linearrings(rings.points, indices=rings.owner)
    group = groups(shapely.bounds(closed))
    alone = np.bincount(group)[group] == 1  # such a ring is a region, and need not be put together with others
    rest = polygons_of(shapely.build_area(shapely.geometrycollections(closed[~alone])))
    return np.concatenate([shapely.polygons(closed[alone]), rest])


def offset(regions: Objects, by_mm: float, ground: Ground, *, chord_mm: float = CHORD_MM) -> Objects:
    """(m,) polygons: (n,) disjoint ones grown by `by_mm` on the skin, or drawn in where it is less than 0.

    Corners of the kind that opens are rounded. What grows together is united; what is too narrow is gone.
    """
    if not len(regions) or by_mm == 0:
        return regions
    if by_mm < 0:
        regions = regions[~_lost(regions, -by_mm, ground)]
    # Of edges much shorter than the way they go, each would cross a hundred others.
    regions = shapely.simplify(regions, THIN * chord_mm, preserve_topology=False)
    if not ground.is_even:
        regions = shapely.segmentize(regions, EDGE_MM)
    return _offset(_open(rings_of(regions)), by_mm, ground, chord_mm)


def _lost(regions: Objects, by_mm: float, ground: Ground) -> Bools:
    """(n,) whether a region is surely too small for a disc of that radius: nothing of it would be left."""
    scale = ground.scale(0.5 * (shapely.bounds(regions)[:, :2] + shapely.bounds(regions)[:, 2:]))
    return np.asarray(shapely.area(regions) * scale**2 < SURELY * np.pi * by_mm**2)


def swollen(lines: Objects, by_mm: float, ground: Ground, *, chord_mm: float = CHORD_MM) -> Objects:
    """(m,) polygons of all that is nearer than `by_mm` on the skin to any of (n,) open lines."""
    if not len(lines):
        return np.zeros(0, object)
    lines = lines if ground.is_even else shapely.segmentize(lines, EDGE_MM)
    there = [np.concatenate([(p := shapely.get_coordinates(line)), p[-2::-1]]) for line in lines]
    return _offset(_open(Ragged.of(there)), by_mm, ground, chord_mm)


def _offset(rings: Ragged, by_mm: float, ground: Ground, chord_mm: float) -> Objects:
    if not len(rings):
        return np.zeros(0, object)
    if abs(by_mm) > FEW * chord_mm and _folded(rings, by_mm) > FOLDED:
        first = _offset(rings, FIRST * by_mm, ground, 0.5 * chord_mm)
        return offset(first, (1.0 - FIRST) * by_mm, ground, chord_mm=chord_mm)
    side = -1.0 if by_mm > 0 else 1.0  # the left of an edge is inside
    near, far, turn = _moved(rings.points, rings.offsets, side, abs(by_mm), ground.net)
    step = 2.0 * np.arccos(max(1.0 - chord_mm / abs(by_mm), 0.0))
    count = _walked(rings.points, rings.offsets, near, far, turn, side, abs(by_mm), step, np.zeros((0, 2)), ground.net)
    points = np.zeros((int(count.sum()), 2))
    _walked(rings.points, rings.offsets, near, far, turn, side, abs(by_mm), step, points, ground.net)
    found = _wound(Ragged(points=points, offsets=offsets_of(count)))
    return found[shapely.area(found) > LEAST_MM2]


def _folded(rings: Ragged, by_mm: float) -> float:
    """The share of corners, of those that close, whose edges are too short to meet again: there the curve folds back
    over itself. Told on the sheet, as a guess will do.
    """
    after = np.arange(1, len(rings.points) + 1)
    after[rings.offsets[1:] - 1] = rings.offsets[:-1]
    way = rings.points[after] - rings.points
    length, ahead = np.hypot(*way.T), way[after]
    bend = np.arctan2(way[:, 0] * ahead[:, 1] - way[:, 1] * ahead[:, 0], (way * ahead).sum(axis=1))
    closing = np.where(abs(bend) < BACK_RAD, np.maximum(-np.sign(by_mm) * bend, 0.0), 0.0)
    return float((abs(by_mm) * np.tan(0.5 * closing) > 0.5 * np.minimum(length, length[after])).mean())


def _open(rings: Ragged) -> Ragged:
    """The rings without the repeated end and without points that repeat the one before; none of a single point."""
    keep = np.ones(len(rings.points), np.bool_)
    keep[rings.offsets[1:] - 1] = False
    gone = np.abs(np.diff(rings.points, axis=0)).max(axis=1) < SAME_MM
    keep[:-1] &= ~gone
    owner = rings.owner[keep]
    sizes = np.bincount(owner, minlength=len(rings))
    whole = sizes > 1  # two are a line, there and back
    return Ragged(
        points=rings.points[keep][whole[owner]],
        offsets=offsets_of(sizes[whole]),
    )


def _wound(curves: Ragged) -> Objects:
    """(n,) polygons of all places that the closed curves wind round once or more often, counter-clockwise.

    GEOS's buffer by nothing keeps what has a depth of one or more, the depth being summed over all rings, each turned
    so that its signed area is that of its part, shell or hole; so a curve that winds backwards goes in as a hole.
    """
    rings = shapely.linearrings(curves.points, indices=curves.owner)
    group = groups(shapely.bounds(rings))
    forward = _signed_area(curves) > 0
    shells, holes = rings[forward], rings[~forward]
    aside = (curves.points.min(axis=0) - FAR_MM) + [[0, 0], [1, 0], [0, 1]]
    beside = np.repeat(shapely.linearrings(aside[None]), len(holes))
    parts = np.concatenate([shapely.polygons(shells), shapely.polygons(beside, holes[:, None])])
    group = np.concatenate([group[forward], group[~forward]])
    order = np.argsort(group, kind="stable")
    found = polygons_of(shapely.buffer(shapely.multipolygons(parts[order], indices=group[order]), 0.0))
    return found[shapely.bounds(found)[:, 0] > aside[0, 0] + 0.5 * FAR_MM]


def _signed_area(curves: Ragged) -> Floats:
    """(m,) twice the area of each closed curve, more than 0 where it runs counter-clockwise."""
    origin = curves.points[curves.offsets[:-1]][curves.owner]  # near it, lest a small area drown
    x, y = (curves.points - origin).T
    following = np.arange(1, len(x) + 1)
    following[curves.offsets[1:] - 1] = curves.offsets[:-1]
    return np.add.reduceat(x * y[following] - x[following] * y, curves.offsets[:-1])


@compiled
def _reach(place: Floats, normal: tuple[float, float], far: float, net: Net) -> tuple[float, float]:
    """The vector from `place`, square on the skin to the edge of that normal on the sheet, `far` mm long."""
    (nu, nv), a, b = normal, 0.0, 0.0
    for _ in range(2):  # the metric half-way along the vector, once there is one
        E, F, G = metric_at(place[0] + 0.5 * a, place[1] + 0.5 * b, net)
        a, b = G * nu - F * nv, E * nv - F * nu
        size = far / np.sqrt((nu * a + nv * b) * (E * G - F * F))
        a, b = a * size, b * size
    return a, b


@compiled
def _moved(points: Floats, offsets: Ints, side: float, far: float, net: Net) -> tuple[Floats, Floats, Floats]:
    """Of each edge: where its two ends go, (n, 2) each, and the direction of its normal in rad (n,)."""
    first, second, turn = np.zeros_like(points), np.zeros_like(points), np.zeros(len(points))
    for k in range(len(offsets) - 1):
        for i in range(offsets[k], offsets[k + 1]):
            j = i + 1 if i + 1 < offsets[k + 1] else offsets[k]
            du, dv = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
            nu, nv = -side * dv, side * du
            turn[i] = np.arctan2(nv, nu)
            a, b = _reach(points[i], (nu, nv), far, net)
            first[i, 0], first[i, 1] = points[i, 0] + a, points[i, 1] + b
            a, b = _reach(points[j], (nu, nv), far, net)
            second[i, 0], second[i, 1] = points[j, 0] + a, points[j, 1] + b
    return first, second, turn


@compiled
def _walked(
    points: Floats,
    offsets: Ints,
    first: Floats,
    second: Floats,
    turn: Floats,
    side: float,
    far: float,
    arc: float,
    out: Floats,
    net: Net,
) -> Ints:
    """The closed curve of each ring, written into `out` where that has room; how many points each has."""
    count = np.zeros(len(offsets) - 1, np.int64)
    n = 0
    for k in range(len(offsets) - 1):
        start = n
        for j in range(offsets[k], offsets[k + 1]):
            i = j - 1 if j > offsets[k] else offsets[k + 1] - 1
            bend = turn[j] - turn[i]
            bend -= TURN_RAD * np.rint(bend / TURN_RAD)
            if abs(bend) < 1.0 and max(abs(second[i, 0] - first[j, 0]), abs(second[i, 1] - first[j, 1])) < STRAIGHT_MM:
                n = _put(out, n, first[j, 0], first[j, 1])
                continue
            if side * bend > 0 and abs(bend) < BACK_RAD:
                t = _cross(first[i], second[i], first[j], second[j])
                if t >= 0:
                    n = _put(out, n, *_between(first[i], second[i], t))
                else:
                    n = _put(out, n, second[i, 0], second[i, 1])
                    n = _put(out, n, points[j, 0], points[j, 1])
                    n = _put(out, n, first[j, 0], first[j, 1])
                continue
            bend = -side * abs(bend)
            steps = int(np.ceil(abs(bend) / arc))
            n = _put(out, n, second[i, 0], second[i, 1])
            for m in range(1, steps):
                way = turn[i] + bend * m / steps
                a, b = _reach(points[j], (np.cos(way), np.sin(way)), far, net)
                n = _put(out, n, points[j, 0] + a, points[j, 1] + b)
            n = _put(out, n, first[j, 0], first[j, 1])
        count[k] = n - start
    return count


@compiled
def _put(out: Floats, n: int, u: float, v: float) -> int:
    if n < len(out):
        out[n, 0], out[n, 1] = u, v
    return n + 1


@compiled
def _between(a: Floats, b: Floats, t: float) -> tuple[float, float]:
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])


@compiled
def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> float:
    """Where along a to b, in its second half, it crosses the first half of c to d; -1 where it does not.

    Beyond the halves a way cut short at both ends would run backwards, and wind round what it should not.
    """
    bu, bv, du, dv = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    det = bu * dv - bv * du
    if det == 0:
        return -1.0
    cu, cv = c[0] - a[0], c[1] - a[1]
    t, s = (cu * dv - cv * du) / det, (cu * bv - cv * bu) / det
    return t if 0.5 <= t <= 1 and 0 <= s <= 0.5 else -1.0
