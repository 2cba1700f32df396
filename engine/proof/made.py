"""What the carving made, in figures: the material taken off, the width of the lines, the wall that is left.

Takes the carved field, the skin and the cutting moves; gives `Made`. A line's width is measured square to the move, on
the skin, from where the field is uncut on one side to where it is on the other: neighbouring lines that run into each
other count as one, as an eye would see them.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.blank import Frame as SkinFrame
from engine.blank import Sampled, spline_at
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import Frame, column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.replay import Replay

__all__ = ["Made", "made_of"]

MOST_PLACES = 2_000  # at which the line is measured, evenly over the cut
WIDEST_MM = 10.0  # a wider line is told as this wide
STEPS = 0.5  # cells between the places at which an edge is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """removed_mm3 : material taken off. line_mm : (least, median) width of the lines, None where nothing is cut.
    wall_left_mm : least wall, None on a solid blank.
    """

    removed_mm3: float
    line_mm: tuple[float, float] | None
    wall_left_mm: float | None


def made_of(
    replay: Replay, cutting: Bools, carved: Carved, skin: Sampled, *, deepest_mm: float, wall_mm: float | None
) -> Made:
    """The figures of a carved field and the moves that made it. cutting : (n,) moves that cut along the skin."""
    places = np.flatnonzero(cutting & (replay.way_mm > 0))
    places = places[:: max(1, math.ceil(len(places) / MOST_PLACES))]
    middle = 0.5 * (replay.start[places, :2] + replay.end[places, :2])
    way = replay.end[places, :2] - replay.start[places, :2]
    width = np.zeros(len(places))
    _widths(skin.coefficients, skin.frame, carved.frame, carved.depth_mm, middle, way, width)
    width = width[width > 0]
    return Made(
        removed_mm3=carved.removed_mm3,
        line_mm=(float(width.min()), float(np.median(width))) if len(width) else None,
        wall_left_mm=None if wall_mm is None else max(0.0, wall_mm - deepest_mm),
    )


@compiled
def _widths(C: Floats, skin: SkinFrame, cells: Frame, depth: Radii, middle: Floats, way: Floats, out: Floats) -> None:
    for k in range(len(out)):
        x, th = middle[k]
        if not skin[0] <= x <= skin[1]:
            continue
        r, rx, rt = spline_at(C, skin, x, th)
        E, F, G = 1.0 + rx * rx, rx * rt, r * r + rt * rt
        # Square to the way in the skin's metric, one mm long.
        a, b = -(way[k, 0] * F + way[k, 1] * G), way[k, 0] * E + way[k, 1] * F
        size = math.sqrt(a * a * E + 2.0 * a * b * F + b * b * G)
        if size <= 0.0:
            continue
        a, b = a / size, b / size
        for side in (1.0, -1.0):
            out[k] += _to_edge(cells, depth, x, th, side * a, side * b)


@compiled
def _to_edge(cells: Frame, depth: Radii, x: float, th: float, a: float, b: float) -> float:
    """How far from the place, mm, the field stays cut along (a, b) a mm."""
    nx, nt = depth.shape
    step = STEPS * cells.dx
    gone = 0.0
    while gone < 0.5 * WIDEST_MM:
        i = row_of(cells, nx, x + gone * a)
        j = column_of(cells, nt, th + gone * b)
        if i < 0 or j < 0 or depth[i, j] <= 0.0:
            break
        gone += step
    return gone
