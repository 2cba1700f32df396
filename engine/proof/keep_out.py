"""Whether the tool stays clear of the hardware that holds the blank: jaws, a centre, a steady.

Takes the replay and the stretches; gives findings. Hardware whose reach is not known is taken to stand as far out as
the blank does anywhere; a tool that passes even over that is told as a warning, since nobody knows.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import KeepOut, Tool
from engine.machine import Profile
from engine.proof.form import Form4, form_of, rise
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_keep_outs", "lowest_over"]

FAR = 1e9
PIECES = 32  # looks at a move on its way over a stretch
ROUNDING_MM = 0.001  # less than any machine holds; the planner keeps a wider margin


def judge_keep_outs(
    replay: Replay, tool: Tool, machine: Profile, keep_out: Sequence[KeepOut], *, greatest_r_mm: float
) -> list[Finding]:
    """`keep-out`: the tool's form is low over hardware; `keep-out-height`: it passes over it, how high is not known."""
    found = []
    for k, stretch in enumerate(keep_out):
        low, share = lowest_over(replay, tool, stretch)
        over = low < FAR
        unknown = stretch.radius_mm is None
        top = greatest_r_mm if stretch.radius_mm is None else stretch.radius_mm
        bad = over & (low < top + machine.clearance_mm - ROUNDING_MM)
        move, count = worst(bad if bad.any() else over, -low)
        comes = f"over {stretch.words} the tool comes to {low[move]:.2f} mm from the axis{more(count)}"
        if bad.any():
            severity, code = Severity.ERROR, "keep-out"
            reach = f"taken to reach {top:.2f} mm, as the blank does" if unknown else f"said to reach {top:.2f} mm"
            message = f"{comes}; what stands there is {reach}, and {machine.clearance_mm:g} mm above that are asked"
            advice = "keep art and parking away from it, or say how far it reaches (radius_mm)"
        elif unknown and over.any():
            severity, code = Severity.WARNING, "keep-out-height"
            message = f"{comes}; how far that which stands there reaches is not known"
            advice = "measure it and say it (radius_mm), or watch the air run there"
        else:
            continue
        told = about_move(replay, move, severity, code, message, advice, float(share[move]))
        found.append(replace(told, where=replace(told.where, pointer=f"/blank/keep_out/{k}")))
    return found


def lowest_over(replay: Replay, tool: Tool, stretch: KeepOut) -> tuple[Floats, Floats]:
    """(n,) least distance of the tool's form from the axis over the stretch, FAR where it never gets there; and at
    which share of the move. Of a move from an unknown place only the end is known.
    """
    low, share = np.full(len(replay), FAR), np.zeros(len(replay))
    start = np.where(np.isnan(replay.start), replay.end, replay.start)
    _lowest(start, replay.end, form_of(tool), stretch.from_mm, stretch.to_mm, low, share)
    return low, share


@compiled
def _lowest(start: Floats, end: Floats, form: Form4, from_mm: float, to_mm: float, low: Floats, share: Floats) -> None:
    outer = form[3]
    for k in range(len(low)):
        x0, x1, r0, r1 = start[k, 0], end[k, 0], start[k, 2], end[k, 2]
        dx = x1 - x0
        if not (min(x0, x1) <= to_mm + outer and max(x0, x1) >= from_mm - outer):
            continue  # NaN too
        a, b = 0.0, 1.0
        if dx != 0.0:
            enters, leaves = (from_mm - outer - x0) / dx, (to_mm + outer - x0) / dx
            a, b = max(0.0, min(enters, leaves)), min(1.0, max(enters, leaves))
        for q in range(PIECES + 3):
            t = a + (b - a) * q / PIECES
            if q > PIECES:  # where the tip's own flat, the lowest of the form, comes over the stretch
                edge = from_mm - form[0] if q == PIECES + 1 else to_mm + form[0]
                t = min(max((edge - x0) / dx, a), b) if dx != 0.0 else b
            x = x0 + t * dx
            away = min(max(from_mm - x, x - to_mm, 0.0), outer)
            height = r0 + t * (r1 - r0) + rise(form, away)
            if height < low[k]:
                low[k] = height
                share[k] = t
