"""A skin touched by a probe: the controller's log, and what the ball's size does to it."""

from engine.measure.probing.forms import Named, Touches, find_touches
from engine.measure.probing.frame import AxisWords, MachineWords
from engine.measure.probing.log import ProbeLog, read_log
from engine.measure.probing.tip import Slopes, contacts, tip_corrected

__all__ = [
    "AxisWords",
    "MachineWords",
    "Named",
    "ProbeLog",
    "Slopes",
    "Touches",
    "contacts",
    "find_touches",
    "read_log",
    "tip_corrected",
]
