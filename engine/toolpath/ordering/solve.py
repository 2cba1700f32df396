"""Stroke ordering: in which order, and from which end, a rotary engraver cuts its strokes.

Takes the two ends of every stroke on the (x, theta) cylinder, whether it may be cut backwards, and what the axes can
do; gives order, direction and whole turns. Effort is counted in moves, ties fall by index, chance comes from a seeded
integer generator: the same input gives the same order on every machine. Refuses (ValueError) non-finite ends.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from engine.kernel.arrays import locked
from engine.toolpath.ordering.costs import Axes
from engine.toolpath.ordering.group import Found, are_points, order_group
from engine.toolpath.ordering.turns import whole_turns
from engine.toolpath.ordering.types import Array, Spot, Tell

__all__ = ["Effort", "Ordering", "order"]

LEAST_KICKS = 1000  # a small job costs nothing, so search it well


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
    tell: Tell | None = None,
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
    ends, reversible = np.asarray(ends, float), np.asarray(reversible, bool)
    labels = np.zeros(reversible.shape, np.int64) if groups is None else np.asarray(groups)
    _refuse(ends, reversible, labels, (start, end))
    entry, found = _group_by_group(ends, reversible, labels, axes, (start, end), effort=effort, seed=seed, tell=tell)
    flat = ends.reshape(-1, 2)
    swing = None if swing_deg is None else np.asarray(swing_deg, float)[entry >> 1]
    turns, turned = whole_turns(
        flat[entry], flat[entry ^ 1], axes, start=start, angle_range_deg=angle_range_deg, swing_deg=swing
    )
    return Ordering(
        order=locked(entry >> 1),
        backwards=locked((entry & 1).astype(bool)),
        turns=locked(turns),
        travel_s=sum(one.ticks for one in found) * axes.tick_s,
        travel_turned_s=turned * axes.tick_s,
        start_travel_s=sum(one.start_ticks for one in found) * axes.tick_s,
        kicks=sum(one.kicks for one in found),
    )


def _group_by_group(
    ends: Array,
    reversible: Array,
    labels: Array,
    axes: Axes,
    goals: tuple[Spot | None, Spot | None],
    *,
    effort: Effort | int,
    seed: int,
    tell: Tell | None,
) -> tuple[Array, list[Found]]:
    """(n,) the end at which each stroke is entered, in order, and what was found of each group. goals : start, end."""
    chain, found, (here, end) = [np.zeros(0, np.int64)], list[Found](), goals
    names = np.unique(labels)
    for name in names:
        members = np.flatnonzero(labels == name)
        one = order_group(
            ends[members],
            reversible[members],
            axes,
            start=here,
            end=end if name == names[-1] else None,
            kicks=_kicks(effort, ends[members], reversible[members], of=len(ends)),
            seed=seed,
            tell=tell,
        )
        found.append(one)
        chain.append(2 * members[one.entry >> 1] + (one.entry & 1))
        here = ends.reshape(-1, 2)[chain[-1][-1] ^ 1]
    return np.concatenate(chain), found


def _refuse(ends: Array, reversible: Array, labels: Array, spots: tuple[Spot | None, ...]) -> None:
    """ValueError where shapes do not fit together or a number is none."""
    n = len(ends)
    if ends.ndim != 3 or ends.shape[1:] != (2, 2):
        raise ValueError(f"ends must be (n, 2, 2), not {ends.shape}")
    if reversible.shape != (n,):
        raise ValueError(f"reversible must be ({n},), not {reversible.shape}")
    if not np.isfinite(ends).all() or not all(spot is None or np.isfinite(spot).all() for spot in spots):
        raise ValueError("ends, start and end must be finite")
    if labels.shape != (n,):
        raise ValueError(f"groups must be ({n},), not {labels.shape}")


def _kicks(effort: Effort | int, ends: Array, reversible: Array, *, of: int) -> int:
    """How many kicks a group gets. of : strokes in all, over which a number of kicks is split."""
    if isinstance(effort, Effort):
        return effort.kicks(reversible, are_points(ends))
    return int(effort) * len(ends) // of
