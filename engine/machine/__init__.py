"""The machine: its profile, and how long it takes over a path."""

from engine.machine.play import overrun, passed_by, room_of
from engine.machine.profile import Axis, FeedRule, Park, Profile, ToolChange, ZZero
from engine.machine.timing import Limits, Motion, corner_speed, limits_of, look_ahead, path_motion

__all__ = [
    "Axis",
    "FeedRule",
    "Limits",
    "Motion",
    "Park",
    "Profile",
    "ToolChange",
    "ZZero",
    "corner_speed",
    "limits_of",
    "look_ahead",
    "overrun",
    "passed_by",
    "path_motion",
    "room_of",
]
