"""The same blank in another place: how it stands now, its skin moved there, measurements joined."""

from engine.measure.chucking.carrying import carried
from engine.measure.chucking.ends import Mark, end_for_end
from engine.measure.chucking.joining import corrected
from engine.measure.chucking.motion import Motion
from engine.measure.chucking.moving import Moved, moved_place, moved_skin
from engine.measure.chucking.registering import Registered, register

__all__ = [
    "Mark",
    "Motion",
    "Moved",
    "Registered",
    "carried",
    "corrected",
    "end_for_end",
    "moved_place",
    "moved_skin",
    "register",
]
