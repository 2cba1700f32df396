"""V-depth: a cone sinks as deep as the shape is wide.

Where the shape is no wider than the cone reaches at the depth asked, the tip follows the medial axis at depth
(half-width - half the tip) / tan(half the angle), and runs out into every sharp corner. What is wider is bordered by a
ring at the full depth, whose flank just touches the outline, and cleared flat by rows inside it. Half-widths are those
on the skin, so that the flanks touch the outline as it lies there. Open lines are cut along at full depth.
Source of the depth: the groove of a cone (REFERENCES T1 of this project: width = tip + 2 depth tan(angle / 2)).
"""

from dataclasses import dataclass, replace
from math import inf, radians, tan

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.artwork.regions import Objects
from engine.kernel.arrays import Floats
from engine.kernel.errors import MarkingError
from engine.kernel.essential import essential
from engine.kernel.ragged import Ragged, offsets_of, spread
from engine.layout import Layout
from engine.marking.hatch import Hatch
from engine.marking.judging import judge_strokes
from engine.marking.medial import Medial, Region, medial_axis, pruned, region_of, thinned, trails, within
from engine.marking.strokes import Strokes, drawn, either_way, together
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Clearing", "VDepth"]

CHORD_MM = 0.002  # a fifth of the 0.01 mm that the carved outline may be off: strokes stray from the axis by no more
LOOK_MM = 0.3  # along a row, where the skin is not flat: how often its distance from the outline is asked
SLIVER = 0.05  # of the rows' pitch: what is thinner needs no row of the cone's own
LAP = 0.02  # of the clearing tool's flat half: so much less is counted as cleared, and what is thinner is let stand


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearing:
    """How a second tool clears: its rows' pitch_mm, how far its middle keeps from the outline, and the half of what it
    leaves flat at full depth.
    """

    pitch_mm: float
    keep_mm: float
    flat_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VDepth:
    """depth_mm : the job's, at which sinking ends. angle_deg, tip_mm : included angle and flat of the cone.
    widest_mm : the width beyond which it has no flank. outline_mm : how much of the outline a branch that is left out
    may miss. pitch_mm : of the rows that the cone itself clears. clearing : the second tool's; None: it has none.
    """

    depth_mm: float
    angle_deg: float
    tip_mm: float
    pitch_mm: float
    widest_mm: float = inf
    outline_mm: float = 0.005
    clearing: Clearing | None = None

    def __post_init__(self) -> None:
        if not (0 < self.angle_deg < 180 and 0 <= self.tip_mm < self.widest_mm and 0 < self.depth_mm < inf):
            raise MarkingError("this is no cone that could sink", where="tool", hint="choose a cone")
        if not (0 < self.outline_mm < inf and 0 < self.pitch_mm < inf):
            raise MarkingError("the outline's or the rows' measure is no distance", where="marking", hint="more than 0")

    @property
    def shows(self) -> Shows:
        """The inside is cut, as deep as the flanks let."""
        return Shows(fills=True, draws_rings=False, depth=Depth.WEDGE)

    @property
    def slope(self) -> float:
        """Half-width gained for a mm of depth."""
        return tan(radians(0.5 * self.angle_deg))

    @property
    def reach_mm(self) -> float:
        """Half the width at the greatest depth."""
        return min(0.5 * self.tip_mm + self.depth_mm * self.slope, 0.5 * self.widest_mm)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """Grooves, then the rings and rows of what is wider, then the lines; empty art gives none and a finding."""
        parts = [drawn(drawing.lines)]
        if len(drawing.rings):
            drawing = replace(drawing, rings=thinned(drawing.rings, layout))
            wanted = 0.5 * self.tip_mm, self.reach_mm
            axis = medial_axis(drawing.rings, layout, chord_mm=CHORD_MM, thin_mm=0.0, wanted_mm=wanted)
            floor = self._floor(drawing, layout) if axis.radius.max(initial=0.0) > self.reach_mm else []
            parts = [self._grooves(axis), *floor, *parts]
        strokes = together(parts)
        return Marked(strokes=strokes, findings=judge_strokes(strokes, layout))

    def _share(self, radius: Floats) -> Floats:
        deep = (np.minimum(radius, self.reach_mm) - 0.5 * self.tip_mm) / self.slope
        return np.clip(deep / self.depth_mm, 0.0, 1.0)

    def _grooves(self, axis: Medial) -> Strokes:
        """Strokes where the cone sinks and still reaches both sides. What is too narrow goes before the pruning, since
        its axis was not all made; what is too wide after it, lest branches seem to end there.
        """
        axis = within(axis, 0.5 * self.tip_mm, inf)
        axis = pruned(axis, np.full(len(axis.nodes), self.outline_mm))
        axis = within(axis, 0.0, self.reach_mm)
        node, offsets = trails(axis)
        return self._stroked(Ragged(points=axis.nodes[node], offsets=offsets), axis.radius[node])

    def _stroked(self, runs: Ragged, radius: Floats) -> Strokes:
        """Runs at the depth of their radius, without the points that nobody would miss."""
        keep = essential(np.column_stack([runs.points, radius]), runs.offsets, 0.5 * CHORD_MM)
        offsets = offsets_of(keep)[runs.offsets]
        return either_way(Ragged(points=runs.points[keep], offsets=offsets), self._share(radius[keep]))

    def _floor(self, drawing: Drawing, layout: Layout) -> list[Strokes]:
        """The ring at full depth round what is wider than the cone reaches, and the rows inside it."""
        region = region_of(drawing.rings, layout)
        core = region.inset(self.reach_mm)
        if shapely.is_empty(core).all():
            return []
        rings = region.rings(core, self.reach_mm)
        parts = [self._bordered(rings, region)]
        at = rings
        if self.clearing is not None:
            inner = region.inset(self.clearing.keep_mm)
            edge = region.rings(inner, self.clearing.keep_mm)
            rows = together([self._held(edge, region, self.clearing), self._rows(drawing, edge, region, self.clearing)])
            parts.append(replace(rows, clears=np.ones(len(rows), np.bool_)))
            at = region.rings(self._left(core, inner, self.clearing))
        own = Clearing(pitch_mm=self.pitch_mm, keep_mm=self.reach_mm, flat_mm=0.5 * self.tip_mm)
        parts.append(self._rows(drawing, at, region, own))
        return [part for part in parts if len(part)]

    def _bordered(self, rings: Ragged, region: Region) -> Strokes:
        """The rings, but for where both sides have fallen on the middle of a neck: there the groove runs already."""
        far = region.distance(rings.points)
        there = far > self.reach_mm - CHORD_MM
        first = np.zeros(len(there), np.bool_)
        first[rings.offsets[:-1]] = True
        last = np.roll(first, -1)
        there = there | (np.roll(there, 1) & ~first) | (np.roll(there, -1) & ~last)  # and one point on to the middle
        begins = np.flatnonzero(there & (first | ~np.roll(there, 1)))
        ends = np.flatnonzero(there & (last | ~np.roll(there, -1))) + 1
        long = ends - begins > 1
        begins, sizes = begins[long], (ends - begins)[long]
        kept = spread(begins, sizes)
        offsets = offsets_of(sizes)
        return self._stroked(Ragged(points=rings.points[kept], offsets=offsets), far[kept])

    def _left(self, core: Objects, inner: Objects, clearing: Clearing) -> Objects:
        """What the cone must clear itself, where the clearing tool does not get to."""
        cleared = shapely.buffer(inner, (1.0 - LAP) * clearing.flat_mm, quad_segs=16)
        left = shapely.difference(shapely.buffer(core, -0.5 * self.tip_mm, join_style="mitre"), cleared)
        thin = max(SLIVER * self.pitch_mm, LAP * clearing.flat_mm)
        opened = shapely.buffer(shapely.buffer(left, -thin, join_style="mitre"), thin, join_style="mitre")
        return np.asarray(shapely.intersection(opened, core))

    def _rows(self, drawing: Drawing, rings: Ragged, region: Region, how: Clearing) -> Strokes:
        """Rows inside rings, held off the outline."""
        floor = Drawing(width_mm=drawing.width_mm, height_mm=drawing.height_mm, rings=rings)
        rows = Hatch(pitch_mm=how.pitch_mm).mark(floor, region.layout).strokes
        if region.is_flat or not len(rows):
            return replace(rows, share=self._share(np.full(len(rows.share), self.reach_mm)))
        return self._held(_looked_at(rows.line), region, how)

    def _held(self, line: Ragged, region: Region, how: Clearing) -> Strokes:
        """Runs at full depth, or as much less as they are nearer to the outline than they may be."""
        near = np.minimum(region.distance(line.points) - how.keep_mm, 0.0)
        return self._stroked(line, self.reach_mm + np.where(near > -0.5 * CHORD_MM, 0.0, near))


def _looked_at(rows: Ragged) -> Ragged:
    """Rows of two points with points between them, at most LOOK_MM apart."""
    ends = rows.points.reshape(-1, 2, 2)
    count = np.ceil(np.hypot(*(ends[:, 1] - ends[:, 0]).T) / LOOK_MM).astype(np.int64) + 1
    row = np.repeat(np.arange(len(ends)), count)
    share = spread(0, count) / (count[row] - 1)
    points = ends[row, 0] + share[:, None] * (ends[row, 1] - ends[row, 0])
    return Ragged(points=points, offsets=offsets_of(count))
