"""Darkness as depth: fine rows that leave no ridge higher than asked, and rough rows before them.

The tool sinks as deep as the art is dark, but nowhere so deep that any part of it would cut deeper than the art asks
under it (`sinking`). A ball is moved aside on a slope so that it touches where it should. A cone and a flat end are
taken as square to the skin; their rows stand as far apart as leaves the same ridge on a level ground, a flat end's by
half its width.
Sources: ridge between two passes of a ball, h = R - sqrt(R2 - s2 / 4), and on a convex skin of radius r about s2 / 8
(1 / R + 1 / r): geometry of circles, as in any milling handbook; on a slope the rows are nearer by its cosine.
"""

from dataclasses import dataclass
from math import atan, cos, inf, radians, sin, sqrt

import numpy as np

from engine.artwork import Darkness, Drawing
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.ragged import Ragged, offsets_of, spread
from engine.kernel.values import Form, Tool
from engine.layout import Layout, area_stretch
from engine.marking.curved import set_aside
from engine.marking.dashes import Cuts, along
from engine.marking.judging import LIGHT, judge_strokes
from engine.marking.rows import RIDGES, ROUGH, refuse_many, straight
from engine.marking.sampling import Rows
from engine.marking.sinking import Asked, asked_depths
from engine.marking.strokes import Strokes, drawn, together
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Relief", "row_step"]

NODES_A_RADIUS = 16.0  # of the field under the tool, as wide as it cuts: between two a ball of 0.5 mm rises by 0.25 um
FINEST_MM = 0.005  # between nodes
EDGE_MM = 0.1  # nodes so near, samples no further from the next, tell where the art ends: nearer than the proof asks
MANY_MOVES = 200_000  # on a skin they become a few times as many lines: minutes of planning, a day of cutting
STEPS_A_RADIUS = 4.0  # of samples along a row
STEEPEST = cos(radians(60.0))  # rows are put no nearer for what falls more steeply: walls keep higher ridges
SHALLOWEST_MM = 1e-4  # less is bare skin
TOLD_SHARE = 0.02  # of the depth: how near the tip keeps to it, so that a shallow relief has its greys, too
WITHIN_MM = 0.0002  # a straight move from the depths of its row
LAP = 0.5  # of a tool's width at its step down: rough rows overlap by half


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """scallop_mm : highest ridge that the fine rows leave. angle_deg : of the rows on the sheet. rough_step_mm :
    greatest step down of the rough rows, None for none; stock_mm : what they leave. clearing : the tool that cuts them,
    None for the art's own.
    """

    tool: Tool
    depth_mm: float
    scallop_mm: float = 0.005
    angle_deg: float = 0.0
    rough_step_mm: float | None = None
    stock_mm: float = 0.1
    clearing: Tool | None = None

    def __post_init__(self) -> None:
        for name, value, least in (
            ("depth_mm", self.depth_mm, 0.0),
            ("marking/scallop_mm", self.scallop_mm, 0.0),
            ("marking/rough_step_mm", inf if self.rough_step_mm is None else self.rough_step_mm, 0.0),
        ):
            if not least < value:
                raise MarkingError(f"{value:g} is no depth", where=name, hint="more than 0")
        if not 0 <= self.stock_mm < inf or not abs(self.angle_deg) < inf:
            raise MarkingError("the stock or the angle is no number", where="marking", hint="a stock of 0 or more")
        if not self.scallop_mm < self.depth_mm:
            raise MarkingError(
                "the ridges are as high as the relief is deep", where="marking/scallop_mm", hint="less than depth_mm"
            )

    @property
    def shows(self) -> Shows:
        """The share of the job's depth that the art is dark."""
        return Shows(fills=True, draws_rings=False, depth=Depth.RELIEF, chord_mm=TOLD_SHARE * self.depth_mm)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """Rough rows, if any are asked for, then fine rows; art without a tone is as deep as its regions cover it."""
        self._refuse_many(drawing, layout)
        lines, darkness = drawn(drawing.lines), drawing.darkness_in(self._node_mm)
        if darkness is None:
            return Marked(strokes=lines, findings=judge_strokes(lines, layout))
        asked = asked_depths(darkness, self.depth_mm, self._node_mm)
        strokes = together([*self._rough(darkness, asked, layout), self._fine(darkness, asked, layout), lines])
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout, why=LIGHT), *self._many(strokes)))

    def _many(self, strokes: Strokes) -> tuple[Finding, ...]:
        """`fine-ridges`, a note, where the ridges asked for take so many moves that a person should know."""
        moves = len(strokes.line.points)
        if moves <= MANY_MOVES:
            return ()
        higher = 4.0 * self.scallop_mm
        pitch, wider = (row_step(self.tool, height) for height in (self.scallop_mm, higher))
        return (
            Finding(
                severity=Severity.NOTE,
                code="fine-ridges",
                message=f"ridges of {self.scallop_mm:g} mm take rows {pitch:.3g} mm apart, {moves:,} moves in all",
                advice=f"ridges of {higher:g} mm take rows {wider:.3g} mm apart; so does a wider or blunter tool",
                where=Where(),
            ),
        )

    def _refuse_many(self, drawing: Drawing, layout: Layout) -> None:
        """MarkingError, before anything large is made, where even rows on level ground are too many."""
        if drawing.darkness is None and not len(drawing.rings):
            return
        if drawing.darkness is not None:
            corners = drawing.darkness.corners
        else:
            (left, low), (right, high) = drawing.rings.points.min(axis=0), drawing.rings.points.max(axis=0)
            corners = np.array([[left, low], [right, low], [right, high], [left, high]])
        pitch = row_step(self.tool, self.scallop_mm)
        refuse_many(layout, corners, pitch, self._step(pitch, self.tool), RIDGES)

    @property
    def _node_mm(self) -> float:
        """Between nodes of the field under the tool."""
        radius = self.tool.round_mm or 0.5 * self.tool.width_mm(self.depth_mm)
        return max(min(radius / NODES_A_RADIUS, EDGE_MM), FINEST_MM)

    def _fine(self, darkness: Darkness, asked: Asked, layout: Layout) -> Strokes:
        spots = np.concatenate([darkness.corners, darkness.corners.mean(axis=0, keepdims=True)])
        held = layout.holds(spots)
        spots = spots[held] if held.any() else spots  # art off the blank's end is refused where it is laid on the skin
        x, theta = layout.wrap(spots)
        turn = radians(self.angle_deg)
        slope = asked.slope(np.array([-sin(turn), cos(turn)]), float(area_stretch(layout, spots).min()) ** 0.5)
        pitch = row_step(self.tool, self.scallop_mm, float(layout.skin.radius(x, theta).min()))
        pitch *= max(cos(atan(slope)), STEEPEST)
        rows = self._rows(darkness, layout, pitch, self.tool, RIDGES)
        between = asked.step_mm**2 / (8.0 * self.tool.round_mm) if self.tool.round_mm else 0.0
        depth = np.where(rows.seen, asked.sunk(rows.uv_mm, layout, self.tool) - between, 0.0)
        cuts = along(rows, _runs(depth > SHALLOWEST_MM, rows.offsets), depth, within_mm=WITHIN_MM)
        return self._strokes(cuts, set_aside(self.tool, cuts.line.points, cuts.depth_mm, layout))

    def _rough(self, darkness: Darkness, asked: Asked, layout: Layout) -> list[Strokes]:
        """Each row to and fro, a step deeper each time, down to the stock: one stroke, so that no step comes early."""
        if self.rough_step_mm is None:
            return []
        tool = self.clearing or self.tool
        rows = self._rows(darkness, layout, LAP * tool.width_mm(self.rough_step_mm), tool, ROUGH)
        depth = np.where(rows.seen, asked.sunk(rows.uv_mm, layout, tool) - self.stock_mm, 0.0)
        cuts = along(rows, _runs(depth > SHALLOWEST_MM, rows.offsets), np.maximum(depth, 0.0))
        if not len(cuts.line):
            return []
        zigzag = _to_and_fro(cuts, self.rough_step_mm)
        return [self._strokes(zigzag, zigzag.line.points, rough=True)]

    def _rows(self, darkness: Darkness, layout: Layout, pitch_mm: float, tool: Tool, field: str) -> Rows:
        step = self._step(pitch_mm, tool)
        angle = self.angle_deg
        return straight(darkness, layout, pitch_mm=pitch_mm, angle_deg=angle, step_mm=step, field=field).whole()

    @staticmethod
    def _step(pitch_mm: float, tool: Tool) -> float:
        return min(pitch_mm, (tool.round_mm or tool.outer_mm) / STEPS_A_RADIUS, 2.0 * EDGE_MM)

    def _strokes(self, cuts: Cuts, points: Floats, *, rough: bool = False) -> Strokes:
        return Strokes(
            line=Ragged(points=points, offsets=cuts.line.offsets),
            share=np.minimum(cuts.depth_mm / self.depth_mm, 1.0),
            reversible=np.full(len(cuts.line), not rough),
            clears=np.full(len(cuts.line), True) if rough and self.clearing is not None else None,
        )


