"""What of an axis is worth keeping: fire burns the graph in from its tips, starting late by each tip's radius.

Where a branch joins a later one, arrival less radius is how far the branch's discs reach out of the disc at its foot:
what is lost, in mm of the outline, if the branch is left out. Branches are kept whole or dropped whole by that number;
a threshold for each node would shorten them all. Source: L. Liu, E. Chambers, D. Letscher, T. Ju, "Extended grassfire
transform on medial axes of 2D shapes", 2011 (title from memory).
"""

import heapq

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import offsets_of
from engine.marking.medial.axis import Medial

__all__ = ["around", "pruned", "spared", "within"]

LEVEL_MM = 1e-9


def pruned(axis: Medial, least_mm: Floats) -> Medial:
    """The axis without the branches whose loss is under least_mm (n,) of the node at their foot."""
    return axis.kept(spared(axis, least_mm))


def spared(axis: Medial, least_mm: Floats) -> Bools:
    """(m,) the links that `pruned` keeps."""
    if not len(axis.links):
        return np.zeros(0, np.bool_)
    keep, parent = _burnt(len(axis.nodes), axis.links, axis.length_mm, axis.radius, *around(axis), least_mm)
    p, q = axis.links.T
    return np.asarray(np.where(parent[p] == q, keep[p], np.where(parent[q] == p, keep[q], True)))


def within(axis: Medial, low_mm: float, high_mm: float) -> Medial:
    """The part of the axis whose radius lies between low and high, cut where the radius crosses them."""
    for level, above in ((low_mm, True), (high_mm, False)):
        axis = _cut(axis, level, above=above) if np.isfinite(level) else axis
    return axis


def around(axis: Medial) -> tuple[Ints, Ints]:
    """(start, link): the links at node i are link[start[i]:start[i + 1]], in rising order."""
    order = np.argsort(axis.links.ravel(), kind="stable")
    return offsets_of(axis.degree), order // 2


def _cut(axis: Medial, level: float, *, above: bool) -> Medial:
    ok = axis.radius >= level - LEVEL_MM if above else axis.radius <= level + LEVEL_MM
    a, b = ok[axis.links].T
    crosses = a ^ b
    p, q = axis.links[crosses].T
    share = (level - axis.radius[p]) / (axis.radius[q] - axis.radius[p])
    new = len(axis.nodes) + np.arange(crosses.sum())
    inner, left = np.where(a[crosses], p, q), np.where(a[crosses], share, 1.0 - share)
    grown = Medial(
        nodes=np.concatenate([axis.nodes, axis.nodes[p] + share[:, None] * (axis.nodes[q] - axis.nodes[p])]),
        radius=np.concatenate([axis.radius, np.full(len(new), level)]),
        links=np.concatenate([axis.links[a & b], np.stack([inner, new], axis=1)]),
        length_mm=np.concatenate([axis.length_mm[a & b], left * axis.length_mm[crosses]]),
    )
    return grown.kept(np.ones(len(grown.links), np.bool_))


@compiled
def _burnt(
    count: int, links: Ints, length: Floats, radius: Floats, start: Ints, link: Ints, least: Floats
) -> tuple[Bools, Ints]:
    """(count,) whether a node's branch is kept, and the node it burnt on to (-1: none); what never burns is kept."""
    left = start[1:] - start[:-1]
    latest, arrival = np.full(count, -1.0), np.zeros(count)
    winner, parent = np.full(count, -1, np.int64), np.full(count, -1, np.int64)
    burnt = np.zeros(count, np.bool_)
    order = np.zeros(count, np.int64)
    heap = [(0.0, -1)]
    heap.pop()
    for v in range(count):
        if left[v] <= 1:
            latest[v] = radius[v]
            heapq.heappush(heap, (radius[v], v))
    held = 0
    while heap:
        time, v = heapq.heappop(heap)
        if burnt[v]:
            continue
        burnt[v] = True
        order[held] = v
        held += 1
        for k in range(start[v], start[v + 1]):
            e = link[k]
            w = links[e, 0] + links[e, 1] - v
            if burnt[w]:
                continue
            parent[v], arrival[v] = w, time + length[e]
            left[w] -= 1
            if arrival[v] > latest[w]:
                latest[w], winner[w] = arrival[v], v
            if left[w] <= 1:
                heapq.heappush(heap, (latest[w], w))
            break
    keep = np.ones(count, np.bool_)
    for n in range(held - 1, -1, -1):
        v = order[n]
        w = parent[v]
        if w >= 0:
            keep[v] = keep[w] and ((burnt[w] and winner[w] == v) or arrival[v] - radius[w] >= least[w])
    return keep, parent
