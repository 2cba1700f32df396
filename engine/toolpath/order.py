"""The order of cutting: which stroke next, from which end, and how many whole turns on; least travel in machine time.

Takes Runs and the machine; gives Runs in cutting order, reversed where that is better and allowed, theta moved by whole
turns so that the rotary takes the short way and stays inside its range. Refuses (ReachError) a stroke that no whole
turn brings into the range.
"""

from math import inf

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import ReachError
from engine.kernel.ragged import offsets_of, spread
from engine.kernel.units import TURN_RAD
from engine.machine import Axis, Profile
from engine.toolpath.ordering import Axes, Effort, Ordering
from engine.toolpath.ordering import order as ordering
from engine.toolpath.runs import Runs

__all__ = ["order", "stroke_ends"]

UNKNOWN_X_MM_MIN = 1500.0  # the default machine's: only the ratio of the two axes matters to the order
UNKNOWN_A_DEG_MIN = 3600.0
ROOM_DEG = 3600.0  # ten turns
SAME = 1e-9  # mm and rad: closer ends are one place


def order(runs: Runs, machine: Profile, *, effort: Effort = Effort.GOOD) -> Runs:
    """The strokes in cutting order. Effort is counted in moves, never in seconds: same input, same order."""
    if not len(runs):
        return runs
    ends = stroke_ends(runs)
    swaps = runs.reversible & _swaps_its_ends(runs)
    deg = ends.copy()
    deg[..., 1] = np.degrees(deg[..., 1])
    swing = np.degrees(_swing(runs))
    room = _range(machine.rotary, swing)
    try:
        found = ordering(deg, swaps, _axes(machine), effort=effort, angle_range_deg=room, swing_deg=swing)
    except ValueError as exc:
        raise ReachError(
            "no whole turn brings a stroke into the rotary's range",
            where="/machine/axes/rotary",
            hint="widen min_deg and max_deg, move the art around, or lift the limits",
        ) from exc
    return _rearranged(runs, found)


def stroke_ends(runs: Runs) -> Floats:
    """(k, 2, 2): where each stroke is entered and left, as (x_mm, theta_rad)."""
    first = runs.run_offsets[runs.stroke_offsets[:-1]]
    last = runs.run_offsets[runs.stroke_offsets[1:]] - 1
    at = np.stack([runs.x_mm, runs.theta_rad], axis=1)
    return np.stack([at[first], at[last]], axis=1)


def _swaps_its_ends(runs: Runs) -> Bools:
    """(k,) whether turning every run round swaps where the stroke is entered and left: not so for even zigzags."""
    at = np.stack([runs.x_mm, runs.theta_rad], axis=1)
    turned_entry = at[runs.run_offsets[runs.stroke_offsets[:-1] + 1] - 1]
    turned_exit = at[runs.run_offsets[runs.stroke_offsets[1:] - 1]]
    ends = stroke_ends(runs)
    apart = np.abs(turned_entry - ends[:, 1]) + np.abs(turned_exit - ends[:, 0])
    swaps: Bools = apart.max(axis=1) < SAME
    return swaps


def _swing(runs: Runs) -> Floats:
    """(k, 2) least and greatest angle on the whole of each stroke."""
    first = runs.run_offsets[runs.stroke_offsets[:-1]]
    ends = [function.reduceat(runs.theta_rad, first) for function in (np.minimum, np.maximum)]
    return np.stack(ends, axis=1)


def _axes(machine: Profile) -> Axes:
    return Axes(
        x_speed_mm_s=(machine.axial.rapid_per_min or UNKNOWN_X_MM_MIN) / 60.0,
        theta_speed_deg_s=(machine.rotary.rapid_per_min or UNKNOWN_A_DEG_MIN) / 60.0,
        x_accel_mm_s2=machine.axial.accel_per_s2 or inf,
        theta_accel_deg_s2=machine.rotary.accel_per_s2 or inf,
    )


def _range(rotary: Axis, swing_deg: Floats) -> tuple[float, float] | None:
    """Blank angles, degrees, that the rotary reaches; None where it has no limit. swing_deg : see `_swing`.

    A side without a limit is given room for the longest stroke and ten turns more: each is one more place to try.
    """
    if rotary.least is None and rotary.greatest is None:
        return None
    room = float(np.diff(swing_deg, axis=1).max()) + ROOM_DEG
    if rotary.least is None or rotary.greatest is None:
        low = float(rotary.greatest or 0.0) - room if rotary.least is None else rotary.least
        high = low + room
    else:
        low, high = rotary.least, rotary.greatest
    return (-high, -low) if rotary.reversed else (low, high)


def _rearranged(runs: Runs, found: Ordering) -> Runs:
    """One gather of all points: strokes in order, runs turned round where the stroke is cut backwards, turns added."""
    strokes = found.order
    run_count = np.diff(runs.stroke_offsets)[strokes]
    run = spread(runs.stroke_offsets[:-1][strokes], run_count)
    back = np.repeat(found.backwards, run_count)
    size = np.diff(runs.run_offsets)[run]
    point = spread(runs.run_offsets[:-1][run], size, back=back)
    turns = np.repeat(np.repeat(found.turns, run_count), size)
    return Runs(
        x_mm=runs.x_mm[point],
        theta_rad=runs.theta_rad[point] + TURN_RAD * turns,
        r_mm=runs.r_mm[point],
        run_offsets=offsets_of(size),
        stroke_offsets=offsets_of(run_count),
        reversible=runs.reversible[strokes],
        feed_mm_min=runs.feed_mm_min[strokes],
        plunge_mm_min=runs.plunge_mm_min[strokes],
        art=runs.art[strokes],
    )
