"""Large jobs block after block: what lies outside a block is contracted, so a gain in the block is one in the whole.

Sources: R. M. Karp, Math. Oper. Res. 2 (1977) 209-224 (partitioning); D. Hilbert, Math. Ann. 38 (1891) 459-460 (curve).
"""

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.greedy import walk_ring
from engine.toolpath.ordering.search import search
from engine.toolpath.ordering.types import Array, Law

__all__ = ["search_blocks"]

BLOCK = 1000  # strokes optimised together: small enough for the cache and for cheap array moves
PASSES = 5  # most passes over the blocks, each with other borders


@compiled
def _cut_out(
    link: Array, place: Array, near: Array, cost: Array, free: Array, inside: Array
) -> tuple[Array, Array, Array, Array, Array]:
    """The tour seen from one block: its strokes, every stretch outside it as one stroke, and the depot last.

    Returns, for the small job: real end of each end, places, candidates, their ticks, reversible flags. Its stroke i is
    the i-th met when the ring is walked from the depot, all forwards.
    """
    depot = link.size // 2 - 1
    real = np.zeros(link.size, np.int32)
    loose = np.zeros(link.size // 2, np.bool_)
    count = 0
    stretch = False
    end = link[2 * depot + 1]
    while end >> 1 != depot:
        stroke = end >> 1
        if inside[stroke]:
            stretch = False
        if inside[stroke] or not stretch:
            real[2 * count] = end
            real[2 * count + 1] = end ^ 1
            loose[count] = free[stroke]
            stretch = not inside[stroke]
            count += 1
        else:
            real[2 * count - 1] = end ^ 1
            loose[count - 1] &= free[stroke]
        end = link[end ^ 1]
    real[2 * count] = 2 * depot
    real[2 * count + 1] = 2 * depot + 1
    loose[count] = False
    count += 1
    k = near.shape[1]
    small = np.full(link.size, -1, np.int32)
    for e in range(2 * count):
        small[real[e]] = e
    some_place = np.zeros((2 * count, 2))
    some_near = np.full((2 * count, k), -1, np.int32)
    some_cost = np.zeros((2 * count, k), np.int64)
    for e in range(2 * count):
        r = real[e]
        some_place[e] = place[r]
        held = 0
        for j in range(k):
            if near[r, j] >= 0:
                q = small[near[r, j]]
                if q >= 0 and q >> 1 != e >> 1:
                    some_near[e, held] = q
                    some_cost[e, held] = cost[r, j]
                    held += 1
    return real[: 2 * count].copy(), some_place, some_near, some_cost, loose[:count].copy()


@compiled
def _put_back(link: Array, real: Array, tour: Array) -> None:
    """Write the small job's tour into the ring."""
    for i in range(tour.size):
        out = real[tour[i] ^ 1]
        into = real[tour[(i + 1) % tour.size]]
        link[out] = into
        link[into] = out


def _along_curve(spots: Array, shift: tuple[float, float] | Array) -> Array:
    """Order of the spots along a Hilbert curve over a square twice their size, moved by `shift` in [0, 1)^2 of it."""
    low = spots.min(axis=0)
    side = max(float((spots.max(axis=0) - low).max()), 1.0)
    grid = np.minimum(((spots - low) / side + shift) * 2.0**15, 2.0**16 - 1).astype(np.int64)
    x, y = grid[:, 0].copy(), grid[:, 1].copy()
    code = np.zeros(len(spots), np.int64)
    for bit in range(15, -1, -1):
        rx, ry = (x >> bit) & 1, (y >> bit) & 1
        code += ((3 * rx) ^ ry) << (2 * bit)
        mirror = (ry == 0) & (rx == 1)
        x, y = np.where(mirror, 2**16 - 1 - x, x), np.where(mirror, 2**16 - 1 - y, y)
        x, y = np.where(ry == 0, y, x), np.where(ry == 0, x, y)
    return np.argsort(code, kind="stable")


def search_blocks(
    place: Array,
    law: Law,
    scale: Array,
    near: Array,
    cost: Array,
    free: Array,
    tour: Array,
    kicks: int,
    state: Array,
) -> tuple[Array, int]:
    """Improve the tour block after block, pass after pass with other borders; returns kicks made."""
    strokes = len(tour) - 1
    if strokes <= BLOCK * 3 // 2:
        plan = [[np.arange(strokes)]]
    else:
        spots = 0.5 * (place[0:-2:2] + place[1:-2:2]) * scale
        passes = max(2, min(PASSES, kicks // strokes))
        pieces = max(2, round(strokes / BLOCK))
        plan = []
        for turn in range(passes):
            along = _along_curve(spots, np.mod((turn * 0.381966, turn * 0.618034), 1.0))
            plan.append(np.array_split(along, pieces))
    link = np.zeros(len(place), np.int64)
    _put_back(link, np.arange(len(place)), tour)
    made = asked = spent = 0
    for blocks in plan:
        for members in blocks:
            spent += len(members)
            budget = kicks * spent // (len(plan) * strokes) - asked
            asked += budget
            inside = np.zeros(strokes + 1, np.bool_)
            inside[members] = True
            real, there, beside, ticks, loose = _cut_out(link, place, near, cost, free, inside)
            small_tour = np.arange(0, len(real), 2, dtype=np.int32)
            made += search(there, law, beside, ticks, loose, small_tour, budget, state)
            _put_back(link, real, small_tour)
    return walk_ring(link, strokes), made
