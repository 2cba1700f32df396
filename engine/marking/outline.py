"""The outline of every region and every line of the art: on the line itself, or beside it by half the tool's width."""

from dataclasses import dataclass

import numpy as np

from engine.artwork import Drawing
from engine.artwork.regions import rings_of
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.ragged import Ragged
from engine.layout import Layout
from engine.marking.ground import Ground
from engine.marking.lost import lost
from engine.marking.offset import offset, regions_of
from engine.marking.overlap import overlaps
from engine.marking.strokes import Strokes
from engine.marking.style import Marked, Shows

__all__ = ["Outline", "drawn", "together", "told"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One stroke a ring or line; each may be cut from either end. shift_mm : on the skin, how far the rings are moved
    out of their regions (less than 0: into them); half the tool's width gives the drawn shape its true size. Corners
    are rounded on the outside. Open lines stay where they are.
    """

    shift_mm: float = 0.0

    def __post_init__(self) -> None:
        if not abs(self.shift_mm) < np.inf:
            raise MarkingError("the shift is no number", where="marking/side", hint="a finite number of mm")

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
        return Marked(strokes=strokes, findings=(*told(strokes, layout), *narrow))


def drawn(part: Ragged) -> Strokes:
    """Each run as a stroke at full depth; points that repeat the one before them are dropped."""
    keep = np.ones(len(part.points), np.bool_)
    if len(part.points):
        keep[1:] = (np.abs(np.diff(part.points, axis=0)) > 0).any(axis=1)
        keep[part.offsets[:-1][part.sizes > 0]] = True
    owner = part.owner[keep]
    sizes = np.bincount(owner, minlength=len(part))
    whole = sizes > 1
    points = part.points[keep][whole[owner]]
    offsets = np.concatenate([np.zeros(1, np.int64), np.cumsum(sizes[whole])])
    line = Ragged(points=points, offsets=offsets)
    return Strokes(line=line, share=np.ones(len(points)), reversible=np.ones(len(line), np.bool_))


def together(parts: list[Strokes]) -> Strokes:
    """All strokes of all parts, in order."""
    base = np.cumsum([0] + [len(p.line.points) for p in parts])
    offsets = [p.line.offsets[1:] + b for p, b in zip(parts, base[:-1], strict=True)]
    return Strokes(
        line=Ragged(
            points=np.concatenate([p.line.points for p in parts]),
            offsets=np.concatenate([np.zeros(1, np.int64), *offsets]),
        ),
        share=np.concatenate([p.share for p in parts]),
        reversible=np.concatenate([p.reversible for p in parts]),
        clears=np.concatenate([np.zeros(len(p), np.bool_) if p.clears is None else p.clears for p in parts])
        if any(p.clears is not None for p in parts)
        else None,
    )


def told(strokes: Strokes, layout: Layout, *, reach: Strokes | None = None) -> tuple[Finding, ...]:
    """What every style tells of its strokes: that there are none, or that they lie on themselves.

    reach : what shows how far the art reaches, where the strokes go round the blank on purpose.
    """
    if len(strokes):
        return overlaps(strokes if reach is None else reach, layout)
    return (
        Finding(
            severity=Severity.ERROR,
            code="no-strokes",
            message="of this artwork nothing is left to cut",
            advice="choose another threshold, a smaller inset, a finer tool, or other art",
            where=Where(),
        ),
    )
