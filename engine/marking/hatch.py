"""Parallel lines inside the regions, straight on the sheet, true-spaced on the skin; drawn lines as they are.

Even-odd scanline over all rings at once with a half-open rule, so that a vertex on a line is counted once and holes
need no care. Source: even-odd filling as in any computer-graphics textbook (common practice).
"""

from dataclasses import dataclass
from math import radians

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.layout import Layout
from engine.marking.outline import drawn, together, told
from engine.marking.spacing import Family
from engine.marking.strokes import Strokes
from engine.marking.style import Marked, Shows

__all__ = ["Hatch"]

SHORTEST_MM = 1e-6  # an interval shorter than a nanometre is a touch, no stroke
MOST_SAMPLES = 20_000  # places at which the greatest scale is looked for
SAMPLE_MM = 0.5  # how far apart they are on small art: finer than a hump that calliper or probe would find
MOST_CROSSINGS = 8_000_000  # of lines with edges: half a gigabyte; a thousand times what a day of cutting holds


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """pitch_mm : greatest distance of neighbours, measured on the skin. angle_deg : of the lines on the sheet, whatever
    the art's turn. outline : draw the rings too. inset_mm : how far the lines stay inside the rings.
    """

    pitch_mm: float
    angle_deg: float = 0.0
    outline: bool = False
    inset_mm: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.pitch_mm < np.inf:
            raise MarkingError("the pitch is no distance", where="marking/pitch_mm", hint="more than 0")
        if not (abs(self.angle_deg) < np.inf and 0 <= self.inset_mm < np.inf):
            raise MarkingError("the angle or the inset is no number", where="marking", hint="an inset is 0 or more")

    @property
    def shows(self) -> Shows:
        """The inside is cut, as far as the pitch goes; the rings where they were asked for."""
        return Shows(fills=True, draws_rings=self.outline)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes; where nothing is left, none and a finding."""
        rings = _inset(drawing.rings, self.inset_mm) if self.inset_mm > 0 else drawing.rings
        parts = [self._lines(rings, layout)] if len(rings) else []
        parts += [drawn(drawing.rings)] if self.outline else []
        strokes = together([*parts, drawn(drawing.lines)])
        return Marked(strokes=strokes, findings=told(strokes, layout))

    def _lines(self, rings: Ragged, layout: Layout) -> Strokes:
        angle = radians(self.angle_deg)
        family = Family.over(layout, self.pitch_mm, angle, _samples(rings, layout, angle))
        line, start, stop = _intervals(rings, family)
        i, begin, end = family.present(line, start, stop)
        begin, end = np.maximum(begin, start[i]), np.minimum(end, stop[i])
        long = end - begin > SHORTEST_MM
        i, begin, end = i[long], begin[long], end[long]
        points = np.stack([family.points(line[i], begin), family.points(line[i], end)], axis=1).reshape(-1, 2)
        return Strokes(
            line=Ragged(points=points, offsets=np.arange(0, len(points) + 1, 2)),
            share=np.ones(len(points)),
            reversible=np.ones(len(i), np.bool_),
        )


def _samples(rings: Ragged, layout: Layout, angle_rad: float) -> Floats:
    """Sheet points all over the art: its rings, and an even net inside them, SAMPLE_MM wide or as MOST_SAMPLES asks."""
    area = float(np.prod(np.ptp(rings.points, axis=0)))
    apart = max(SAMPLE_MM, np.sqrt(area / MOST_SAMPLES))
    net = Family(layout=layout, pitch_mm=apart, angle_rad=angle_rad, gap_mm=apart)
    line, start, stop = _intervals(rings, net)
    count = np.ceil((stop - start) / apart).astype(np.int64) + 1
    i = np.repeat(np.arange(len(line)), count)
    m = np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count)
    at = start[i] + (stop - start)[i] * m / np.maximum(count[i] - 1, 1)
    edge = rings.points[:: max(1, len(rings.points) // MOST_SAMPLES)]
    return np.concatenate([edge, net.points(line[i], at)])


def _intervals(rings: Ragged, family: Family) -> tuple[Ints, Floats, Floats]:
    """(line, start, stop): the stretches of each line of the family that lie inside the rings."""
    across = rings.points @ family.across / family.gap_mm
    along = rings.points @ family.along
    first = np.ones(len(across), np.bool_)
    first[rings.offsets[1:] - 1] = False
    k = np.flatnonzero(first)
    y0, y1, x0, x1 = across[k], across[k + 1], along[k], along[k + 1]
    low = np.ceil(np.minimum(y0, y1)).astype(np.int64)
    count = np.ceil(np.maximum(y0, y1)).astype(np.int64) - low
    if count.sum() > MOST_CROSSINGS:
        raise MarkingError(
            f"lines {family.gap_mm:.3g} mm apart would be {int(count.sum()) // 2} strokes",
            where="marking/pitch_mm",
            hint="choose a wider pitch or smaller art",
        )
    edge = np.repeat(np.arange(len(k)), count)
    line = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[edge]
    x = x0[edge] + (line - y0[edge]) / (y1[edge] - y0[edge]) * (x1[edge] - x0[edge])
    order = np.lexsort((x, line))
    line, x = line[order], x[order]
    return line[::2], x[::2], x[1::2]


def _inset(rings: Ragged, inset_mm: float) -> Ragged:
    """The regions drawn in by inset_mm; what is narrower than twice that is gone."""
    closed = shapely.linearrings(rings.points, indices=rings.owner)
    filled = shapely.build_area(shapely.geometrycollections(closed))
    inner = shapely.buffer(filled, -inset_mm, quad_segs=16)
    _, points, offsets = shapely.to_ragged_array(
        [p for p in shapely.get_parts(inner) if not p.is_empty and p.geom_type == "Polygon"] or [shapely.Polygon()]
    )
    return Ragged(points=points.reshape(-1, 2), offsets=offsets[0])
