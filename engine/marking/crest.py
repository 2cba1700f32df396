"""The middle line of thin regions: where what was cut from two sides leaves a ridge, one line takes it.

The boundary is sampled and triangulated; the middles of the triangles' circles, linked triangle by triangle, make the
line: the Voronoi skeleton of the samples. Source: N. Amenta, M. Bern, D. Eppstein, "The crust and the beta-skeleton",
Graphical Models 60 (1998), from memory. Between parallel flanks it is their middle in any metric.
"""

import numpy as np
import shapely

from engine.artwork.regions import Objects
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.medial import Medial, branches, meshed

__all__ = ["crests"]

AROUND = 12  # samples at least round the smallest region
FLAT = 1e-3  # height over base of a triangle of samples of one edge: rounding, and no part of the region
ROUNDS = 3  # of pruning: what a branch carried is a branch itself once the other is gone


def crests(thin: Objects, *, step_mm: Floats, spur_mm: float, chord_mm: float) -> Objects:
    """(m,) lines along the middle of (n,) thin polygons, whose interiors are disjoint; none of what is a mere spot.

    step_mm : (n,) between samples, a fraction of the width. spur_mm : of the branches that end free and are shorter
    the shortest at each fork is dropped, and never all of them, which would leave the fork's arms without a line.
    """
    axis = _skeleton(thin, step_mm)
    node, offsets = branches(axis)
    for _ in range(ROUNDS):
        spur = _spurs(axis, node, offsets, spur_mm)
        if not spur.any():
            break
        branch = np.repeat(np.arange(len(spur)), np.diff(offsets))
        linked = (branch[1:] == branch[:-1]) & ~spur[branch[1:]]
        axis = _graph(axis.nodes, axis.radius, np.stack([node[:-1], node[1:]], axis=1)[linked])
        node, offsets = branches(axis)
    if len(offsets) < 2:
        return np.zeros(0, object)
    lines = shapely.linestrings(axis.nodes[node], indices=np.repeat(np.arange(len(offsets) - 1), np.diff(offsets)))
    return np.asarray(shapely.simplify(lines, chord_mm), object)


def _graph(nodes: Floats, radius: Floats, links: Ints) -> Medial:
    """Middles, of which each is so far from the farthest sample of its triangle, and their links."""
    length = np.hypot(*(nodes[links[:, 1]] - nodes[links[:, 0]]).T)
    return Medial(nodes=nodes, radius=radius, links=links, length_mm=length)


def _spurs(axis: Medial, node: Ints, offsets: Ints, spur_mm: float) -> Bools:
    """(n,) whether a branch ends free, forks from others, and is short, the shortest such at its fork.

    A branch is as long as to the tip of what it runs in: the line itself ends in the last triangle.
    """
    if len(offsets) < 2:
        return np.zeros(0, np.bool_)
    ends = np.stack([node[offsets[:-1]], node[offsets[1:] - 1]])
    free, forked = axis.degree[ends] == 1, axis.degree[ends] > 2
    way = np.hypot(*np.diff(axis.nodes[node], axis=0, append=axis.nodes[node[-1:]]).T)
    way[offsets[1:] - 1] = 0.0
    rest = np.where(free, axis.radius[ends], 0.0).max(axis=0)
    length = np.round(np.add.reduceat(way, offsets[:-1]) + rest, 9)
    short = free.any(axis=0) & forked.any(axis=0) & (length < spur_mm)
    fork = np.where(forked[0], ends[0], ends[1])
    order = np.lexsort((length, fork, ~short))
    _, first = np.unique(fork[order][: short.sum()], return_index=True)
    spur = np.zeros(len(short), np.bool_)
    spur[order[first]] = True
    return spur


def _skeleton(thin: Objects, step_mm: Floats) -> Medial:
    """Middles of the circles round the triangles in the regions, linked where triangles share a side."""
    thin = shapely.orient_polygons(thin, exterior_cw=False)
    short = np.minimum(step_mm, shapely.length(thin) / AROUND)
    rings, region = shapely.get_rings(shapely.segmentize(thin, short), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    last = np.append(ring[1:] != ring[:-1], True)  # of each ring; it repeats the first
    points, ring = points[~last], ring[~last]
    sizes = np.bincount(ring)
    ends = np.cumsum(sizes)
    after = np.arange(1, len(points) + 1)
    after[ends - 1] = ends - sizes
    corners, beside = meshed(points, region[ring])
    middle, far, held = _middles(points, after, np.argsort(after), region[ring], corners)
    i = np.repeat(np.arange(len(corners)), 3)
    j = beside.ravel()
    both = (i < j) & held[i] & held[j]
    spots, node = np.unique(middle[:, 0] + 1j * middle[:, 1], return_inverse=True)  # circles through four are one
    links = node[np.stack([i[both], j[both]], axis=1)]
    links = links[links[:, 0] != links[:, 1]]
    radius = np.zeros(len(spots))
    np.maximum.at(radius, node, far)
    return _graph(np.stack([spots.real, spots.imag], axis=1), radius, links)


@compiled
def _middles(points: Floats, after: Ints, before: Ints, region: Ints, corners: Ints) -> tuple[Floats, Floats, Bools]:
    """(n, 2) middle of each triangle's circle, or of the triangle where that lies outside, (n,) how far its farthest
    corner is from there, and whether the triangle is part of a region: its corners are of one, and it lies to the left
    of the boundary at each.
    """
    middle, far, held = np.zeros((len(corners), 2)), np.zeros(len(corners)), np.zeros(len(corners), np.bool_)
    for k in range(len(corners)):
        a, b, c = corners[k]
        bu, bv = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
        cu, cv = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1]
        cross, bb, cc = bu * cv - bv * cu, bu * bu + bv * bv, cu * cu + cv * cv
        longest = max(bb, cc, (cu - bu) ** 2 + (cv - bv) ** 2)
        u, v = points[a, 0] + (bu + cu) / 3.0, points[a, 1] + (bv + cv) / 3.0
        if not (region[a] == region[b] == region[c] and abs(cross) > FLAT * longest):
            continue
        held[k] = True
        for i in (a, b, c):
            held[k] = held[k] and _left(points, before[i], i, after[i], u, v)
        x = points[a, 0] + 0.5 * (cv * bb - bv * cc) / cross
        y = points[a, 1] + 0.5 * (bu * cc - cu * bb) / cross
        within = True
        for i in (a, b, c):  # no sample is nearer to the circle's middle than these
            within = within and _left(points, before[i], i, after[i], x, y)
        middle[k, 0], middle[k, 1] = x, y = (x, y) if within else (u, v)
        for i in (a, b, c):
            far[k] = max(far[k], np.sqrt((points[i, 0] - x) ** 2 + (points[i, 1] - y) ** 2))
    return middle, far, held


@compiled
def _left(points: Floats, h: int, i: int, j: int, u: float, v: float) -> bool:
    """Whether (u, v), seen from point i, lies to the left of the way from h by i to j."""
    x, y = points[i, 0], points[i, 1]
    pu, pv, qu, qv = x - points[h, 0], y - points[h, 1], points[j, 0] - x, points[j, 1] - y
    first, second = pu * (v - y) - pv * (u - x) > 0, qu * (v - y) - qv * (u - x) > 0
    return (first and second) if pu * qv - pv * qu >= 0 else (first or second)
