"""Whether places of the sheet lie on art: a tone is smeared over half a pitch, its cuts are not to be."""

import numpy as np
import shapely

from engine.artwork import Darkness, Drawing
from engine.kernel.arrays import Bools, Floats
from engine.marking.offset import regions_of

__all__ = ["EDGE_MM", "on_art"]

EDGE_MM = 0.02  # beside a drawing's outline: a tenth of what the proof takes for on the art
CELL_MM = 0.05  # in a picture, cells of which one that is dark at all is art; its edge is a cell's
CLEAR = 1e-6  # of a cell that a drawing covers: less is none, so much less than all is all


def on_art(drawing: Drawing, uv_mm: Floats) -> Bools:
    """(n,) whether each sheet place (n, 2) lies in a cell of the picture that is dark, or in the drawing's regions."""
    if drawing.darkness is not None:
        return _dark(drawing.darkness.coarser(CELL_MM), uv_mm)
    if not len(drawing.rings):
        return np.zeros(len(uv_mm), np.bool_)
    covered = Darkness.of_rings(drawing.rings, CELL_MM).at(uv_mm)
    on: Bools = covered >= 1.0 - CLEAR
    edge = np.flatnonzero((covered > CLEAR) & ~on)
    shape = shapely.multipolygons(regions_of(drawing.rings))
    shapely.prepare(shape)
    on[edge] = shapely.dwithin(shape, shapely.points(uv_mm[edge]), EDGE_MM)
    return on


def _dark(field: Darkness, uv_mm: Floats) -> Bools:
    """(n,) whether the cell that holds each place is dark at all."""
    column, row = np.floor(field.to_cells[:, :2] @ uv_mm.T + field.to_cells[:, 2:]).astype(np.int64)
    rows, columns = field.cells.shape
    held = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    on: Bools = held & (field.cells[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)] > 0.0)
    return on
