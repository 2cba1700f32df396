"""Whether places of the sheet lie on art: a tone is smeared over half a pitch, its cuts are not to be."""

import numpy as np
import shapely

from engine.artwork import LIGHTEST, Darkness, Drawing
from engine.kernel.arrays import Bools, Floats
from engine.marking.offset import regions_of

__all__ = ["EDGE_MM", "on_art"]

EDGE_MM = 0.02  # beside a drawing's outline: a tenth of what the proof takes for on the art
CELL_MM = 0.02  # of a picture, or its own where they are larger: dark anywhere between their middles is art
DRAWN_MM = 0.05  # of the raster that tells most of a drawing's places, those near no edge
CLEAR = 1e-6  # of a cell that a drawing covers: less is none, so much less than all is all


def on_art(drawing: Drawing, uv_mm: Floats) -> Bools:
    """(n,) whether the picture is dark at all at each sheet place (n, 2), or it lies in the drawing's regions."""
    if drawing.darkness is not None:
        return drawing.darkness.coarser(CELL_MM).at(uv_mm) > LIGHTEST
    if not len(drawing.rings):
        return np.zeros(len(uv_mm), np.bool_)
    covered = Darkness.of_rings(drawing.rings, DRAWN_MM).at(uv_mm)
    on: Bools = covered >= 1.0 - CLEAR
    edge = np.flatnonzero((covered > CLEAR) & ~on)
    shape = shapely.multipolygons(regions_of(drawing.rings))
    shapely.prepare(shape)
    on[edge] = shapely.dwithin(shape, shapely.points(uv_mm[edge]), EDGE_MM)
    return on
