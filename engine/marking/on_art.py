"""Whether places of the sheet lie on art: a tone is smeared over half a pitch, its cuts are not to be."""

from dataclasses import dataclass

import numpy as np
import shapely

from engine.artwork import LIGHTEST, Darkness, Drawing
from engine.kernel.arrays import Bools, Floats
from engine.marking.offset import regions_of

__all__ = ["EDGE_MM", "OnArt"]

EDGE_MM = 0.02  # beside a drawing's outline: a tenth of what the proof takes for on the art
CELL_MM = 0.02  # of a picture, or its own where they are larger: dark anywhere between their middles is art
DRAWN_MM = 0.05  # of the raster that tells most of a drawing's places, those near no edge
CLEAR = 1e-6  # of a cell that a drawing covers: less is none, so much less than all is all


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnArt:
    """What tells of places whether they lie on a drawing's art. dark : of a picture; covered, shape : of regions, the
    share of each cell that they cover and they themselves. All are None where there is no art.
    """

    dark: Darkness | None = None
    covered: Darkness | None = None
    shape: shapely.MultiPolygon | None = None

    @classmethod
    def of(cls, drawing: Drawing) -> "OnArt":
        """Made ready for one drawing."""
        if drawing.darkness is not None:
            return cls(dark=drawing.darkness.coarser(CELL_MM))
        if not len(drawing.rings):
            return cls()
        shape = shapely.multipolygons(regions_of(drawing.rings))
        shapely.prepare(shape)
        return cls(covered=Darkness.of_rings(drawing.rings, DRAWN_MM), shape=shape)

    def at(self, uv_mm: Floats) -> Bools:
        """(n,) whether the picture is dark at all at each sheet place (n, 2), or it lies in the drawing's regions."""
        if self.dark is not None:
            return self.dark.at(uv_mm) > LIGHTEST
        if self.covered is None:
            return np.zeros(len(uv_mm), np.bool_)
        covered = self.covered.at(uv_mm)
        on: Bools = covered >= 1.0 - CLEAR
        edge = np.flatnonzero((covered > CLEAR) & ~on)
        on[edge] = shapely.dwithin(self.shape, shapely.points(uv_mm[edge]), EDGE_MM)
        return on
