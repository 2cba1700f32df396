"""How dark the sheet should look, place by place: the field that tone styles draw.

Darkness is the share of light that is not to come back: 0 the bare skin, 1 nothing but cut. It is 1 - Y with Y the
relative luminance in linear light; stored greys are decoded first (sRGB, IEC 61966-2-1:1999, 8 bits). A drawing has no
greys: there the share of each cell that its rings cover stands in.
"""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bytes8, Floats, Ints, frozen_floats, locked
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged

__all__ = ["LIGHTEST", "Darkness", "linear"]

LIGHTEST = 0.5 / 255.0  # less darkness than half a grey level of a picture is bare skin

BEND, SLOPE = 0.04045, 12.92  # IEC 61966-2-1: below the bend the curve is a straight line
OFFSET, POWER = 0.055, 2.4
NET = 33  # places a side of the net that stands for the whole picture
MOST_CELLS = 16_000_000  # of a drawing laid down as a raster: 4,000 on a side
EDGE_CELLS = 1e-6  # rounding at the picture's very edge is not beside it


def linear(encoded: Floats) -> Floats:
    """Linear light, 0 to 1, of sRGB values, 0 to 1."""
    return np.where(encoded <= BEND, encoded / SLOPE, ((encoded + OFFSET) / (1.0 + OFFSET)) ** POWER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Darkness:
    """A grid of darkness on the sheet.

    cells : (rows, columns) float32, 0 to 1, row 0 on top. to_cells : (2, 3) from sheet mm (u, v, 1) to (column, row),
    whole numbers at the cells' corners: (0, 0) is the outer corner of the first cell.
    """

    cells: NDArray[np.float32]
    to_cells: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "cells", locked(np.asarray(self.cells, np.float32)))
        object.__setattr__(self, "to_cells", frozen_floats(self.to_cells))
        if self.cells.ndim != 2 or not self.cells.size or self.to_cells.shape != (2, 3):
            raise ValueError(f"cells {self.cells.shape} and a map {self.to_cells.shape} are no field of darkness")

    @classmethod
    def of_greys(cls, grey: Bytes8, pitch_mm: tuple[float, float]) -> "Darkness":
        """Of sRGB greys (rows, columns), the picture's centre at (0, 0); pitch_mm : of a pixel, across and down."""
        rows, columns = grey.shape
        dark = (1.0 - linear(np.arange(256) / 255.0)).astype(np.float32)
        to_cells = np.array([[1.0 / pitch_mm[0], 0.0, columns / 2], [0.0, -1.0 / pitch_mm[1], rows / 2]])
        return cls(cells=np.take(dark, grey), to_cells=to_cells)

    @classmethod
    def of_rings(cls, rings: Ragged, step_mm: float) -> "Darkness":
        """Of filled regions, bounded by closed rings (exteriors counter-clockwise, holes clockwise), one ring at least:
        each cell is as dark as the share of it that they cover. step_mm : a cell's side, more on very large art.
        """
        low, high = rings.points.min(axis=0), rings.points.max(axis=0)
        side = max(step_mm, float(np.sqrt(np.prod(np.maximum(high - low, step_mm)) / MOST_CELLS)))
        columns, rows = np.maximum(np.ceil((high - low) / side - EDGE_CELLS), 1).astype(np.int64).tolist()
        to_cells = np.array([[1.0 / side, 0.0, -low[0] / side], [0.0, -1.0 / side, rows + low[1] / side]])
        gained = np.zeros((rows, columns + 1))
        _gain(rings.points @ to_cells[:, :2].T + to_cells[:, 2], rings.offsets, gained)
        covered = np.clip(np.round(np.cumsum(gained, axis=1)[:, :-1], 9), 0.0, 1.0)  # nothing is nothing
        return cls(cells=covered.astype(np.float32), to_cells=to_cells)

    @property
    def corners(self) -> Floats:
        """(4, 2) sheet mm of the outer corners: of the first cell, then on along the top row, and round."""
        rows, columns = self.cells.shape
        return self._places(np.array([[0.0, 0.0], [columns, 0.0], [columns, rows], [0.0, rows]]))

    @property
    def net(self) -> Floats:
        """(n, 2) sheet mm of an even net of places over the picture, its corners among them."""
        rows, columns = self.cells.shape
        down, across = np.meshgrid(np.linspace(0, rows, NET), np.linspace(0, columns, NET), indexing="ij")
        return self._places(np.stack([across.ravel(), down.ravel()], axis=1))

    @property
    def cell_mm(self) -> tuple[float, float]:
        """Sides of a cell on the sheet, across and down."""
        inverse = np.linalg.inv(self.to_cells[:, :2])
        return float(np.hypot(*inverse[:, 0])), float(np.hypot(*inverse[:, 1]))

    def _places(self, cells: Floats) -> Floats:
        back = np.asarray(np.linalg.inv(self.to_cells[:, :2]), np.float64)
        return (cells - self.to_cells[:, 2]) @ back.T

    def at(self, uv_mm: Floats) -> Floats:
        """(n,) darkness at sheet points (n, 2), linear between the cells' middles; 0 beside the picture."""
        found = np.zeros(len(uv_mm))
        _bilinear(self.cells, self.to_cells, np.asarray(uv_mm, np.float64), found)
        return found

    def moved(self, affine: Floats) -> "Darkness":
        """The field moved with its sheet: a place p (2,) goes to affine @ p; affine (2, 2)."""
        turned: Floats = self.to_cells[:, :2] @ np.linalg.inv(affine)
        return Darkness(cells=self.cells, to_cells=np.column_stack([turned, self.to_cells[:, 2]]))

    def coarser(self, side_mm: float) -> "Darkness":
        """The field in cells of at most `side_mm`, or its own where they are larger: each the mean of what it covers.

        Whole cells fit the picture exactly, so a new cell may cover parts of old ones.
        """
        rows, columns = (
            min(max(1, ceil(count * own_mm / side_mm - EDGE_CELLS)), count)
            for count, own_mm in zip(self.cells.shape, self.cell_mm[::-1], strict=True)
        )
        if (rows, columns) == self.cells.shape:
            return self
        sums = np.zeros((rows, columns))
        _gather(self.cells, sums)
        share = np.array([[columns / self.cells.shape[1]], [rows / self.cells.shape[0]]])
        return Darkness(cells=(sums * share.prod()).astype(np.float32), to_cells=self.to_cells * share)


