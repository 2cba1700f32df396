"""Rows whose width carries the tone: the darker the art, the deeper a cone sinks and the wider it cuts.

Where rows lie g apart on the skin, a darkness d is cut d g wide; how deep that is, `groove` says for the skin as it
leans there and `curved` for how it bends. Fainter tones than the least sure depth gives are dashes (`dashes`). The
middle of every cut lies in the art, and the groove reaches past its edge by no more than half its width: a row that
kept all of itself inside would leave the edge light by as much. Black takes rows that touch: where the depth does not
open a whole strip, that is told.
"""

from dataclasses import dataclass
from math import inf
from typing import Literal

import numpy as np

from engine.artwork import Darkness, Drawing
from engine.kernel.arrays import Floats
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.values import Tool
from engine.layout import Layout
from engine.marking.curved import set_aside
from engine.marking.dashes import DEPTH_MM, cut_along
from engine.marking.groove import refuse_flat, sunk
from engine.marking.held import Held, held_along, judge_held
from engine.marking.judging import LIGHT, judge_strokes
from engine.marking.on_art import OnArt
from engine.marking.rows import helix, meridians, rings, straight
from engine.marking.sampling import Rows, Sampling
from engine.marking.strokes import Strokes, drawn, either_way, together
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Course", "Halftone"]

Course = Literal["straight", "rings", "helix", "meridians"]

STEPS_A_PITCH = 6.0  # samples along a row: finer than a tone can be told at this pitch
STEPS_A_DASH = 3.0  # of the least width: a dash is one and a half of it
CELLS_A_PITCH = 2.0  # what a row answers for is a pitch wide: the picture is averaged over half of it
DRAWN_MM = 0.1  # cells of a drawing, where half a pitch is more
TOLD_SHARE = 0.01  # of the pitch: how exact a row's width is
NUDGE = 0.01  # of a depth: little enough for a slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Halftone:
    """pitch_mm : greatest distance of neighbouring rows, measured on the skin. lines : straight on the sheet at
    angle_deg, or rings at one x, one helix, meridians at one angle. depth_mm : the greatest; least_depth_mm : less is
    not sure to mark.
    """

    tool: Tool
    depth_mm: float
    pitch_mm: float
    lines: Course = "straight"
    angle_deg: float = 0.0
    least_depth_mm: float = 0.01

    def __post_init__(self) -> None:
        refuse_flat(self.tool)
        if not 0 < self.pitch_mm < inf:
            raise MarkingError("the pitch is no distance", where="marking/pitch_mm", hint="more than 0")
        if not abs(self.angle_deg) < inf:
            raise MarkingError("the angle is no number", where="marking/angle_deg", hint="give degrees")
        if not 0 < self.least_depth_mm < self.depth_mm:
            raise MarkingError(
                "the least depth is not under the depth", where="marking/least_depth_mm", hint="above 0, under depth_mm"
            )
        least = self.tool.width_mm(self.least_depth_mm)
        if not least <= self.pitch_mm:
            raise MarkingError(
                f"at its least depth the tool is {least:.3g} mm wide, wider than the pitch",
                where="marking/pitch_mm",
                hint=f"a pitch of {least:.3g} mm or more, or a finer tip",
            )

    @property
    def shows(self) -> Shows:
        """As much of the skin is opened as the art is dark, which takes depths as exact as widths are to be."""
        return Shows(fills=True, draws_rings=False, depth=Depth.TONE, chord_mm=self._within_mm)

    @property
    def _within_mm(self) -> float:
        """By how much less depth a groove of the least sure width is TOLD_SHARE of the pitch narrower: a wider one of a
        ball changes less, one of a cone as much.
        """
        depth = self.least_depth_mm
        gained = self.tool.width_mm((1.0 + NUDGE) * depth) - self.tool.width_mm(depth)
        return TOLD_SHARE * self.pitch_mm * NUDGE * depth / gained if gained > 0.0 else inf

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes; art without a tone is as dark as its regions cover it, its lines are drawn at full depth."""
        lines = drawn(drawing.lines)
        cell = self.pitch_mm / CELLS_A_PITCH
        darkness = drawing.darkness_in(min(cell, DRAWN_MM))
        if darkness is None:
            return Marked(strokes=lines, findings=judge_strokes(lines, layout))
        mean, art = darkness.coarser(cell), OnArt.of(drawing)
        cut, parts = list[Strokes](), list[Held]()
        for rows in self._rows(darkness, layout).parts():
            asked = np.clip(mean.at(rows.art_mm), 0.0, 1.0) * rows.seen
            asked *= art.at(rows.art_mm)
            strokes, widest = self._cut(rows, asked, layout)
            cut.append(strokes)
            parts += held_along(rows, asked, widest)
        strokes = together([*cut, lines])
        held = judge_held(parts, layout, depth_mm=self.depth_mm, pitch_mm=self.pitch_mm)
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout, why=LIGHT), *held))

    def _cut(self, rows: Rows, asked: Floats, layout: Layout) -> tuple[Strokes, Floats]:
        """The strokes along rows that are asked to be so dark (n,), and (n,) mm, how wide their grooves could be."""
        wanted = asked * rows.cell_mm
        widest, least, width, depth = sunk(
            self.tool, wanted, rows.lean, rows.rise, rows.bend, least_mm=self.least_depth_mm, most_mm=self.depth_mm
        )
        cuts = cut_along(rows, width, least, depth, within_mm=min(DEPTH_MM, self._within_mm))
        points = set_aside(self.tool, cuts.line.points, cuts.depth_mm, layout)
        line = Ragged(points=points, offsets=cuts.line.offsets)
        return either_way(line, cuts.depth_mm / self.depth_mm), widest

    def _rows(self, darkness: Darkness, layout: Layout) -> Sampling:
        least = self.tool.width_mm(self.least_depth_mm)
        step = min(self.pitch_mm / STEPS_A_PITCH, 1.5 * least / STEPS_A_DASH)
        if self.lines == "straight":
            return straight(darkness, layout, pitch_mm=self.pitch_mm, angle_deg=self.angle_deg, step_mm=step)
        run = {"rings": rings, "helix": helix, "meridians": meridians}[self.lines]
        return run(darkness, layout, pitch_mm=self.pitch_mm, step_mm=step)
