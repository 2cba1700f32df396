"""Play taken up in the air: where a hop goes past a stroke's start, so that it comes back the way the stroke sets off.

Takes ordered `Runs` and the machine; gives, for every run, the place to pass on the way. An axis without play, or that
arrives the right way by itself and far enough, is not moved aside. One that the run does not move arrives from below:
else a line would lie to one side or the other by the play, as the hop came.
"""

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.machine import Profile, overrun, passed_by
from engine.toolpath.runs import Runs

__all__ = ["take_up"]

_STILL = 1e-9


def take_up(runs: Runs, machine: Profile) -> tuple[Floats, Floats]:
    """(x_mm, theta_rad), (m,) each: where the hop to each run passes before it goes to the run's start."""
    first, last = runs.run_offsets[:-1], runs.run_offsets[1:] - 1
    places = []
    for axis, at, unit in ((machine.axial, runs.x_mm, 1.0), (machine.rotary, runs.theta_rad, np.pi / 180.0)):
        start = at[first]
        if axis.backlash == 0.0:
            places.append(start.copy())
            continue
        moves = _sets_off(at, runs.run_offsets)
        way = np.where(moves == 0.0, 1.0, moves)
        came = np.concatenate([[0.0], start[1:] - at[last[:-1]]])
        tight = way * came >= overrun(axis) * unit
        places.append(passed_by(axis, start / unit, np.where(tight, 0.0, way)) * unit)
    return places[0], places[1]


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
