"""Stroke ordering: in which order, and from which end, a rotary engraver cuts its strokes.

Takes the two ends of every stroke on the (x, theta) cylinder, whether it may be cut backwards, and what the axes can
do; gives order, direction and whole turns. Effort is counted in moves, ties fall by index, chance comes from a seeded
integer generator: the same input gives the same order on every machine. Refuses (ValueError) non-finite ends.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np

from engine.toolpath.ordering.blocks import search_blocks
from engine.toolpath.ordering.candidates import nearest, time_scale
from engine.toolpath.ordering.costs import Axes, places, tour_ticks
from engine.toolpath.ordering.greedy import greedy_tour
from engine.toolpath.ordering.turns import whole_turns
from engine.toolpath.ordering.types import Array, Spot, Tell

__all__ = ["Effort", "Ordering", "order"]

LEAST_KICKS = 1000  # a small job costs nothing, so search it well
FEW = 200  # strokes up to which a free start or end is a candidate of every end


class Effort(Enum):
    """Search effort as kicks per stroke and the most kicks in all; counted, never timed.

    GOOD stops at 16,000: on 20,000 strokes of hatch ten times as many gain 2 % of the travel for six times as long.
    """

    QUICK = (0, 0)
    GOOD = (10, 16_000)
    BEST = (100, 3_000_000)

    def kicks(self, reversible: Array, points: bool = False) -> int:
        """How many kicks a job is worth; one among irreversible strokes costs about four times as much (measured).

        Among dots, which have no ends to choose from, the second half of them gains under 1 % (measured).
        """
        per_stroke, most = self.value
        if points:
            most //= 2
        fixed = len(reversible) - int(np.count_nonzero(reversible))
        return max(
            min(per_stroke * len(reversible), most) * len(reversible) // max(len(reversible) + 3 * fixed, 1),
            LEAST_KICKS * (per_stroke > 0),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ordering:
    """The answer: position i of the job cuts stroke `order[i]`, backwards where `backwards[i]`.

    order : (n,) int64, a permutation.   backwards : (n,) bool, only where the stroke is reversible.
    turns : (n,) int64, whole periods to add to that stroke's own (unwrapped) angles.
    travel_s : time of all hops by the short way;  travel_turned_s : the same with the turns as given (a bound on the
    accumulated angle may cost an unwinding);  start_travel_s : the greedy start, for comparison;  kicks : moves spent.
    """

    order: Array
    backwards: Array
    turns: Array
    travel_s: float
    travel_turned_s: float
    start_travel_s: float
    kicks: int


def _one_group(
    ends: Array,
    reversible: Array,
    axes: Axes,
    start: Spot | None,
    end: Spot | None,
    kicks: int,
    seed: int,
    tell: Tell | None,
) -> tuple[Array, int, int, int]:
    """Order one group: entry ends in order, ticks of it, ticks of its greedy start."""
    n = len(ends)
    law = axes.constants()
    place = places(ends, axes, start, end)
    if n == 1:
        both = [tour_ticks(place, law, np.array([d, 2], np.int32)) for d in range(1 + bool(reversible[0]))]
        return np.array([int(np.argmin(both))]), min(both), both[0], 0
    kind = np.zeros(2 * n + 2, np.int8)
    if not reversible.all():
        kind[:-2].reshape(n, 2)[~reversible] = (1, 2)
        kind[-2:] = (1, 2)
    scale = time_scale(place, law)
    ids = np.flatnonzero(place[:, 2] >= 0)
    k = 16 if _are_points(ends) else 8  # both ends in one place: twice as many needed
    found, ticks = nearest(place, law, scale, ids, kind, np.arange(2 * n + 2) ^ 1, k)
    near = np.full((2 * n + 2, k), -1, np.int32)
    cost = np.full((2 * n + 2, k), np.iinfo(np.int64).max, np.int64)
    near[ids], cost[ids] = found, ticks
    if n <= FEW:  # where one hop counts, every end may be the first or last of the job for nothing
        for depot_end in (e for e in (2 * n, 2 * n + 1) if place[e, 2] < 0):
            may = (kind == 0) | (kind != kind[depot_end])
            may[-2:] = False
            near = np.column_stack([np.where(may, depot_end, near[:, -1]), near]).astype(np.int32)
            cost = np.column_stack([np.where(may, 0, cost[:, -1]), cost])
            order_in_row = np.argsort(np.where(near < 0, np.iinfo(np.int64).max, cost), axis=1, kind="stable")
            near, cost = np.take_along_axis(near, order_in_row, 1), np.take_along_axis(cost, order_in_row, 1)
    tour = greedy_tour(place, law, scale, kind, ids, found, ticks)
    at_start = tour_ticks(place, law, tour)

    # renumber along the start: stroke tour[i] >> 1 becomes i, the depot stays last
    old = np.concatenate([(tour[:-1] >> 1), [n]]).astype(np.int64)
    new = np.zeros(n + 1, np.int64)
    new[old] = np.arange(n + 1)
    old_ends = np.stack([2 * old, 2 * old + 1], axis=1).ravel()
    new_end = np.stack([2 * new, 2 * new + 1], axis=1).ravel()
    place, cost = place[old_ends], cost[old_ends]
    near = np.where(near[old_ends] >= 0, new_end[near[old_ends]], -1).astype(np.int32)
    free = np.append(reversible[old[:-1]], False)
    tour = new_end[tour].astype(np.int32)

    state = np.array([(0x9E3779B97F4A7C15 * (2 * seed + 1)) % 2**64], np.uint64)
    tour, done = search_blocks(place, law, scale, near, cost, free, tour, kicks, state, tell)
    length = tour_ticks(place, law, tour)
    return old_ends[tour[:-1]], length, at_start, done


def _are_points(ends: Array) -> bool:
    """Whether most strokes are entered and left in one place."""
    return bool((ends[:, 0] == ends[:, 1]).all(axis=1).mean() > 0.5)


def order(
    ends: Array,
    reversible: Array,
    axes: Axes,
    *,
    start: Spot | None = None,
    end: Spot | None = None,
    groups: Array | None = None,
    effort: Effort | int = Effort.GOOD,
    seed: int = 0,
    angle_range_deg: tuple[float, float] | None = None,
    swing_deg: Array | None = None,
    tell: Callable[[float], bool] | None = None,
) -> Ordering:
    """Order the strokes and choose their directions for the least travel time.

    Parameters
    ----------
    ends : (n, 2, 2), for each stroke entry and exit as (x_mm, theta_deg), the angle unwrapped within the stroke.
    reversible : (n,) bool, whether the stroke may be entered at its exit.
    start, end : (x_mm, theta_deg), or None where free.
    groups : (n,) int or None; groups are cut one after another by rising label, each started where the last ended.
    effort : an Effort, or a number of kicks in all.    seed : any int >= 0.
    angle_range_deg : the angles the rotary may reach; None leaves the accumulated angle to the short way.
    swing_deg : (n, 2) least and greatest angle on the whole of each stroke, for that range; the ends' where None.
    tell : called with the share done now and then; a true answer ends the search early with what it has.

    Notes
    -----
    n = 0 gives empty arrays. Equal input and seed give equal output. Turning all angles (and start, end) by a constant
    changes neither order nor cost, as long as float rounding of the sum stays under 1/2**33 turn.
    """
    ends = np.asarray(ends, float)
    if ends.ndim != 3 or ends.shape[1:] != (2, 2):
        raise ValueError(f"ends must be (n, 2, 2), not {ends.shape}")
    n = len(ends)
    reversible = np.asarray(reversible, bool)
    if reversible.shape != (n,):
        raise ValueError(f"reversible must be ({n},), not {reversible.shape}")
    if not np.isfinite(ends).all() or not all(spot is None or np.isfinite(spot).all() for spot in (start, end)):
        raise ValueError("ends, start and end must be finite")
    labels = np.zeros(n, np.int64) if groups is None else np.asarray(groups)
    if labels.shape != (n,):
        raise ValueError(f"groups must be ({n},), not {labels.shape}")
    names = np.unique(labels)
    chain, ticks, at_start, spent = [np.zeros(0, np.int64)], 0, 0, 0
    here = start
    for name in names:
        members = np.flatnonzero(labels == name)
        if isinstance(effort, Effort):
            kicks = effort.kicks(reversible[members], _are_points(ends[members]))
        else:
            kicks = int(effort) * len(members) // n
        goal = end if name == names[-1] else None
        picked, length, greedy, made = _one_group(
            ends[members], reversible[members], axes, here, goal, kicks, seed, tell
        )
        chain.append(2 * members[picked >> 1] + (picked & 1))
        here = ends.reshape(-1, 2)[chain[-1][-1] ^ 1]
        ticks, at_start, spent = ticks + length, at_start + greedy, spent + made
    entry = np.concatenate(chain)
    flat = ends.reshape(-1, 2)
    swing = None if swing_deg is None else np.asarray(swing_deg, float)[entry >> 1]
    turns, turned = whole_turns(
        flat[entry], flat[entry ^ 1], axes, start=start, angle_range_deg=angle_range_deg, swing_deg=swing
    )
    answer = (entry >> 1, (entry & 1).astype(bool), turns)
    for array in answer:
        array.flags.writeable = False
    return Ordering(
        order=answer[0],
        backwards=answer[1],
        turns=turns,
        travel_s=ticks * axes.tick_s,
        travel_turned_s=turned * axes.tick_s,
        start_travel_s=at_start * axes.tick_s,
        kicks=spent,
    )
