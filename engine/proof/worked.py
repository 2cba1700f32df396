"""What each tool did: its moves, how deep each went, and the field that it carved; and what all of them left.

Takes the stretches of a program by tool, the skin and the field that is wanted. All fields have the same cells, as fine
as the finest tip wants them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Sampled, Skin
from engine.kernel.values import Tool, Wanted
from engine.proof.carve_field import Carved, carve_window, skin_around, window_of
from engine.proof.clearance import NEAR_MM, Heights
from engine.proof.depths import CUTS_MM, Cuts, cuts_of, joined_cuts
from engine.proof.form import form_of, reach
from engine.proof.replay import Replay
from engine.proof.stints import Stint

__all__ = ["Work", "Worked", "work"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worked:
    """One tool. number : among the job's, from 0. carved : by it alone; the final depths of its cuts are those that all
    tools left.
    """

    number: int
    tool: Tool
    replay: Replay
    cuts: Cuts
    carved: Carved


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """each : tool by tool, as the moves follow each other. cuts, carved : of all together. skin : its coefficients over
    the cut and the wanted field.
    """

    each: tuple[Worked, ...]
    cuts: Cuts
    carved: Carved
    skin: Sampled


def work(stints: Sequence[Stint], skin: Skin, wanted: Wanted | None) -> Work:
    """What the moves of each stretch did, one stretch at least."""
    high = Heights.joined([stint.heights for stint in stints])
    sideways = max(0.0, *(reach(form_of(s.tool), s.heights.sunk_mm + NEAR_MM) for s in stints))
    groove = min((s.tool.width_mm(s.heights.sunk_mm) for s in stints if s.heights.sunk_mm > CUTS_MM), default=math.inf)
    tools = [s.tool for s in stints]
    window = window_of(skin, tools, high.near_x_mm, high.near_theta_rad, reach_mm=sideways, groove_mm=groove)
    x_lo, x_hi = window.x_mm
    if wanted is not None and len(wanted.x_mm):
        low, high_x = skin.x_range_mm
        x_lo = min(x_lo, max(low, float(wanted.x_mm[0])))
        x_hi = max(x_hi, min(high_x, float(wanted.x_mm[-1])))
    near = skin_around(skin, x_lo, x_hi)
    moves = []
    for one in stints:
        live = one.replay.known & (one.heights.least_mm < NEAR_MM)
        moves.append((one.tool, np.concatenate([one.replay.start[live], one.replay.end[live]], axis=1)))
    carved, alone = carve_window(near, window, moves)
    cuts = [cuts_of(one.replay, one.heights, carved, near, one.tool) for one in stints]
    each = tuple(
        Worked(number=s.number, tool=s.tool, replay=s.replay, cuts=c, carved=a)
        for s, c, a in zip(stints, cuts, alone, strict=True)
    )
    return Work(each=each, cuts=joined_cuts(cuts), carved=carved, skin=near)
