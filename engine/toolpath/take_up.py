"""Play taken up in the air: where a hop goes past a stroke's start, so that it comes back the way the stroke sets off.

Takes ordered `Runs` and the machine; gives, for every run, the place to pass on the way. An axis without play, or that
the run does not move, or that arrives the right way by itself and far enough, is not moved aside.
"""

import math

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.machine import Axis, Profile
from engine.toolpath.runs import Runs

__all__ = ["room_of", "take_up"]

_OVER = 1.25  # shares of the play by which a start is passed: play is measured, and varies along an axis
_STILL = 1e-9


def take_up(runs: Runs, machine: Profile) -> tuple[Floats, Floats]:
    """(x_mm, theta_rad), (m,) each: where the hop to each run passes before it goes to the run's start."""
    axes = (
        (runs.x_mm, machine.axial.backlash, room_of(machine.axial)),
        (runs.theta_rad, math.radians(machine.rotary.backlash), _radians(room_of(machine.rotary))),
    )
    first, last = runs.run_offsets[:-1], runs.run_offsets[1:] - 1
    places = []
    for at, play, (least, greatest) in axes:
        start = at[first]
        if play == 0.0:
            places.append(start.copy())
            continue
        way = _sets_off(at, runs.run_offsets)
        came = np.concatenate([[0.0], start[1:] - at[last[:-1]]])
        over = _OVER * play
        tight = way * came >= over
        passed = np.clip(start - np.where(tight, 0.0, way) * over, least, greatest)
        # A start outside the axis's room is the proof's to tell; it is not moved here.
        places.append(np.where((start < least) | (start > greatest), start, passed))
    return places[0], places[1]


def room_of(axis: Axis) -> tuple[float, float]:
    """Least and greatest place that an axis reaches, in the blank's own sense; infinite where no limit is known."""
    least = -math.inf if axis.least is None else axis.least
    greatest = math.inf if axis.greatest is None else axis.greatest
    return (-greatest, -least) if axis.reversed else (least, greatest)


def _radians(room_deg: tuple[float, float]) -> tuple[float, float]:
    return math.radians(room_deg[0]), math.radians(room_deg[1])


def _sets_off(at: Floats, offsets: Ints) -> Floats:
    """(m,) sign of the first motion along the axis in each run; 0 where there is none."""
    inside = np.ones(max(len(at) - 1, 0), np.bool_)
    inside[offsets[1:-1] - 1] = False
    step = np.diff(at)
    live = np.flatnonzero(inside & (np.abs(step) > _STILL))
    k = np.searchsorted(live, offsets[:-1])
    sign = np.concatenate([np.sign(step[live]), [0.0]])[k]
    own = np.concatenate([live, [len(at)]])[k] < offsets[1:]
    return np.where(own, sign, 0.0)
