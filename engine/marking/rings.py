"""Rings in each other: the outline of every region, drawn in again and again, so far on the skin as the pitch asks."""

from dataclasses import dataclass

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.artwork.regions import Objects, flat_lines
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Finding
from engine.layout import Layout
from engine.marking.ground import Ground
from engine.marking.judging import EMPTY, INSET, judge_strokes
from engine.marking.lost import lost
from engine.marking.nested import Level, nested
from engine.marking.offset import offset, regions_of
from engine.marking.strokes import Strokes, drawn, together
from engine.marking.strung import strung
from engine.marking.style import Marked, Shows

__all__ = ["Rings"]

ASIDE = 2.0  # of the pitch: there and back to a shorter ridge is sooner cut than a lift and a plunge


@dataclass(frozen=True, slots=True, kw_only=True)
class Rings:
    """pitch_mm : greatest distance of neighbours on the skin. inset_mm : of the outermost ring from the outline, on the
    skin. joined : rings in each other are one stroke with a step from each to the next.
    """

    pitch_mm: float
    inset_mm: float = 0.0
    joined: bool = True

    def __post_init__(self) -> None:
        if not 0 < self.pitch_mm < np.inf:
            raise MarkingError("the pitch is no distance", where="marking/pitch_mm", hint="more than 0")
        if not 0 <= self.inset_mm < np.inf:
            raise MarkingError("the inset is no distance", where="marking/inset_mm", hint="0 or more")

    @property
    def shows(self) -> Shows:
        """The inside is cut, as far as the pitch goes."""
        return Shows(fills=True, draws_rings=False)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes; what the inset swallows is told; empty art gives none and a finding."""
        parts, narrow = [drawn(drawing.lines)], list[Finding]()
        if len(drawing.rings):
            ground = Ground.under(layout, drawing.rings.points, 2.0 * self.inset_mm)
            regions = regions_of(drawing.rings)
            outer = offset(regions, -self.inset_mm, ground)
            narrow = list(lost(regions, outer, -self.inset_mm, layout, ground))
            levels = nested(outer, self.pitch_mm, ground)
            parts = [*self._strokes(levels, ground), *parts]
        strokes = together(parts)
        why = INSET if len(drawing.rings) else EMPTY
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout, why=why), *narrow))

    def _strokes(self, levels: list[Level], ground: Ground) -> list[Strokes]:
        if not levels:
            return []
        ridges: Objects = np.concatenate([level.ridges for level in levels])
        spots = shapely.points(np.concatenate([level.spots for level in levels]))
        scale = ground.scale(shapely.get_coordinates(shapely.point_on_surface(ridges)))
        short = shapely.length(ridges) * scale < ASIDE * self.pitch_mm
        rings = [shapely.get_rings(level.regions) for level in levels]
        lines = strung(rings, np.concatenate([spots, ridges[short]]), joined=self.joined)
        return [drawn(lines), drawn(flat_lines(ridges[~short]))]
