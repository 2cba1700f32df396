"""The middle line of thin regions: where what was cut from two sides leaves a ridge, one line takes it.

The boundary is sampled and triangulated; the middles of the triangles' circles, linked triangle by triangle, make the
line: the Voronoi skeleton of the samples. Source: N. Amenta, M. Bern, D. Eppstein, "The crust and the beta-skeleton",
Graphical Models 60 (1998), from memory. Between parallel flanks it is their middle in any metric.
"""

import numpy as np
import shapely
from scipy.spatial import Delaunay

from engine.artwork.regions import Objects
from engine.kernel.arrays import Bools, Floats, Ints

__all__ = ["crests"]

AROUND = 12  # samples at least round the smallest region
LINE = 1  # shapely.GeometryType.LINESTRING
FLAT = 1e-3  # height over base of a triangle of samples of one edge: rounding, and no part of the region
ROUNDS = 3  # of pruning: what a branch carried is a branch itself once the other is gone


def crests(thin: Objects, *, step_mm: Floats, spur_mm: float, chord_mm: float, horns: bool) -> Objects:
    """(m,) lines along the middle of (n,) thin polygons, whose interiors are disjoint; none of what is a mere spot.

    step_mm : (n,) between samples, a fraction of the width. spur_mm : of the branches that end free and are shorter
    the shortest at each fork is dropped; all of them where `horns` are not wanted.
    """
    links = _links(thin, step_mm)
    if not len(links):
        return np.zeros(0, object)
    lines = _merged(shapely.linestrings(links))
    for _ in range(ROUNDS):
        spur = _spurs(lines, spur_mm, horns=horns)
        if not spur.any():
            break
        lines = _merged(lines[~spur])
    return np.asarray(shapely.simplify(lines, chord_mm), object)


def _merged(lines: Objects) -> Objects:
    """The lines joined wherever two, and only two, meet."""
    parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines)))
    kept: Objects = parts[shapely.get_type_id(parts) == LINE]
    return kept


def _spurs(lines: Objects, spur_mm: float, *, horns: bool) -> Bools:
    """(n,) whether a line ends free, forks from others, and is short; and, with horns, the shortest there."""
    ends = np.concatenate([shapely.get_coordinates(shapely.get_point(lines, k)) for k in (0, -1)])
    _, spot, count = np.unique(ends, axis=0, return_inverse=True, return_counts=True)
    spot = spot.reshape(2, -1)
    free, forked = count[spot] == 1, count[spot] > 2
    length = np.round(shapely.length(lines), 9)
    short = free.any(axis=0) & forked.any(axis=0) & (length < spur_mm)
    if not horns:
        return np.asarray(short)
    fork = np.where(forked[0], spot[0], spot[1])
    order = np.lexsort((length, fork, ~short))
    _, first = np.unique(fork[order][: short.sum()], return_index=True)
    spur = np.zeros(len(lines), np.bool_)
    spur[order[first]] = True
    return spur


def _links(thin: Objects, step_mm: Floats) -> Floats:
    """(m, 2, 2) both ends of every link."""
    short = np.minimum(step_mm, shapely.length(thin) / AROUND)
    samples = np.unique(shapely.get_coordinates(shapely.segmentize(shapely.boundary(thin), short)), axis=0)
    net = Delaunay(samples)
    corners = net.simplices.astype(np.int64)
    middle, height = _circles(samples, corners)
    centre = samples[corners].mean(axis=1)
    held = _inside(thin, centre) & (height > FLAT)
    middle = np.where(_inside(thin, middle)[:, None], middle, centre)
    i = np.repeat(np.arange(len(corners)), 3)
    j = net.neighbors.astype(np.int64).ravel()
    both = (i < j) & held[i] & held[j] & (np.abs(middle[i] - middle[j]).max(axis=1) > 0)
    return np.stack([middle[i[both]], middle[j[both]]], axis=1)


def _circles(samples: Floats, corners: Ints) -> tuple[Floats, Floats]:
    """Middles (n, 2) of the circles through three samples, and the triangles' height over their longest side."""
    a, b, c = (samples[corners[:, k]] for k in range(3))
    b, c = b - a, c - a
    cross = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    bb, cc = (b * b).sum(axis=1), (c * c).sum(axis=1)
    longest = np.maximum(np.maximum(bb, cc), ((c - b) ** 2).sum(axis=1))
    flat = np.abs(cross) < FLAT * longest
    twice = 2.0 * np.where(flat, 1.0, cross)
    up = np.stack([c[:, 1] * bb - b[:, 1] * cc, b[:, 0] * cc - c[:, 0] * bb], axis=1) / twice[:, None]
    return a + up, np.abs(cross) / longest


def _inside(thin: Objects, places: Floats) -> Bools:
    held = np.zeros(len(places), np.bool_)
    held[shapely.STRtree(shapely.points(places)).query(thin, predicate="contains")[1]] = True
    return held
