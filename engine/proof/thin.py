"""Grooves thinner than the carving's cells, which pass between the rays that it is looked at along.

Takes what each tool did; gives the carved field with every cell as deep as the tip goes anywhere in it, so that what is
cut, and where, is not lost from a share of area. Widths and areas of such grooves are no finer than a cell.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from engine.blank import Frame as SkinFrame
from engine.blank import Sampled
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.values import Kind
from engine.proof.carve_field import THIN_CELLS, Carved
from engine.proof.carve_pieces import Frame, column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.foot import under
from engine.proof.worked import Worked

__all__ = ["with_thin"]

MOST_PLACES = 4_000_000  # of the tip: on longer ways they are further apart than a cell


def with_thin(carved: Carved, each: Sequence[Worked], skin: Sampled) -> Carved:
    """The field, deepened to the tip's own depth under each tool that cuts less than THIN_CELLS cells wide; itself
    where none does.
    """
    cell = carved.frame.dx
    depth = None
    for one in each:
        live = one.cuts.cuts & np.isin(one.replay.kind, (Kind.CUT, Kind.PLUNGE))
        deepest = float(one.cuts.depth_mm[live].max(initial=0.0))
        if deepest <= 0.0 or one.tool.width_mm(deepest) >= THIN_CELLS * cell:
            continue
        depth = carved.depth_mm.copy() if depth is None else depth
        step = max(cell, float(one.replay.way_mm[live].sum()) / MOST_PLACES)
        ways = one.replay.start[live], one.replay.end[live]
        _deepen(*ways, step, skin.coefficients, skin.frame, carved.frame, depth)
    return carved if depth is None else replace(carved, depth_mm=depth)


@compiled
def _deepen(start: Floats, end: Floats, step: float, C: Floats, skin: SkinFrame, cells: Frame, depth: Radii) -> None:
    """Raise each cell on the ways (n, 3) to the tip's depth along the normal, to first order: exact as it goes to 0."""
    nx, nt = depth.shape
    for k in range(len(start)):
        middle = 0.5 * (start[k, 2] + end[k, 2])
        way = math.hypot(end[k, 0] - start[k, 0], middle * (end[k, 1] - start[k, 1]))
        n = max(1, math.ceil(way / step))
        for p in range(n + 1):
            t = p / n
            x, th = start[k, 0] + t * (end[k, 0] - start[k, 0]), start[k, 1] + t * (end[k, 1] - start[k, 1])
            i, j = row_of(cells, nx, x), column_of(cells, nt, th)
            if i < 0 or j < 0 or not skin[0] <= x <= skin[1]:
                continue
            sunk = under((C, skin), x, th, start[k, 2] + t * (end[k, 2] - start[k, 2]), 0.0)[2]
            depth[i, j] = max(depth[i, j], sunk)
