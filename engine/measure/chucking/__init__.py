"""The same blank in another place: how it stands now, its skin moved there, measurements joined."""

from engine.measure.chucking.motion import Motion
from engine.measure.chucking.moving import Moved, moved_place, moved_skin

__all__ = ["Motion", "Moved", "moved_place", "moved_skin"]
