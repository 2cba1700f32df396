"""Play of an axis, taken up in the air: where to pass on the way to a place, so as to arrive the way one then sets off.

Takes an axis and places in the blank's own sense, in the axis's unit; gives places.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from engine.kernel.arrays import Floats
from engine.machine.profile import Axis

__all__ = ["overrun", "passed_by", "room_of"]

_OVER = 1.25  # shares of the play by which a start is passed: play is measured, and varies along an axis


def overrun(axis: Axis) -> float:
    """How far before a start the axis has to come from, that its play is taken up there."""
    return _OVER * axis.backlash


def passed_by(axis: Axis, start: ArrayLike, way: ArrayLike) -> Floats:
    """Places to pass before `start` when the axis then sets off in the sense of `way`, -1, 0 or 1: one shape for all.

    A start outside the axis's room is the proof's to tell; it is not moved here.
    """
    at: Floats = np.asarray(start, np.float64)
    least, greatest = room_of(axis)
    passed = np.clip(at - np.asarray(way) * overrun(axis), least, greatest)
    return np.where((at < least) | (at > greatest), at, passed)


def room_of(axis: Axis) -> tuple[float, float]:
    """Least and greatest place that an axis reaches, in the blank's own sense; infinite where no limit is known."""
    least = -math.inf if axis.least is None else axis.least
    greatest = math.inf if axis.greatest is None else axis.greatest
    return (-greatest, -least) if axis.reversed else (least, greatest)
