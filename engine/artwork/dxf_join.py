"""Lines that meet end to end become one line.

Where just two ends meet, within a tolerance, their lines are joined; where more meet, or one end lies alone, lines end.
Lines that lie exactly on one another, drawn twice, are kept once.
"""

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged, offsets_of, spread

__all__ = ["closed", "join", "without_doubles"]


def without_doubles(runs: Ragged, off: float) -> Ragged:
    """The runs without those that have the points of an earlier one, to within about `off`, forwards or backwards."""
    if not len(runs):
        return runs
    points = np.rint(runs.points / off).astype(np.int64)
    first, last = points[runs.offsets[:-1]], points[runs.offsets[1:] - 1]
    # sums over the run that know nothing of its direction; runs of equal sums are compared point by point
    sums = np.column_stack([np.add.reduceat(p, runs.offsets[:-1]) for p in (points[:, 0], points[:, 1])])
    low, high = np.minimum(first, last), np.maximum(first, last)
    keys = np.column_stack([runs.sizes, sums, low, high])
    _, kind = np.unique(keys, axis=0, return_inverse=True)
    order = np.argsort(kind, kind="stable")
    keep = np.ones(len(runs), bool)
    same = np.flatnonzero(kind[order][1:] == kind[order][:-1]) + 1
    for k in same.tolist():
        one, two = (points[runs.offsets[i] : runs.offsets[i + 1]] for i in (order[k - 1], order[k]))
        keep[order[k]] = not ((one == two).all() or (one == two[::-1]).all())
    return runs.take(np.flatnonzero(keep))


def join(runs: Ragged, off: float) -> Ragged:
    """The runs joined where exactly two ends lie within `off`; one that ends within it of its beginning is closed.

    A joined run begins at the end of lowest number that is free, a closed one at the beginning of its first run.
    """
    m = len(runs)
    if not m:
        return runs
    points = runs.points.copy()
    first, last = runs.offsets[:-1], runs.offsets[1:] - 1
    shut = np.hypot(*(points[first] - points[last]).T) <= off
    shut &= runs.sizes > 2
    points[last[shut]] = points[first[shut]]
    ends = np.stack([points[first], points[last]], axis=1).reshape(-1, 2)
    chain, turned, begin = _chains(_partners(ends, np.flatnonzero(np.repeat(~shut, 2)), off))
    sizes = runs.sizes[chain]
    joined = np.ones(m, bool)
    joined[begin[:-1]] = False  # all but the first of a chain begin where the one before ends
    source = spread(first[chain], sizes, back=turned)
    keep = ~((spread(0, sizes) == 0) & np.repeat(joined, sizes))
    counts = np.add.reduceat(sizes - joined, begin[:-1])
    offsets = offsets_of(counts)
    out = points[source[keep]]
    heads, tails = offsets[:-1], offsets[1:] - 1
    ring = (np.hypot(*(out[heads] - out[tails]).T) <= off) & (counts > 2)
    out[tails[ring]] = out[heads[ring]]
    return Ragged(points=out, offsets=offsets)


def _partners(ends: Floats, loose: Ints, off: float) -> Ints:
    """(2 m,) the end that each end (2 i and 2 i + 1 of run i) is joined to, or -1; `loose` are those that may be.

    Two ends at one place, or one each at two places within `off`, and no third within it of either.
    """
    partner = np.full(len(ends), -1, np.int64)
    if not len(loose):
        return partner
    places, at, count = np.unique(ends[loose], axis=0, return_inverse=True, return_counts=True)
    away, near = cKDTree(places).query(places, k=min(3, len(places)), distance_upper_bound=off * (1 + 1e-9))
    near = np.asarray(near).reshape(len(places), -1)
    others = np.isfinite(np.asarray(away).reshape(len(places), -1)).sum(1) - 1
    order = np.argsort(at, kind="stable")
    first = order[np.cumsum(count) - count]
    double = (count == 2) & (others == 0)
    one, two = loose[first[double]], loose[order[(np.cumsum(count) - 1)[double]]]
    partner[one], partner[two] = two, one
    single = np.flatnonzero((count == 1) & (others == 1))
    beside = near[single, 1]
    met = (count[beside] == 1) & (others[beside] == 1)
    partner[loose[first[single[met]]]] = loose[first[beside[met]]]
    return partner


def closed(runs: Ragged) -> Bools:
    """(m,) which runs end where they begin."""
    same: Bools = (runs.points[runs.offsets[:-1]] == runs.points[runs.offsets[1:] - 1]).all(1) & (runs.sizes > 3)
    return same


@compiled
def _chains(partner: Ints) -> tuple[Ints, Bools, Ints]:
    """(m,) runs in the order in which they are joined, which are turned round, and where each chain begins (k + 1,)."""
    m = len(partner) // 2
    chain, turned, begin = np.zeros(m, np.int64), np.zeros(m, np.bool_), np.zeros(m + 1, np.int64)
    done = np.zeros(m, np.bool_)
    put, chains = 0, 0
    for look in range(2):  # first from free ends, then round what is left: rings
        for end in range(2 * m):
            if done[end // 2] or (look == 0 and partner[end] >= 0):
                continue
            begin[chains] = put
            chains += 1
            here = end
            while here >= 0 and not done[here // 2]:
                run = here // 2
                done[run] = True
                chain[put], turned[put] = run, here % 2 == 1
                put += 1
                here = partner[here ^ 1]
    begin[chains] = put
    return chain, turned, begin[: chains + 1]
