"""How dark the sheet should look, place by place: the field that tone styles draw.

Darkness is the share of light that is not to come back: 0 the bare skin, 1 nothing but cut. It is 1 - Y with Y the
relative luminance in linear light; stored greys are decoded first (sRGB, IEC 61966-2-1:1999, 8 bits).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from engine.kernel.arrays import Bytes8, Floats, frozen_floats, locked

__all__ = ["Darkness", "linear"]

BEND, SLOPE = 0.04045, 12.92  # IEC 61966-2-1: below the bend the curve is a straight line
OFFSET, POWER = 0.055, 2.4
NET = 33  # places a side of the net that stands for the whole picture
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
        column, row = self.to_cells[:, :2] @ uv_mm.T + self.to_cells[:, 2:]
        rows, columns = self.cells.shape
        inside = (column > -EDGE_CELLS) & (column < columns + EDGE_CELLS) & (row > -EDGE_CELLS)
        inside &= row < rows + EDGE_CELLS
        found: Floats = map_coordinates(
            self.cells, [row - 0.5, column - 0.5], output=np.float64, order=1, mode="nearest", prefilter=False
        )
        return np.where(inside, found, 0.0)

    def moved(self, affine: Floats) -> "Darkness":
        """The field moved with its sheet: a place p (2,) goes to affine @ p; affine (2, 2)."""
        turned: Floats = self.to_cells[:, :2] @ np.linalg.inv(affine)
        return Darkness(cells=self.cells, to_cells=np.column_stack([turned, self.to_cells[:, 2]]))
