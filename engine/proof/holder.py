"""What stands above the cutting part: whether shank, collet or spindle nose come to the skin beside the cut.

Takes the replay, the skin, the tool and the machine as far as they are known; gives findings. Each part is a cylinder
about the tool's axis that begins at a height over the tip: a flat end, lifted, and wider by a cell of the map, so that
nothing between its nodes is missed. What is not stated is not judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Skin
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Form, KeepOut, Tool
from engine.machine import Profile
from engine.proof.clearance import heights
from engine.proof.keep_out import lowest_over
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["Part", "judge_holder", "parts_of"]

CELLS = 40_000  # of the map for parts so wide: half a millimetre on small blanks, one and a half on large
NEAR = 0.5  # of the machine's clearance


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A cylinder of the stack. radius_mm about the axis, from height_mm over the tip on."""

    name: str
    radius_mm: float
    height_mm: float


def parts_of(tool: Tool, machine: Profile) -> list[Part]:
    """The parts that are known, from the tip up."""
    found = []
    if tool.flute_mm is not None and tool.shank_mm is not None and tool.shank_mm > tool.diameter_mm:
        found.append(Part(name="shank", radius_mm=0.5 * tool.shank_mm, height_mm=tool.flute_mm))
    if tool.stick_out_mm is not None:
        if machine.collet_mm is not None:
            found.append(Part(name="collet", radius_mm=0.5 * machine.collet_mm, height_mm=tool.stick_out_mm))
        if machine.nose_mm is not None:
            height = tool.stick_out_mm + machine.collet_length_mm
            found.append(Part(name="spindle nose", radius_mm=0.5 * machine.nose_mm, height_mm=height))
    return found


def judge_holder(
    replay: Replay, skin: Skin, tool: Tool, machine: Profile, keep_out: Sequence[KeepOut]
) -> list[Finding]:
    """`holder-touches` and `holder-near`: a part comes to the skin or to hardware with a known reach, or near to it."""
    found = []
    near = NEAR * machine.clearance_mm
    for part in parts_of(tool, machine):
        end = Tool(form=Form.FLAT, diameter_mm=2.0 * part.radius_mm)
        high = heights(replay, skin, end, enough_mm=near - part.height_mm, cells=CELLS, wider=1.0)
        gap, share = high.least_mm + part.height_mm, high.share
        for stretch in keep_out:
            if stretch.radius_mm is not None:
                low, at = lowest_over(replay, end, stretch)
                nearer = low + part.height_mm - stretch.radius_mm < gap
                gap = np.where(nearer, low + part.height_mm - stretch.radius_mm, gap)
                share = np.where(nearer, at, share)
        bad = replay.known & (gap < near)
        if not bad.any():
            continue
        move, count = worst(bad, -gap)
        severity = Severity.ERROR if gap[move] < 0 else Severity.WARNING
        code = "holder-touches" if gap[move] < 0 else "holder-near"
        how = f"runs {-gap[move]:.1f} mm into" if gap[move] < 0 else f"comes within {gap[move]:.1f} mm of"
        message = f"the {part.name} {how} what stands beside the cut{more(count)}"
        advice = "more stick-out, a slimmer holder, or a place further from the shoulder"
        found.append(about_move(replay, move, severity, code, message, advice, float(share[move])))
    return found
