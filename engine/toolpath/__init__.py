"""How the tool gets there: at depth, over the crests, in a good order, lifted between."""

from engine.toolpath.begin import begin_at
from engine.toolpath.change import Leg, link_legs
from engine.toolpath.climb import climb
from engine.toolpath.follow import cut, tip_radius
from engine.toolpath.lay import lay
from engine.toolpath.link import link
from engine.toolpath.order import order
from engine.toolpath.runs import Laid, Runs, join_runs
from engine.toolpath.walk import covering, walk

__all__ = [
    "Laid",
    "Leg",
    "Runs",
    "begin_at",
    "climb",
    "covering",
    "cut",
    "join_runs",
    "lay",
    "link",
    "link_legs",
    "order",
    "tip_radius",
    "walk",
]