@compiled
def _gather(cells: NDArray[np.float32], sums: Floats) -> None:
    """Add up the cells in equal parts of their grid, as many as sums has; a cell on an edge is shared by its parts."""
    count, wide = cells.shape
    rows, columns = sums.shape
    line = np.zeros(columns)
    for i in range(count):
        line[:] = 0.0
        for j in range(wide):
            left = j * columns // wide
            beyond = ((j + 1) * columns - (left + 1) * wide) / columns  # of the cell, in the next part
            if beyond > 0.0:
                line[left] += cells[i, j] * (1.0 - beyond)
                line[left + 1] += cells[i, j] * beyond
            else:
                line[left] += cells[i, j]
        up = i * rows // count
        beyond = ((i + 1) * rows - (up + 1) * count) / rows
        sums[up] += line * (1.0 - max(beyond, 0.0))
        if beyond > 0.0:
            sums[up + 1] += line * beyond


@compiled
def _bilinear(cells: NDArray[np.float32], to_cells: Floats, uv: Floats, found: Floats) -> None:
    """Fill found (n,) at the places uv (n, 2); places beside the picture are left as they are."""
    rows, columns = cells.shape
    for i in range(len(uv)):
        x = to_cells[0, 0] * uv[i, 0] + to_cells[0, 1] * uv[i, 1] + to_cells[0, 2]
        y = to_cells[1, 0] * uv[i, 0] + to_cells[1, 1] * uv[i, 1] + to_cells[1, 2]
        if -EDGE_CELLS < x < columns + EDGE_CELLS and -EDGE_CELLS < y < rows + EDGE_CELLS:
            x, y = min(max(x - 0.5, 0.0), columns - 1.0), min(max(y - 0.5, 0.0), rows - 1.0)
            left, up = int(x), int(y)
            right, down = min(left + 1, columns - 1), min(up + 1, rows - 1)
            x, y = x - left, y - up
            above = cells[up, left] * (1.0 - x) + cells[up, right] * x
            below = cells[down, left] * (1.0 - x) + cells[down, right] * x
            found[i] = above * (1.0 - y) + below * y


@compiled
def _gain(points: Floats, offsets: Ints, gained: Floats) -> None:
    """Add to gained (rows, columns + 1) what each edge of the rings adds to the cells to its right: summed along a row,
    it is the share of every cell that is covered. points : (n, 2) column and row, inside the raster.

    An edge that goes up through a part of a row adds that part, split between its own cell and the next as the edge
    leaves it. Source: area to the right of a segment, elementary geometry (derived here).
    """
    rows, columns = gained.shape[0], gained.shape[1] - 1
    for ring in range(len(offsets) - 1):
        for k in range(offsets[ring], offsets[ring + 1] - 1):
            xa, ya, xb, yb = points[k, 0], points[k, 1], points[k + 1, 0], points[k + 1, 1]
            sign = 1.0
            if ya > yb:
                xa, ya, xb, yb, sign = xb, yb, xa, ya, -1.0
            first, last = max(floor(ya), 0), min(ceil(yb), rows)
            for row in range(first, last):
                top, bottom = max(ya, float(row)), min(yb, row + 1.0)
                if bottom <= top:
                    continue
                slope = (xb - xa) / (yb - ya)
                x0, x1 = xa + (top - ya) * slope, xa + (bottom - ya) * slope
                part = sign * (bottom - top)
                left, right = min(x0, x1), max(x0, x1)
                c0 = min(max(floor(left), 0), columns - 1)
                c1 = min(max(ceil(right) - 1, c0), columns - 1)
                for c in range(c0, c1 + 1):
                    low, high = max(left, float(c)), min(right, c + 1.0)
                    within = part if c0 == c1 else part * (high - low) / (right - left)
                    middle = 0.5 * (low + high) - c
                    gained[row, c] += within * (1.0 - middle)
                    gained[row, c + 1] += within * middle
