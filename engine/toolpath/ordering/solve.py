"""Stroke ordering: in which order, and from which end, a rotary engraver cuts its strokes.

Takes the two ends of every stroke on the (x, theta) cylinder, whether it may be cut backwards, and what the axes can
do; gives order, direction and whole turns. Effort is counted in moves, ties fall by index, chance comes from an integer
generator that always begins alike: the same input gives the same order on every machine. Refuses (ValueError)
non-finite ends.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from engine.kernel.arrays import locked
from engine.toolpath.ordering.costs import Axes
from engine.toolpath.ordering.found import Found, are_points, found_order
from engine.toolpath.ordering.turns import whole_turns
from engine.toolpath.ordering.types import Array

__all__ = ["Effort", "Ordering", "order"]

LEAST_KICKS = 1000  # a small job costs nothing, so search it well
NOTHING = Found(entry=np.zeros(0, np.int64), ticks=0, start_ticks=0, kicks=0)


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
    effort: Effort | int = Effort.GOOD,
    angle_range_deg: tuple[float, float] | None = None,
    swing_deg: Array | None = None,
) -> Ordering:
    """Order the strokes and choose their directions for the least travel time.

    Parameters
    ----------
    ends : (n, 2, 2), for each stroke entry and exit as (x_mm, theta_deg), the angle unwrapped within the stroke.
    reversible : (n,) bool, whether the stroke may be entered at its exit.
    effort : an Effort, or a number of kicks in all.
    angle_range_deg : the angles the rotary may reach; None leaves the accumulated angle to the short way.
    swing_deg : (n, 2) least and greatest angle on the whole of each stroke, for that range; the ends' where None.

    Notes
    -----
    The order may begin and end anywhere. n = 0 gives empty arrays. Equal input gives equal output. Turning all angles
    by a constant changes neither order nor cost, as long as float rounding of the sum stays under 1/2**33 turn.
    """
    ends, reversible = np.asarray(ends, float), np.asarray(reversible, bool)
    _refuse(ends, reversible)
    found = NOTHING
    if len(ends):
        found = found_order(ends, reversible, axes, kicks=_kicks(effort, ends, reversible))
    entry = found.entry
    flat = ends.reshape(-1, 2)
    swing = None if swing_deg is None else np.asarray(swing_deg, float)[entry >> 1]
    turns, turned = whole_turns(flat[entry], flat[entry ^ 1], axes, angle_range_deg=angle_range_deg, swing_deg=swing)
    return Ordering(
        order=locked(entry >> 1),
        backwards=locked((entry & 1).astype(bool)),
        turns=locked(turns),
        travel_s=found.ticks * axes.tick_s,
        travel_turned_s=turned * axes.tick_s,
        start_travel_s=found.start_ticks * axes.tick_s,
        kicks=found.kicks,
    )


def _refuse(ends: Array, reversible: Array) -> None:
    """ValueError where shapes do not fit together or a number is none."""
    n = len(ends)
    if ends.ndim != 3 or ends.shape[1:] != (2, 2):
        raise ValueError(f"ends must be (n, 2, 2), not {ends.shape}")
    if reversible.shape != (n,):
        raise ValueError(f"reversible must be ({n},), not {reversible.shape}")
    if not np.isfinite(ends).all():
        raise ValueError("ends must be finite")


def _kicks(effort: Effort | int, ends: Array, reversible: Array) -> int:
    """How many kicks the strokes get."""
    return effort.kicks(reversible, are_points(ends)) if isinstance(effort, Effort) else int(effort)
