"""Tip curves as few straight moves: none further from the true curve than asked, and hardly any below it.

Between the strokes' points x, theta and depth run straight in both the move and the truth, so the two differ in the
tip's distance from the axis alone. Samples are taken breadth first until they tell the curve to a share of the
tolerance; one pass over them then takes, from each point on, the longest move within the tolerance of every sample.
"""

from collections.abc import Callable

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import offsets_of, parts_of, spread
from engine.toolpath.tip import Tip

__all__ = ["tip_curve"]

_LONGEST_MM = 1.0  # a piece begins no longer than this, so that no bump hides between its samples
_SHORTEST_MM = 0.004
_BRIEF_MM = 0.5  # a piece no longer than this is looked at in its middle alone: as near to each other as the quarters
_TOLD = 1.6  # a piece whose bend is this many tolerances is told by its quarters to 1 / 16 of that: 0.1 of it
_TOLD_BRIEFLY = 0.4  # and by its middle to 1 / 4: the same
_QUARTERS, _MIDDLE = np.array([0.25, 0.5, 0.75]), np.array([0.5])
_KEPT = 0.9  # what a move may use of the tolerance at the samples; the rest lies between them
_KINK = 0.6  # the same where the dense search spoke: the contact may jump, and the curve has a kink
_MOST_PARTS = 8  # of a piece at once; what is still bent is parted again


def tip_curve(
    tip: Tip, x_mm: Floats, theta_rad: Floats, depth_mm: Floats, offsets: Ints, *, above_mm: float, below_mm: float
) -> tuple[Floats, Floats, Floats, Ints]:
    """(x, theta, r, offsets) of the tip's moves along the given strokes (offsets (k + 1,)).

    A move runs at most `above_mm` over the true tip curve and `below_mm` under it; its ends lie on the curve.
    """
    found, tolerance = [], (below_mm, above_mm)
    for strokes in parts_of(np.diff(offsets)):
        ends = offsets[strokes.start : strokes.stop + 1]
        points = slice(ends[0], ends[-1])
        columns = np.stack([x_mm[points], theta_rad[points], depth_mm[points]], axis=1)
        found.append(_curve(tip, columns, ends - ends[0], tolerance))
    x, theta, r, size = (np.concatenate(column) for column in zip(*found, strict=True))
    return x, theta, r, offsets_of(size)


def _curve(
    tip: Tip, columns: Floats, offsets: Ints, tolerance: tuple[float, float]
) -> tuple[Floats, Floats, Floats, Ints]:
    """The same of a part of the strokes, given as x, theta and depth (n, 3), and how many points each has (k,).

    tolerance : below and above the true curve, mm.
    """
    n = len(columns)
    start = np.ones(n, np.bool_)
    start[offsets[1:][np.diff(offsets) > 0] - 1] = False
    after = np.where(start, np.minimum(np.arange(n) + 1, n - 1), np.arange(n))
    way = columns[after] - columns

    def places(s: Ints, t: Floats) -> Floats:
        out = np.zeros((3, len(s)))
        _straight(columns, way, s, t, out)
        return out

    s, t, r, spoke = _samples(tip, places, start, _lengths(tip, columns, after), tolerance)
    keep = np.zeros(len(s), np.bool_)
    share = np.where(spoke, _KINK, _KEPT)
    _fewest(s + t, r, t == 0.0, share * tolerance[0], share * tolerance[1], keep)
    s, t, r = s[keep], t[keep], r[keep]
    x, theta, _ = places(s, t)
    return x, theta, r, np.diff(np.searchsorted(s, offsets))


@compiled
def _straight(columns: Floats, way: Floats, s: Ints, t: Floats, out: Floats) -> None:
    """Fill out (3, n) with the places a share t of the way on from points s (n,)."""
    for k in range(len(s)):
        for c in range(3):
            out[c, k] = columns[s[k], c] + t[k] * way[s[k], c]