def row_step(tool: Tool, scallop_mm: float, skin_radius_mm: float = inf) -> float:
    """How far apart rows on a level ground of that convex radius leave ridges of `scallop_mm`."""
    if tool.form is Form.BALL:
        ridge = min(scallop_mm, tool.round_mm)
        level = 2.0 * sqrt(2.0 * tool.round_mm * ridge - ridge**2)
        return level * sqrt(1.0 / (1.0 + tool.round_mm / skin_radius_mm))
    if tool.form is Form.FLAT:
        return tool.outer_mm
    return min(2.0 * (tool.flat_mm + scallop_mm / tool.flank), tool.outer_mm)


def _to_and_fro(cuts: Cuts, step_mm: float) -> Cuts:
    """Each stroke to and fro as one, `step_mm` deeper each time, down to its depths."""
    first, size = cuts.line.offsets[:-1], cuts.line.sizes
    ends = np.concatenate([first, first + size - 1])
    turned = cuts.depth_mm.copy()  # where it turns it goes no deeper, so that it never cuts straight down
    turned[ends] = np.minimum(turned[ends], step_mm)
    deepest = np.maximum.reduceat(cuts.depth_mm, first)
    levels = np.ceil(deepest / step_mm * (1.0 - 1e-9)).astype(np.int64)
    run, level = np.repeat(np.arange(len(size)), levels), spread(0, levels)
    at = spread(first[run], size[run], back=level % 2 == 1)
    return Cuts(
        line=Ragged(points=cuts.line.points[at], offsets=offsets_of(size * levels)),
        depth_mm=np.minimum(turned[at], np.repeat((level + 1) * step_mm, size[run])),
    )


def _runs(on: Bools, offsets: Ints) -> Floats:
    """(k, 2) first and last place, in samples, of every run of samples that are on, within its row."""
    begins, ends = np.zeros(len(on) + 1, np.bool_), np.zeros(len(on) + 1, np.bool_)
    begins[offsets[:-1]], ends[offsets[1:]] = True, True
    first = on & (begins[:-1] | ~np.concatenate([[False], on[:-1]]))
    last = on & (ends[1:] | ~np.concatenate([on[1:], [False]]))
    return np.column_stack([np.flatnonzero(first) + 0.5, np.flatnonzero(last) + 0.5])
