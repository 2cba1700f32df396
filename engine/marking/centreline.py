"""Centreline: the middle of thin shapes as single strokes at full depth.

The medial axis on the sheet (the middle on the skin, too: what is laid on it locally keeps middles); a branch that
reaches out of the disc at its foot by little is a spur and goes; tips end where a round pen of the stroke's width would
end, strokes go straight through forks, meet in corners and run on to what they join. What is as wide as it is long is
a dot: a stroke of one point.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from engine.artwork import Drawing
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.essential import essential
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.ragged import Ragged, offsets_of
from engine.layout import Layout, area_stretch
from engine.marking.judging import judge_strokes
from engine.marking.medial import (
    Medial,
    blunted,
    edges_of,
    medial_axis,
    pulled_in,
    spared,
    strokes_of,
)
from engine.marking.strokes import Strokes, drawn, either_way, together
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Centreline"]

SPUR = 0.7  # of the radius at the foot; a square end's second corner has 0.41, a meeting at 40 degrees 0.63
MET = 0.02  # of the radius: a branch worth as much has met the others, though it is not drawn
DOT = 1.2  # radii: strokes that are shorter than that altogether are a dot
WIDE = 4.0  # times the median width: no stroke
CHORD_MM = 0.004  # how far a stroke, straightened, may stray
THIN_MM = 0.002  # how far the outline may, thinned before its axis is sought


@dataclass(frozen=True, slots=True, kw_only=True)
class Centreline:
    """It has no options: the shapes say where their middle is."""

    @property
    def shows(self) -> Shows:
        """The inside is what the strokes stand for."""
        return Shows(fills=True, draws_rings=False, depth=Depth.MIDDLE)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """One stroke a stroke of the art; lines as they are; empty art gives none and a finding."""
        axis = medial_axis(drawing.rings, chord_mm=CHORD_MM, thin_mm=THIN_MM)
        strokes = together([_middles(axis, drawing.rings), drawn(drawing.lines)])
        return Marked(strokes=strokes, findings=(*judge_strokes(strokes, layout), *_too_wide(axis, layout)))


def _middles(axis: Medial, rings: Ragged) -> Strokes:
    part, deepest = _parts(axis)
    kept, stops, origin = _skeleton(axis)
    long = np.bincount(part[origin[kept.links[:, 0]]], kept.length_mm, minlength=len(deepest))
    dot = long < DOT * axis.radius[deepest]
    draw = ~dot[part[origin[kept.links[:, 0]]]]
    used = np.unique(kept.links[draw])
    runs = strokes_of(kept.kept(draw), stops[used])
    keep = essential(runs.points, runs.offsets, CHORD_MM)
    sizes = np.concatenate([np.bincount(runs.owner[keep], minlength=len(runs)), np.ones(dot.sum(), np.int64)])
    points = np.concatenate([runs.points[keep], axis.nodes[deepest[dot]]])
    points = pulled_in(edges_of(rings), points)  # an acute corner of two strokes may lie beyond a blunt one of the art
    return either_way(Ragged(points=points, offsets=offsets_of(sizes)))


def _parts(axis: Medial) -> tuple[Ints, Ints]:
    """(n,) the part of the art each node belongs to, and (k,) the node of the greatest disc of each part."""
    count = len(axis.nodes)
    ends = axis.links.T
    _, label = connected_components(coo_matrix((np.ones(ends.shape[1]), ends), shape=(count, count)), directed=False)
    part = label.astype(np.int64)
    order = np.lexsort((np.arange(count), -np.round(axis.radius, 6), part))
    return part, np.asarray(order[np.flatnonzero(np.diff(part[order], prepend=-1))], np.int64)


def _skeleton(axis: Medial) -> tuple[Medial, Bools, Ints]:
    """What of the axis strokes are drawn from; (n,) joints that branches met which are gone; (n,) the axis's nodes."""
    origin, forks = np.arange(len(axis.nodes)), np.zeros(len(axis.nodes), np.bool_)
    for step in range(4):
        # cutting the corners of a fork back may bare another spur
        stay = spared(axis, (MET, SPUR)[step] * axis.radius) if step < 2 else blunted(axis, SPUR)
        used = np.unique(axis.links[stay])
        axis, origin, forks = axis.kept(stay), origin[used], forks[used]
        forks = forks | (axis.degree > 2)
    return axis, forks & (axis.degree == 2), origin


def _too_wide(axis: Medial, layout: Layout) -> tuple[Finding, ...]:
    """One note where a part is so much wider than the others that no single stroke stands for it."""
    if not len(axis.links):
        return ()
    radius: Floats = axis.radius[axis.links].mean(axis=1)
    order = np.argsort(radius, kind="stable")
    along = np.cumsum(axis.length_mm[order])
    median = float(radius[order][np.searchsorted(along, 0.5 * along[-1])])
    worst = int(np.argmax(np.round(axis.radius, 6)))
    if not axis.radius[worst] > WIDE * median:
        return ()
    x, theta = (float(value[0]) for value in layout.wrap(axis.nodes[worst : worst + 1]))
    skin = sqrt(area_stretch(layout, axis.nodes[worst : worst + 1])[0])  # mm for a mm, the mean of all ways
    return (
        Finding(
            severity=Severity.NOTE,
            code="too-wide-for-a-stroke",
            message=f"parts of the art are up to {2 * skin * axis.radius[worst]:.2f} mm wide on the skin, most of it "
            f"{2 * skin * median:.2f} mm: a single stroke does not show their width",
            advice="take hatch, rings or v-depth for them",
            where=Where.on_skin(x, theta),
        ),
    )
