"""Whole turns to add to each stroke: the short way, and within a range where the rotary has one.

Source: R. Bellman, Dynamic Programming (1957); ties fall to fewer turns.
"""

from math import isfinite

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.costs import TURN_TICKS, X_TICKS_PER_MM, Axes, axis_ticks, travel_ticks
from engine.toolpath.ordering.types import Array, Law

__all__ = ["whole_turns"]


@compiled
def _turn_ticks(law: Law, dx_ticks: float, from_theta: float, to_theta: float) -> int:
    """Hop ticks when the rotary must end at that very angle (no wrap)."""
    return int(
        max(
            axis_ticks(dx_ticks, law[1], law[2], law[3], law[4]),
            axis_ticks(abs(to_theta - from_theta), law[5], law[6], law[7], law[8]),
        )
        + 0.5
    )


@compiled
def _fewest_ticks(
    law: Law, x_in: Array, x_out: Array, in_theta: Array, out_theta: Array, low: Array, count: Array, period: float
) -> tuple[Array, int]:
    """Exact dynamic programme: stroke i may stand low[i]..low[i]+count[i]-1 turns on; row 0, where the first one begins
    as it was given, stays.
    """
    n = low.size
    most = count.max()
    best = np.full((2, most), np.iinfo(np.int64).max // 2, np.int64)
    came = np.zeros((n, most), np.int16)
    best[0, : count[0]] = 0
    for i in range(1, n):
        new = best[i & 1]
        old = best[1 - (i & 1)]
        new[:] = np.iinfo(np.int64).max // 2
        dx = abs(x_in[i] - x_out[i - 1])
        for k in range(count[i]):
            for m in range(count[i - 1]):
                ticks = old[m] + _turn_ticks(
                    law, dx, out_theta[i - 1] + (low[i - 1] + m) * period, in_theta[i] + (low[i] + k) * period
                )
                if ticks < new[k] or (ticks == new[k] and abs(low[i - 1] + m) < abs(low[i - 1] + came[i, k])):
                    new[k] = ticks
                    came[i, k] = m
    last = best[(n - 1) & 1]
    k = 0
    for m in range(1, count[n - 1]):
        if last[m] < last[k] or (last[m] == last[k] and abs(low[n - 1] + m) < abs(low[n - 1] + k)):
            k = m
    total = last[k]
    turns = np.zeros(n, np.int64)
    for i in range(n - 1, -1, -1):
        turns[i] = low[i] + k
        k = int(came[i, k])
    return turns, total


def whole_turns(
    entries: Array,
    exits: Array,
    axes: Axes,
    *,
    angle_range_deg: tuple[float, float] | None = None,
    swing_deg: Array | None = None,
) -> tuple[Array, int]:
    """Turns to add to each stroke: the rotary takes the short way, and stays inside the range where one is given.

    entries, exits : (n, 2) (mm, deg) in the order cut, angles unwrapped within a stroke. swing_deg : (n, 2) least and
    greatest angle on the whole of each, the ends' where not given. Returns turns (n,) and ticks.
    Within a range the turns are of least total time (unwinding where it is cheapest); a stroke that cannot fit is a
    ValueError.
    """
    n = len(entries)
    if n == 0 or not isfinite(axes.period_deg):
        return np.zeros(n, np.int64), travel_ticks(entries, exits, axes)
    origin = entries[0]
    per_deg = axes.theta_ticks_per_deg
    into = np.rint((np.vstack([origin, entries])[:, 1] - origin[1]) * per_deg)
    out = np.rint((np.vstack([origin, exits])[:, 1] - origin[1]) * per_deg)
    # half a turn exactly goes down: the sum of -floor(1/2 - gap) is the same on every machine
    gaps = np.ceil((out[:-1] - into[1:]) / TURN_TICKS - 0.5)
    turns = np.cumsum(gaps.astype(np.int64))
    law = axes.constants()
    x_in = np.rint(np.vstack([origin, entries])[:, 0] * X_TICKS_PER_MM)
    x_out = np.rint(np.vstack([origin, exits])[:, 0] * X_TICKS_PER_MM)
    if angle_range_deg is not None:
        ends = np.stack([entries[:, 1], exits[:, 1]], axis=1) if swing_deg is None else swing_deg
        least, greatest = np.sort(ends, axis=1).T
        shift, (low, high) = turns * axes.period_deg, angle_range_deg
        if (least + shift < low).any() or (greatest + shift > high).any():
            first, count = _fitting(least, greatest, angle_range_deg, axes.period_deg)
            turns = _fewest_ticks(law, x_in, x_out, into, out, first, count, TURN_TICKS)[0][1:]
    stand = np.concatenate([[0], turns]) * TURN_TICKS
    return turns, int(_turn_sum(law, x_in, x_out, into + stand, out + stand))


def _fitting(
    least_deg: Array, greatest_deg: Array, angle_range_deg: tuple[float, float], period_deg: float
) -> tuple[Array, Array]:
    """(n + 1,) fewest turns that bring each stroke into the range, and how many do; row 0 stays where it is.

    ValueError where none does.
    """
    low, high = angle_range_deg
    first = np.ceil((low - least_deg) / period_deg - 1e-12).astype(np.int64)
    last = np.floor((high - greatest_deg) / period_deg + 1e-12).astype(np.int64)
    if (last < first).any():
        raise ValueError(f"stroke {int(np.flatnonzero(last < first)[0])} of the order does not fit the angle range")
    return np.append(0, first), np.append(1, last - first + 1)


@compiled
def _turn_sum(law: Law, x_in: Array, x_out: Array, into: Array, out: Array) -> int:
    """Ticks of all hops at the angles given, no wrap; row 0, where the first stroke begins, is no stroke."""
    total = 0
    for i in range(2, into.size):
        total += _turn_ticks(law, abs(x_in[i] - x_out[i - 1]), out[i - 1], into[i])
    return total
