"""What it costs where the tool's line misses the axis of rotation: depth lost, and lines turned aside.

A tool at the offset e comes to a bar of radius r at the angle asin(e / r), where the bar is r - sqrt(r2 - e2) lower
(plane geometry).
"""

import math

import numpy as np

from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Kind
from engine.machine import Profile
from engine.proof.depths import Cuts
from engine.proof.replay import Replay
from engine.proof.where import about_move

__all__ = ["judge_off_axis", "lost_mm"]

LOST_MM, LOST_SHARE = 0.01, 0.05  # of depth: what is told
ASIDE_MM = 0.2  # the grace within which a cut counts as on the art


def lost_mm(radius_mm: float, offset_mm: float) -> float:
    """By how much the skin lies lower beside the axis; the whole radius where the tool misses the bar."""
    return radius_mm - math.sqrt(max(radius_mm**2 - offset_mm**2, 0.0))


def judge_off_axis(replay: Replay, cuts: Cuts, machine: Profile) -> list[Finding]:
    """`off-axis`: the error that the machine states costs more depth or place than is asked for."""
    live = np.flatnonzero(cuts.cuts & (replay.kind == Kind.CUT) & (replay.end[:, 2] > 0))
    offset = machine.axis_error_mm
    if offset is None or offset == 0 or not len(live):
        return []
    move = int(live[np.argmin(replay.end[live, 2])])
    radius = float(replay.end[move, 2])
    lost = lost_mm(radius, offset)
    deep = float(np.median(cuts.final_mm)) if len(cuts.final_mm) else 0.0
    if lost <= max(LOST_MM, LOST_SHARE * deep) and offset <= ASIDE_MM:
        return []
    turned = math.degrees(math.asin(min(1.0, offset / max(radius, 1e-9))))
    message = (
        f"a tool {offset:g} mm beside the axis cuts {lost:.3f} mm less deep where the radius is {radius:.1f} mm, "
        f"and {turned:.2f} deg aside"
    )
    advice = "set the tool over the axis: touch both sides of a turned pin and halve the difference"
    return [about_move(replay, move, Severity.WARNING, "off-axis", message, advice)]
