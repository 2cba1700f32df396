"""A program in stretches, one for each tool that is in the spindle: what depends on a tool's form is judged in each.

Takes the replay, the skin and the job's tools in order of use; gives a `Stint` for each tool that moves. Of a text with
more changes than the job has tools, which is an error by itself, the last tool stands for those that are not known.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from engine.blank import Skin
from engine.kernel.values import Tool
from engine.proof.clearance import Heights, heights
from engine.proof.replay import Replay

__all__ = ["Stint", "stints"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stint:
    """number : of the tool among the job's, from 0. replay, heights : of its own moves, which follow each other."""

    number: int
    tool: Tool
    replay: Replay
    heights: Heights


def stints(replay: Replay, skin: Skin, tools: Sequence[Tool], *, enough_mm: float) -> tuple[Stint, ...]:
    """The stretches of a program in order; one without moves where there are none. enough_mm : as of `heights`."""
    number = np.minimum(replay.tool, len(tools) - 1)
    cuts = [0, *(np.flatnonzero(np.diff(number)) + 1).tolist(), len(replay)]
    found = []
    for first, stop in pairwise(cuts):
        part, which = replay.part(first, stop), int(number[first]) if len(replay) else 0
        high = heights(part, skin, tools[which], enough_mm=enough_mm)
        found.append(Stint(number=which, tool=tools[which], replay=part, heights=high))
    return tuple(found)
