"""The start: greedy edge matching, fragments carrying an orientation as soon as they hold a stroke that only climbs.

Sources: J. L. Bentley, ORSA J. Comput. 4 (1992) 387-411; D. S. Johnson, L. A. McGeoch, in Aarts & Lenstra (eds), Local
Search in Combinatorial Optimization (1997) 215-310.
"""

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.candidates import nearest
from engine.toolpath.ordering.types import Array, Law

__all__ = ["greedy_tour", "walk_ring"]


@compiled
def _join(first: Array, second: Array, by_cost: Array, link: Array, mate: Array, kind: Array) -> int:
    """Join fragment ends in the order given; mate[e] is the far free end of e's fragment. Returns joins made."""
    joins = 0
    for i in by_cost:
        a = first[i]
        b = second[i]
        if link[a] >= 0 or link[b] >= 0 or mate[a] == b or (kind[a] == kind[b] and kind[a] != 0):
            continue
        far_a = mate[a]
        far_b = mate[b]
        if kind[a] != 0 and kind[b] == 0:
            kind[far_b] = kind[a]
        elif kind[b] != 0 and kind[a] == 0:
            kind[far_a] = kind[b]
        link[a] = b
        link[b] = a
        mate[far_a] = far_b
        mate[far_b] = far_a
        joins += 1
    return joins


@compiled
def walk_ring(link: Array, strokes: int) -> Array:
    """Entry ends in tour order, the depot (stroke number `strokes`) last."""
    tour = np.zeros(strokes + 1, np.int32)
    end = link[2 * strokes + 1]
    for i in range(strokes + 1):
        tour[i] = end
        end = link[end ^ 1]
    return tour


def _edges(ends: Array, ids: Array, ticks: Array) -> tuple[Array, Array, Array]:
    """Candidate rows as edges (first, second, order by (ticks, first, second)), each unordered pair at most twice."""
    first = np.repeat(ends, ids.shape[1])
    second = ids.ravel().astype(np.int64)
    cost = ticks.ravel()
    keep = second >= 0
    first, second, cost = first[keep], second[keep], cost[keep]
    low, high = np.minimum(first, second), np.maximum(first, second)
    return low, high, np.lexsort((high, low, cost)) if len(cost) < 2_000_000 else np.argsort(cost, kind="stable")


def greedy_tour(place: Array, law: Law, scale: Array, kind: Array, known: Array, ids: Array, ticks: Array) -> Array:
    """Greedy edge tour over strokes and depot: cheapest admissible joins first, then fragments by fresh searches."""
    ends = np.arange(len(place))
    strokes = len(place) // 2 - 1
    link = np.full(len(place), -1, np.int64)
    mate = ends ^ 1
    kind = kind.copy()
    low, high, by_cost = _edges(known, ids, ticks)
    joins = _join(low, high, by_cost, link, mate, kind)
    width = 6
    while joins < strokes - 1:  # the depot, which has no place, joins last
        free = np.flatnonzero(link[:-2] < 0)
        rows, costs = nearest(place, law, scale, free, kind, mate, min(width, len(free)))
        made = _join(*_edges(free, rows, costs), link, mate, kind)
        joins += made
        width = 6 if made else width * 2
    out, way_in = 2 * strokes + 1, 2 * strokes
    one, other = np.flatnonzero(link[:-2] < 0)
    if kind[one] == 2:
        one, other = other, one
    link[out], link[one], link[way_in], link[other] = one, out, other, way_in
    return walk_ring(link, strokes)
