"""A white sheet that takes ink in painted order: regions and lines that add, and regions that erase.

Work grows with what is touched only: regions whose box misses the new ink are not looked at.
"""

import numpy as np
import shapely

from engine.artwork.limits import Limits
from engine.artwork.regions import Objects, polygons_of
from engine.kernel.arrays import Bools
from engine.kernel.errors import TooBigError

__all__ = ["Canvas"]

LINE = 1  # shapely.GeometryType.LINESTRING, as get_type_id gives it


class Canvas:
    """Ink on a sheet. Regions painted one after the other wait together until something must be taken from them."""

    def __init__(self, limits: Limits) -> None:
        self._limits, self._work = limits, 0
        self._regions: Objects = np.zeros(0, object)
        self._lines: Objects = np.zeros(0, object)
        self._wet: list[Objects] = []
        self._wet_erases = False
        self._wet_lines: list[Objects] = []

    def add(self, regions: Objects) -> None:
        """Paint dark over what is there."""
        self._paint(regions, erases=False)

    def erase(self, regions: Objects) -> None:
        """Paint light over what is there, lines as well."""
        self._paint(regions, erases=True)

    def line(self, lines: Objects) -> None:
        """Draw lines over what is there."""
        if len(lines):
            if self._wet_erases:
                self._dry()
            self._wet_lines.append(lines)

    def finish(self, thinnest: float) -> tuple[Objects, Objects]:
        """(regions, linestrings). Slivers thinner than `thinnest`, which only rounding leaves, are dropped."""
        self._dry()
        thickness = 2.0 * shapely.area(self._regions) / np.maximum(shapely.length(self._regions), 1e-300)
        return self._regions[thickness > thinnest], self._lines

    def spend(self, geometry: Objects, where: str = "painting") -> None:
        """Count the points of what is about to be worked on.

        Raises
        ------
        TooBigError.
        """
        self._work += int(shapely.get_num_coordinates(geometry).sum())
        if self._work > self._limits.paint_work:
            raise TooBigError(
                f"painting and erasing handles over {self._limits.paint_work:,} points",
                where=where,
                hint="join the layers, or erase less often",
            )

    def _paint(self, regions: Objects, *, erases: bool) -> None:
        if not len(regions):
            return
        if (self._wet and erases != self._wet_erases) or (erases and self._wet_lines):
            self._dry()
        self._wet_erases = erases
        self._wet.append(regions)

    def _dry(self) -> None:
        if self._wet:
            new = np.concatenate(self._wet)
            self.spend(new)
            joined = new if len(self._wet) == 1 else polygons_of(shapely.union_all(new))
            touched = _near(self._regions, joined)
            old = self._regions[touched]
            self.spend(old)
            if self._wet_erases:
                mask = shapely.union_all(joined)
                fresh = polygons_of(shapely.difference(old, mask)) if len(old) else old
                self._erase_lines(joined, mask)
            else:
                fresh = polygons_of(shapely.union_all(np.concatenate([old, joined]))) if len(old) else joined
            self._regions = np.concatenate([self._regions[~touched], fresh])
        self._wet, self._wet_erases = [], False
        self._lines = np.concatenate([self._lines, *self._wet_lines])
        self._wet_lines = []

    def _erase_lines(self, eraser: Objects, mask: shapely.Geometry) -> None:
        touched = _near(self._lines, eraser)
        if not touched.any():
            return
        self.spend(self._lines[touched])
        cut = shapely.get_parts(shapely.difference(self._lines[touched], mask))
        keep = (shapely.get_type_id(cut) == LINE) & ~shapely.is_empty(cut)
        self._lines = np.concatenate([self._lines[~touched], cut[keep]])


def _near(held: Objects, new: Objects) -> Bools:
    """Which of `held` have a box that meets the box of all `new`."""
    x0, y0, x1, y1 = shapely.total_bounds(new)
    b = shapely.bounds(held).reshape(-1, 4)
    return (b[:, 0] <= x1) & (b[:, 2] >= x0) & (b[:, 1] <= y1) & (b[:, 3] >= y0)
