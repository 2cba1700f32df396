"""Centreline: the middle of thin shapes as single strokes at full depth.

The medial axis on the sheet; a branch that reaches out of the disc at its foot by little is a spur and goes; tips end
where a round pen of the stroke's width would end.
"""

from dataclasses import dataclass

import numpy as np

from engine.artwork import Drawing
from engine.kernel.ragged import Ragged
from engine.layout import Layout
from engine.marking.medial import Medial, essential, medial_axis, trails
from engine.marking.medial.burn import spared
from engine.marking.medial.tips import blunted
from engine.marking.outline import drawn, together, told
from engine.marking.strokes import Strokes
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Centreline"]

SPUR = 0.6  # of the radius at the foot; a square end's second corner has 0.41
CHORD_MM = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class Centreline:
    """It has no options: the shapes say where their middle is."""

    @property
    def shows(self) -> Shows:
        """The inside is what the strokes stand for."""
        return Shows(fills=True, draws_rings=False, depth=Depth.MIDDLE)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """One stroke a stroke of the art; lines as they are; empty art gives none and a finding."""
        strokes = together([_middles(drawing.rings), drawn(drawing.lines)])
        return Marked(strokes=strokes, findings=told(strokes, layout))


def _middles(rings: Ragged) -> Strokes:
    axis = medial_axis(rings, chord_mm=CHORD_MM)
    axis = axis.kept(spared(axis, SPUR * axis.radius))
    for _ in range(2):  # cutting the corners of a fork back may bare another spur
        axis = axis.kept(blunted(axis, SPUR))
    return _stroked(axis)


def _stroked(axis: Medial) -> Strokes:
    node, offsets = trails(axis)
    keep = essential(axis.nodes[node], offsets, CHORD_MM)
    offsets = np.concatenate([np.zeros(1, np.int64), np.cumsum(keep)])[offsets]
    line = Ragged(points=axis.nodes[node][keep], offsets=offsets)
    return Strokes(line=line, share=np.ones(len(line.points)), reversible=np.ones(len(line), np.bool_))
