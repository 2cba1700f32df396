"""How a tool's form rises from its tip: what carving, clearance and keep-outs ask of it.

Compiled scalars; a form is (flat_mm, round_mm, flank, outer_mm): the disc at the tip, a ball's radius (0: none), a
cone's rise per mm outwards (inf for a flat end) and the radius of the shank.
"""

import math

from engine.kernel.compiled import compiled
from engine.kernel.values import Tool

__all__ = ["SHARP", "Form4", "form_of", "reach", "rise"]

Form4 = tuple[float, float, float, float]
SHARP = 1e8  # a flank steeper than this is a flat end's wall


def form_of(tool: Tool) -> Form4:
    """The four numbers of `tool`."""
    return tool.flat_mm, tool.round_mm, min(tool.flank, 1e9), tool.outer_mm


@compiled
def rise(form: Form4, away_mm: float) -> float:
    """Height of the form over its tip at a lateral distance of at most the outer radius, mm."""
    flat, ball, flank, _ = form
    if ball > 0.0:
        return ball - math.sqrt(max(ball * ball - away_mm * away_mm, 0.0))
    if flank > SHARP or away_mm <= flat:
        return 0.0
    return (away_mm - flat) * flank


@compiled
def reach(form: Form4, sunk_mm: float) -> float:
    """Greatest lateral distance at which the form is below `sunk_mm` over its tip; -1 where it is nowhere."""
    flat, ball, flank, outer = form
    if sunk_mm <= 0:
        return -1.0
    if ball > 0.0:
        return math.sqrt(2 * ball * sunk_mm - sunk_mm * sunk_mm) if sunk_mm < ball else ball
    if flank > SHARP:
        return outer
    return min(outer, flat + sunk_mm / flank)
