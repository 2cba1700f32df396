"""Candidates for the next stroke: the nearest admissible ends on the cylinder, ranked by true hop time.

Source: J. L. Bentley, Commun. ACM 18 (1975) 509-517 (KD-tree). Ties at the last neighbour are ranked by index.
"""

from math import inf, isfinite

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.costs import hop
from engine.toolpath.ordering.types import Array, Law

__all__ = ["nearest", "time_scale"]


def nearest(place: Array, law: Law, scale: Array, ends: Array, kind: Array, mate: Array, k: int) -> tuple[Array, Array]:
    """K nearest admissible ends for each of `ends`: (len, k) ids, cheapest first, -1 padded, and their hop ticks.

    kind: 0 either way, 1 a way in only, 2 a way out only; two ends join unless both are 1 or both 2. mate[e] is never
    joined to e.
    """
    xy = place[ends] * scale
    periodic = isfinite(law[0])
    ids = np.full((len(ends), k), -1, np.int32)
    ticks = np.full((len(ends), k), np.iinfo(np.int64).max, np.int64)
    for own in (0, 1, 2):
        asks = np.flatnonzero(kind[ends] == own)
        pool = np.flatnonzero(kind[ends] != own) if own else np.arange(len(ends))
        if not len(asks) or not len(pool):
            continue
        tree = cKDTree(
            xy[pool], boxsize=[0, law[0] * scale[1]] if periodic else None, balanced_tree=False, compact_nodes=False
        )
        width = min(k + 4, len(pool))
        _, found = tree.query(xy[asks], k=np.arange(1, width + 1), p=inf, workers=-1)
        _rank(place, law, ends[asks], ends[pool], np.asarray(found), mate, asks, ids, ticks)
    return ids, ticks


@compiled
def _rank(
    place: Array, law: Law, asks: Array, pool: Array, found: Array, mate: Array, rows: Array, ids: Array, ticks: Array
) -> None:
    """Insert the found ends into their rows by (ticks, id)."""
    k = ids.shape[1]
    for i in range(asks.size):
        a = asks[i]
        row = rows[i]
        held = 0
        for j in range(found.shape[1]):
            if found[i, j] >= pool.size:
                continue
            b = pool[found[i, j]]
            if b == a or b == mate[a]:
                continue
            cost = hop(place, law, a, b)
            at = held
            while at > 0 and (ticks[row, at - 1] > cost or (ticks[row, at - 1] == cost and ids[row, at - 1] > b)):
                at -= 1
            if at >= k:
                continue
            for m in range(min(held, k - 1), at, -1):
                ids[row, m] = ids[row, m - 1]
                ticks[row, m] = ticks[row, m - 1]
            ids[row, at] = b
            ticks[row, at] = cost
            held = min(held + 1, k)


def time_scale(place: Array, law: Law) -> Array:
    """Axis scales that make a square an equal-time square: exact without ramps, else right for a typical hop."""
    scale = np.array([law[1], law[5]])
    inside = place[np.isfinite(place[:, 0])]
    if (law[4] == 0 and law[8] == 0) or len(inside) < 4:
        return scale
    span = np.ptp(inside, axis=0) * scale
    typical = max(float(np.sqrt(span[0] * span[1] / len(inside))), float(span.max()) / len(inside), 1.0)

    def ticks(per_tick: float, ramp: float, knee: float, square: float) -> float:
        far = typical / per_tick
        return typical + ramp if far >= knee else float(np.sqrt(far * square))

    def reach(ticks: float, per_tick: float, ramp: float, knee: float, square: float) -> float:
        return (ticks - ramp) / per_tick if ticks >= knee * per_tick + ramp else ticks * ticks / square

    budget = 0.5 * (ticks(*law[1:5]) + ticks(*law[5:9]))
    return 1.0 / np.array([reach(budget, *law[1:5]), reach(budget, *law[5:9])])
