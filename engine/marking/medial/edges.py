"""The edges of an outline as flat arrays, and the nearest of them to a place by a tree of boxes.

Rings come with the inside on the left of every edge. Distances are measured in a metric of the place asked about
(E, F, G), constant in its surroundings: 1, 0, 1 on a plain sheet, the skin's own where the sheet lies on a skin.
"""

from typing import NamedTuple

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged

__all__ = ["Edges", "edges_of", "foot", "gaps", "is_inside", "nearest", "nearest_from", "pulled_in", "turns", "walk"]

CORNER_RAD = 0.15  # what turns less at one vertex is a curve that was flattened
CORNER_MM = 0.002  # and so is what a chord between the middles of the shorter edge and of its like would cut off
LEAF = 4  # edges in a leaf of the tree
LEAST_MM = 1e-6  # two points nearer than a nanometre are one
WALK = 64  # edges that a foot slides along at most
SAME = 1e-10  # of a square of a distance: by so little it may differ for one place


class Edges(NamedTuple):
    """Edges in ring order; a named tuple, since compiled loops take no other value of many arrays.

    line : (n, 4) x and y where each begins, and the way from there to its end. beside : (n, 3) the edge after it in its
    ring, the one before, and its corner: 1 where its end is a corner that the inside lies in, -1 where it is one that
    stands into the inside, else 0. turn : (n,) rad, how far the outline turns left at its end. ring : (n,) the ring it
    belongs to. box : (2 m, 4) least and greatest x and y of the tree's nodes, 1 the root, m .. 2 m - 1 the leaves;
    leaf : (m,) first edge of each leaf, LEAF in a row.

    What is asked of one place takes the arrays that it needs, few as they are: a call counts the holders of each array
    that it is given, which for all of them takes longer than what is asked.
    """

    line: Floats
    beside: Ints
    turn: Floats
    ring: Ints
    box: Floats
    leaf: Ints

    @property
    def a(self) -> Floats:
        """(n, 2) where each begins."""
        return self.line[:, :2]

    @property
    def way(self) -> Floats:
        """(n, 2) from where each begins to its end."""
        return self.line[:, 2:]

    @property
    def after(self) -> Ints:
        """(n,) the next in its ring."""
        return self.beside[:, 0]

    @property
    def corner(self) -> Ints:
        """(n,) 1, -1 or 0."""
        return self.beside[:, 2]


def edges_of(rings: Ragged) -> Edges:
    """The edges of closed rings (first point repeated at the end); rings without three corners are left out."""
    keep = np.ones(len(rings.points), np.bool_)
    keep[1:] = np.abs(np.diff(rings.points, axis=0)).max(axis=1, initial=0.0) > LEAST_MM
    keep[rings.offsets[:-1][rings.sizes > 0]] = True
    keep[rings.offsets[1:][rings.sizes > 0] - 1] = False  # the point that closes the ring
    owner = rings.owner
    keep &= (np.bincount(owner[keep], minlength=len(rings)) >= 3)[owner]
    a, owner = rings.points[keep], owner[keep]
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    last = np.flatnonzero(np.diff(owner, append=-1))
    after, before = np.arange(1, len(a) + 1), np.arange(-1, len(a) - 1)
    after[last], before[first] = first, last
    way = a[after] - a
    turn = turns(way, way[after])
    length = np.hypot(way[:, 0], way[:, 1])
    off = 0.125 * np.abs(turn) * np.minimum(length, length[after])
    corner = np.where((np.abs(turn) >= CORNER_RAD) & (off >= CORNER_MM), np.sign(turn), 0.0).astype(np.int64)
    ring = np.repeat(np.arange(len(first)), last - first + 1)
    line, beside = np.concatenate([a, way], axis=1), np.stack([after, before, corner], axis=1)
    return Edges(line, beside, turn, ring, *_tree(a, way))


def turns(one: Floats, two: Floats) -> Floats:
    """(n,) rad, the turn to the left from each way (n, 2) to the other."""
    cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return np.asarray(np.arctan2(cross, (one * two).sum(axis=1)))


