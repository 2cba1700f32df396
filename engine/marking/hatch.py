"""Parallel lines inside the regions: straight on the sheet and true-spaced on the skin, or round the whole blank."""

from dataclasses import dataclass
from enum import Enum
from math import radians

import numpy as np

from engine.artwork import Drawing
from engine.artwork.regions import rings_of
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Finding
from engine.kernel.ragged import Ragged, spread
from engine.layout import Layout
from engine.marking.around import around
from engine.marking.ground import Ground
from engine.marking.judging import EMPTY, INSET, PITCH, judge_strokes
from engine.marking.lost import lost
from engine.marking.offset import offset, regions_of
from engine.marking.scanline import inside
from engine.marking.spacing import Family
from engine.marking.strokes import Strokes, drawn, either_way, together
from engine.marking.style import Marked, Shows

__all__ = ["Hatch", "Lines"]

SHORTEST_MM = 1e-6  # an interval shorter than a nanometre is a touch, no stroke
MOST_SAMPLES = 20_000  # places at which the greatest scale is looked for
SAMPLE_MM = 0.5  # how far apart they are on small art: finer than a hump that calliper or probe would find


class Lines(Enum):
    """How the lines run: straight on the sheet, round the blank at one station each, or as one helix round it."""

    STRAIGHT = "straight"
    RINGS = "rings"
    HELIX = "helix"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """pitch_mm : greatest distance of neighbours, measured on the skin; what a helix climbs in a turn. angle_deg : of
    straight lines on the sheet, whatever the art's turn. crossed : others square to them on the sheet, too. outline :
    draw the rings too. inset_mm : how far the lines stay inside the rings, on the skin; edge_mm : the drawn rings.
    """

    pitch_mm: float
    angle_deg: float = 0.0
    outline: bool = False
    inset_mm: float = 0.0
    lines: Lines = Lines.STRAIGHT
    crossed: bool = False
    edge_mm: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.pitch_mm < np.inf:
            raise MarkingError("the pitch is no distance", where="marking/pitch_mm", hint="more than 0")
        if not (abs(self.angle_deg) < np.inf and 0 <= self.inset_mm < np.inf and 0 <= self.edge_mm < np.inf):
            raise MarkingError("the angle or the inset is no number", where="marking", hint="an inset is 0 or more")
        if self.crossed and self.lines is not Lines.STRAIGHT:
            raise MarkingError(
                "only straight lines can be crossed", where="marking/crossed", hint="choose lines: straight"
            )

    @property
    def shows(self) -> Shows:
        """The inside is cut, as far as the pitch goes; the rings where they were asked for on the line itself."""
        return Shows(fills=True, draws_rings=self.outline and self.edge_mm == 0)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes; where nothing is left, none and a finding; what the inset swallows is told."""
        edge, narrow = _inset(drawing.rings, self.edge_mm, layout)
        rings = edge
        if self.inset_mm != self.edge_mm:
            rings, narrow = _inset(drawing.rings, self.inset_mm, layout)
        parts = self._filled(rings, layout) if len(rings) else []
        parts += [drawn(edge)] if self.outline else []
        strokes = together([*parts, drawn(drawing.lines)])
        reach = None if self.lines is Lines.STRAIGHT else together([drawn(drawing.rings), drawn(drawing.lines)])
        why = PITCH if len(rings) else INSET if len(drawing.rings) else EMPTY
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout, reach=reach, why=why), *narrow))

    def _filled(self, rings: Ragged, layout: Layout) -> list[Strokes]:
        if self.lines is not Lines.STRAIGHT:
            return [around(rings, layout, self.pitch_mm, climbs=self.lines is Lines.HELIX)]
        angles = [self.angle_deg, self.angle_deg + 90.0] if self.crossed else [self.angle_deg]
        return [self._lines(rings, layout, radians(angle)) for angle in angles]

    def _lines(self, rings: Ragged, layout: Layout, angle: float) -> Strokes:
        family = Family.over(layout, self.pitch_mm, angle, _samples(rings, layout, angle))
        line, start, stop = _intervals(rings, family)
        i, begin, end = family.present(line, start, stop)
        begin, end = np.maximum(begin, start[i]), np.minimum(end, stop[i])
        long = end - begin > SHORTEST_MM
        i, begin, end = i[long], begin[long], end[long]
        points = np.stack([family.points(line[i], begin), family.points(line[i], end)], axis=1).reshape(-1, 2)
        return either_way(Ragged(points=points, offsets=np.arange(0, len(points) + 1, 2)))


def _samples(rings: Ragged, layout: Layout, angle_rad: float) -> Floats:
    """Sheet points all over the art: its rings, and an even net inside them, SAMPLE_MM wide or as MOST_SAMPLES asks."""
    area = float(np.prod(np.ptp(rings.points, axis=0)))
    apart = max(SAMPLE_MM, np.sqrt(area / MOST_SAMPLES))
    net = Family(layout=layout, pitch_mm=apart, angle_rad=angle_rad, gap_mm=apart)
    line, start, stop = _intervals(rings, net)
    count = np.ceil((stop - start) / apart).astype(np.int64) + 1
    i = np.repeat(np.arange(len(line)), count)
    m = spread(0, count)
    at = start[i] + (stop - start)[i] * m / np.maximum(count[i] - 1, 1)
    edge = rings.points[:: max(1, len(rings.points) // MOST_SAMPLES)]
    return np.concatenate([edge, net.points(line[i], at)])


def _intervals(rings: Ragged, family: Family) -> tuple[Ints, Floats, Floats]:
    """(line, start, stop): the stretches of each line of the family that lie inside the rings."""
    return inside(rings.points @ family.across / family.gap_mm, rings.points @ family.along, rings.offsets)


def _inset(rings: Ragged, inset_mm: float, layout: Layout) -> tuple[Ragged, tuple[Finding, ...]]:
    """The rings drawn in by inset_mm on the skin, and what was too narrow for that."""
    if inset_mm == 0 or not len(rings):
        return rings, ()
    ground = Ground.under(layout, rings.points, 2.0 * inset_mm)
    regions = regions_of(rings)
    inner = offset(regions, -inset_mm, ground)
    return rings_of(inner), lost(regions, inner, -inset_mm, layout, ground)
