"""What is told of each tool of a program: its form, which strokes it cuts, how long it takes, where its zero is set.

Takes a setup, what was written and its proof; gives words and JSON-ready facts, in order of use.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.values import Form, Path, Tool
from engine.outcome.touch_off import TouchOff

__all__ = ["seconds_by_tool", "strokes_by_tool", "tool_facts", "tool_words"]


def tool_words(tool: Tool) -> str:
    """`cone-60: cone, 3.175 mm, 60 deg included, tip 0.1 mm`."""
    form = f"{tool.id}: {tool.form.value}, {tool.diameter_mm:g} mm"
    return f"{form}, {tool.angle_deg:g} deg included, tip {tool.tip_mm:g} mm" if tool.form is Form.CONE else form


def strokes_by_tool(path: Path) -> dict[int, tuple[int, int]]:
    """First and last stroke of each tool, by the tool's number."""
    found = {}
    for first, stop in path.stints:
        strokes = path.stroke[first:stop]
        found[int(path.tool[first])] = int(strokes[strokes > 0].min()), int(strokes.max())
    return found


def seconds_by_tool(path: Path, seconds: Floats, dwell_s: float) -> dict[int, float]:
    """Time of each tool, by its number. seconds : (n - 1,) of the path's moves. dwell_s : for each spindle start."""
    sums = np.bincount(path.tool[1:], seconds, int(path.tool[-1]) + 1) if len(path) > 1 else np.zeros(1)
    return {int(path.tool[first]): float(sums[path.tool[first]]) + dwell_s for first, _ in path.stints}


def tool_facts(
    tools: Sequence[Tool],
    rpms: Sequence[float],
    touches: Sequence[TouchOff],
    *,
    strokes: Mapping[int, tuple[int, int]],
    seconds: Mapping[int, float],
    cut_mm: Sequence[float],
) -> list[dict[str, Any]]:
    """Each tool that cuts, in order of use. strokes, seconds : by the tool's number; cut_mm : of each."""
    return [
        {
            "id": tools[k].id,
            "words": tool_words(tools[k]),
            "from_stroke": first,
            "to_stroke": last,
            "strokes": last - first + 1,
            "time_s": round(seconds[k], 2),
            "cut_mm": round(cut_mm[k], 2),
            "rpm": rpms[k],
            "touch_off": touches[k].facts(),
        }
        for k, (first, last) in strokes.items()
    ]