def _lengths(tip: Tip, columns: Floats, after: Ints) -> Floats:
    """(n,) mm on the skin from each point to the next."""
    x, theta = columns[:, 0], columns[:, 1]
    r = tip.skin.radius(x, theta)
    around = 0.5 * (r + r[after]) * (theta[after] - theta)
    out: Floats = np.sqrt((x[after] - x) ** 2 + (r[after] - r) ** 2 + around**2)
    return out


def _samples(
    tip: Tip, places: Callable[[Ints, Floats], Floats], start: Bools, length: Floats, tolerance: tuple[float, float]
) -> tuple[Ints, Floats, Floats, Bools]:
    """Samples (segment, share along it, r, whether the search spoke), sorted; every given point is one."""
    below, above = tolerance
    count = np.where(start, np.maximum(1, np.ceil(length / _LONGEST_MM)), 1).astype(np.int64)
    s = np.repeat(np.arange(len(start)), count)
    t = spread(0, count) / count[s]
    r, spoke = tip.radius(*places(s, t))
    found = [(s, t, r, spoke)]
    a = np.flatnonzero(start[s])
    s, t0, t1, r0, r1 = s[a], t[a], np.where(s[a + 1] == s[a], t[a + 1], 1.0), r[a], r[a + 1]
    while len(s):
        long, error = length[s] * (t1 - t0), np.zeros(len(s))
        for looks, told, group in ((_MIDDLE, _TOLD_BRIEFLY, long <= _BRIEF_MM), (_QUARTERS, _TOLD, long > _BRIEF_MM)):
            k = np.flatnonzero(group)
            u = (t0[k, None] + looks * (t1 - t0)[k, None]).ravel()
            of = np.repeat(s[k], len(looks))
            z, spoke = tip.radius(*places(of, u))
            found.append((of, u, z, spoke))
            over = z.reshape(-1, len(looks)) - r0[k, None] - looks * (r1 - r0)[k, None]
            share = np.where(spoke.reshape(over.shape).any(axis=1), min(_KINK, told), told)
            error[k] = np.maximum(over.max(axis=1) / below, -over.min(axis=1) / above) / share
        bad = (error > 1.0) & (long > _SHORTEST_MM)
        s, t0, t1, r0, r1, error = s[bad], t0[bad], t1[bad], r0[bad], r1[bad], error[bad]
        parts = np.clip(np.ceil(np.sqrt(error)), 2, _MOST_PARTS).astype(np.int64)
        i, j = np.repeat(np.arange(len(s)), parts), spread(0, parts)
        low = t0[i] + (t1 - t0)[i] * (j / parts[i])
        inner = np.flatnonzero(j > 0)
        z, spoke = tip.radius(*places(s[i][inner], low[inner]))
        found.append((s[i][inner], low[inner], z, spoke))
        height = r0[i]
        height[inner] = z
        last = j + 1 == parts[i]
        t1 = np.where(last, t1[i], np.roll(low, -1))
        r1 = np.where(last, r1[i], np.roll(height, -1))
        s, t0, r0 = s[i], low, height
    s, t, r, spoke = (np.concatenate(v) for v in zip(*found, strict=True))
    order = np.lexsort((t, s))
    s, t, r, spoke = s[order], t[order], r[order], spoke[order]
    new = np.concatenate([[True], (np.diff(s) > 0) | (np.diff(t) > 0)])
    return s[new], t[new], r[new], spoke[new]


@compiled
def _fewest(position: Floats, r: Floats, given: Bools, below: Floats, above: Floats, keep: Bools) -> None:
    """Mark the samples at which moves end: from each, the furthest that a straight move may go within all bands.

    position : (n,) rising along a stroke. given : (n,) where a move must end. below, above : (n,) the band of a sample.
    """
    i = 0
    while i < len(r):
        keep[i] = True
        best = i + 1
        low = -np.inf
        high = np.inf
        for k in range(i + 1, len(r)):
            way = position[k] - position[i]
            slope = (r[k] - r[i]) / way
            if low <= slope <= high:
                best = k
            low = max(low, slope - below[k] / way)
            high = min(high, slope + above[k] / way)
            if given[k] or low > high:
                break
        i = best