def _tree(a: Floats, way: Floats) -> tuple[Floats, Ints]:
    """Boxes over runs of LEAF edges, in the order of a curve that fills the plane, so that neighbours share boxes."""
    if not len(a):
        return np.zeros((2, 4)), np.zeros(1, np.int64)
    low, high = np.minimum(a, a + way), np.maximum(a, a + way)
    first = np.arange(0, len(a), LEAF)
    low, high = np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)
    middle = 0.5 * (low + high)
    side = max(float(np.ptp(middle, axis=0).max()), 1e-9)
    order = np.argsort(_woven(((middle - middle.min(axis=0)) / side * 65535).astype(np.uint64)), kind="stable")
    m = 1 << max(0, int(len(first) - 1).bit_length())
    box = np.tile([np.inf, np.inf, -np.inf, -np.inf], (2 * m, 1))
    box[m : m + len(first), :2], box[m : m + len(first), 2:] = low[order], high[order]
    leaf = np.full(m, -1)
    leaf[: len(first)] = first[order]
    while m > 1:
        box[m // 2 : m, :2] = np.minimum(box[m : 2 * m : 2, :2], box[m + 1 : 2 * m : 2, :2])
        box[m // 2 : m, 2:] = np.maximum(box[m : 2 * m : 2, 2:], box[m + 1 : 2 * m : 2, 2:])
        m //= 2
    return box, leaf


def _woven(
    cells: "np.ndarray[tuple[int, ...], np.dtype[np.uint64]]",
) -> "np.ndarray[tuple[int, ...], np.dtype[np.uint64]]":
    """(n,) the bits of both columns of (n, 2) 16-bit numbers, woven (Morton's order)."""
    out = cells.copy()
    for shift, mask in ((8, 0x00FF00FF), (4, 0x0F0F0F0F), (2, 0x33333333), (1, 0x55555555)):
        out = (out | (out << np.uint64(shift))) & np.uint64(mask)
    return out[:, 0] | (out[:, 1] << np.uint64(1))


@compiled
def foot(line: Floats, i: int, x: float, y: float, E: float, F: float, G: float) -> tuple[float, float, float, float]:
    """The nearest place of edge i: its distance, the distance's gradient (x, y), and where on the edge, 0 to 1."""
    dx, dy = line[i, 2], line[i, 3]
    wx, wy = x - line[i, 0], y - line[i, 1]
    mx, my = E * dx + F * dy, F * dx + G * dy
    t = min(1.0, max(0.0, (wx * mx + wy * my) / (dx * mx + dy * my)))
    wx, wy = wx - t * dx, wy - t * dy
    mx, my = E * wx + F * wy, F * wx + G * wy
    r = np.sqrt(max(wx * mx + wy * my, 0.0))
    by = 1.0 / max(r, 1e-12)
    return r, mx * by, my * by, t


@compiled
def _square(line: Floats, i: int, x: float, y: float, E: float, F: float, G: float) -> float:
    """Square of the distance to the nearest place of edge i."""
    dx, dy = line[i, 2], line[i, 3]
    wx, wy = x - line[i, 0], y - line[i, 1]
    mx, my = E * dx + F * dy, F * dx + G * dy
    t = min(1.0, max(0.0, (wx * mx + wy * my) / (dx * mx + dy * my)))
    wx, wy = wx - t * dx, wy - t * dy
    return max(wx * (E * wx + F * wy) + wy * (F * wx + G * wy), 0.0)


@compiled
def gaps(line: Floats, pair: Ints, metric: Floats) -> Floats:
    """(n,) the least distance between the two edges of each pair (n, 2), which do not cross, by its metric (n, 3)."""
    out = np.zeros(len(pair))
    for n in range(len(pair)):
        E, F, G = metric[n, 0], metric[n, 1], metric[n, 2]
        least = np.inf
        for k in range(2):
            i, j = pair[n, k], pair[n, 1 - k]
            least = min(least, _square(line, j, line[i, 0], line[i, 1], E, F, G))
            least = min(least, _square(line, j, line[i, 0] + line[i, 2], line[i, 1] + line[i, 3], E, F, G))
        out[n] = np.sqrt(least)
    return out


@compiled
def walk(line: Floats, beside: Ints, i: int, x: float, y: float, E: float, F: float, G: float) -> int:
    """The edge to which the foot slides from edge i, along the curve but round no corner that the inside lies in."""
    far = _square(line, i, x, y, E, F, G)
    for _ in range(WALK):
        j, k = beside[i, 0], beside[i, 1]
        ahead = _square(line, j, x, y, E, F, G) if beside[i, 2] < 1 else np.inf
        behind = _square(line, k, x, y, E, F, G) if beside[k, 2] < 1 else np.inf
        least = far * (1.0 - SAME)
        if ahead < least and ahead <= behind:
            i, far = j, ahead
        elif behind < least:
            i, far = k, behind
        else:
            break
    return i


@compiled
def nearest(
    line: Floats, box: Floats, leaf: Ints, x: float, y: float, E: float, F: float, G: float, bound: float
) -> tuple[float, int]:
    """Distance and number of the nearest edge that is nearer than `bound`; (bound, -1) where none is."""
    m = len(leaf)
    # p dx^2 + q dy^2 is no more than the metric's square of (dx, dy), and the same where F is 0
    skew = abs(F) / np.sqrt(E * G)
    p, q = E * (1.0 - skew), G * (1.0 - skew)
    best, at, k = bound * bound, -1, 1
    while True:
        dx = max(box[k, 0] - x, x - box[k, 2], 0.0)
        dy = max(box[k, 1] - y, y - box[k, 3], 0.0)
        if p * dx * dx + q * dy * dy < best:
            if k < m:
                k *= 2
                continue
            for i in range(leaf[k - m], min(leaf[k - m] + LEAF, len(line))):
                far = _square(line, i, x, y, E, F, G)
                if far < best:
                    best, at = far, i
        k += 1
        while k & 1 == 0:  # both halves are looked into: on to the next branch
            k >>= 1
        if k == 1:
            return (np.sqrt(best), at) if at >= 0 else (bound, -1)


@compiled
def nearest_from(
    line: Floats, box: Floats, leaf: Ints, i: int, x: float, y: float, E: float, F: float, G: float
) -> tuple[float, int]:
    """Distance and number of the nearest edge of all; edge i, better a near one, is where the search begins.

    Without a bound the tree would be searched widely before anything near was found: a place lies in many boxes.
    """
    far = foot(line, i, x, y, E, F, G)[0]
    r, near = nearest(line, box, leaf, x, y, E, F, G, far)
    return (r, near) if near >= 0 else (far, i)


@compiled
def is_inside(line: Floats, beside: Ints, turn: Floats, i: int, x: float, y: float) -> bool:
    """Whether a place whose nearest edge is i lies inside the outline."""
    t = foot(line, i, x, y, 1.0, 0.0, 1.0)[3]
    here = _left(line, i, x, y)
    if 0.0 < t < 1.0:
        return here
    j = beside[i, 0] if t >= 1.0 else beside[i, 1]
    other = _left(line, j, x, y)
    left = turn[i] if t >= 1.0 else turn[j]
    return (here and other) if left > 0 else (here or other)


@compiled
def pulled_in(edges: Edges, places: Floats) -> Floats:
    """(n, 2) places, those outside the outline moved to the nearest place of it."""
    line, beside, turn, box, leaf = edges.line, edges.beside, edges.turn, edges.box, edges.leaf
    out, i = places.copy(), 0
    for n in range(len(places)):
        x, y = places[n, 0], places[n, 1]
        i = nearest_from(line, box, leaf, i, x, y, 1.0, 0.0, 1.0)[1]
        if not is_inside(line, beside, turn, i, x, y):
            t = foot(line, i, x, y, 1.0, 0.0, 1.0)[3]
            out[n, 0] = line[i, 0] + t * line[i, 2]
            out[n, 1] = line[i, 1] + t * line[i, 3]
    return out


@compiled
def _left(line: Floats, i: int, x: float, y: float) -> bool:
    return line[i, 2] * (y - line[i, 1]) - line[i, 3] * (x - line[i, 0]) > 0.0
