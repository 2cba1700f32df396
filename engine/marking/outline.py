"""The outline of every region and every line of the art: on the line itself, or beside it by half the tool's width."""

from dataclasses import dataclass

import numpy as np

from engine.artwork import Drawing
from engine.artwork.regions import rings_of
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Finding
from engine.layout import Layout
from engine.marking.ground import Ground
from engine.marking.judging import EMPTY, INSET, judge_strokes
from engine.marking.lost import lost
from engine.marking.offset import offset, regions_of
from engine.marking.strokes import drawn, together
from engine.marking.style import Marked, Shows

__all__ = ["Outline"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One stroke a ring or line; each may be cut from either end. shift_mm : on the skin, how far the rings are moved
    out of their regions (less than 0: into them); half the tool's width gives the drawn shape its true size. Corners
    are rounded on the outside. Open lines stay where they are.
    """

    shift_mm: float = 0.0

    def __post_init__(self) -> None:
        if not abs(self.shift_mm) < np.inf:
            raise MarkingError("the shift is no number", where="marking", hint="a finite number of mm")

    @property
    def shows(self) -> Shows:
        """The rings are all that is cut, beside the lines."""
        return Shows(fills=False, draws_rings=True, shift_mm=self.shift_mm)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes; what is too narrow for the shift is told; empty art gives none and a finding."""
        rings, narrow = drawing.rings, list[Finding]()
        if self.shift_mm != 0 and len(rings):
            ground = Ground.under(layout, rings.points, 2.0 * abs(self.shift_mm))
            regions = regions_of(rings)
            moved = offset(regions, self.shift_mm, ground)
            rings, narrow = rings_of(moved), list(lost(regions, moved, self.shift_mm, layout, ground))
        strokes = together([drawn(rings), drawn(drawing.lines)])
        why = INSET if len(drawing.rings) else EMPTY
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout, why=why), *narrow))
