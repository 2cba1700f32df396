"""How the tool gets there: strokes laid on the skin, climbing, followed at depth by the tool's own form."""

from engine.toolpath.climb import climb
from engine.toolpath.follow import cut, tip_radius
from engine.toolpath.lay import lay
from engine.toolpath.runs import Laid, Runs, join_runs

__all__ = ["Laid", "Runs", "climb", "cut", "join_runs", "lay", "tip_radius"]
