"""A tensor of uniform cubic B-splines over a cylinder: along x on an interval, around theta periodic.

Coefficients are (nx, nt), flattened row by row: nt = 1 is a body of revolution. Unlike `engine.blank.spline`, which
goes through every reading, this is what readings are fitted with, so it gives its own rows.
Source: C. de Boor, A Practical Guide to Splines, uniform cubic B-splines.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats, Ints

__all__ = ["Basis"]

_TURN = 2.0 * np.pi
_FOUR = np.arange(4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """nx >= 4 splines along [x0_mm, x1_mm]; nt >= 4 around, or 1. Outside the interval the end's value holds."""

    x0_mm: float
    x1_mm: float
    nx: int
    nt: int

    def __post_init__(self) -> None:
        if not (self.x0_mm < self.x1_mm and self.nx >= 4 and (self.nt == 1 or self.nt >= 4)):
            raise ValueError(f"no basis of {self.nx} by {self.nt} from {self.x0_mm} to {self.x1_mm}")

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return self.nx * self.nt

    def rows(self, x_mm: Floats, theta_rad: Floats) -> tuple[Ints, Floats]:
        """Indices and values (k, 16), or (k, 4) with nt = 1, of the splines that are not 0 at k places."""
        i, along, _, j, around, _ = self._parts(x_mm, theta_rad)
        index = (i[:, None] + _FOUR)[:, :, None] * self.nt + j[:, None, :]
        return index.reshape(len(i), -1), (along[:, :, None] * around[:, None, :]).reshape(len(i), -1)

    def matrix(self, x_mm: Floats, theta_rad: Floats, weight: Floats) -> sparse.csr_matrix:
        """(k, size) the rows at k places, each times its weight."""
        index, value = self.rows(x_mm, theta_rad)
        starts = np.arange(len(index) + 1) * index.shape[1]
        return sparse.csr_matrix(((value * weight[:, None]).ravel(), index.ravel(), starts), (len(index), self.size))

    def at(self, coefficients: Floats, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats, Floats]:
        """(value, d/dx, d/dtheta), each (k,), of a surface with coefficients (nx, nt)."""
        i, along, along_slope, j, around, around_slope = self._parts(x_mm, theta_rad)
        held = coefficients[(i[:, None] + _FOUR)[:, :, None], j[:, None, :]]
        across = np.einsum("kab,kb->ka", held, around)
        turned = np.einsum("kab,kb->ka", held, around_slope)
        return (across * along).sum(1), (across * along_slope).sum(1), (turned * along).sum(1)

    def _parts(self, x_mm: Floats, theta_rad: Floats) -> tuple[Ints, Floats, Floats, Ints, Floats, Floats]:
        """First index, values (k, 4) and slopes (k, 4) along; indices, values and slopes around."""
        cells = self.nx - 3
        per_x = cells / (self.x1_mm - self.x0_mm)
        u = np.clip((np.asarray(x_mm, np.float64) - self.x0_mm) * per_x, 0.0, cells)
        i = np.minimum(u.astype(np.int64), cells - 1)
        along, along_slope = _cubic(u - i)
        if self.nt == 1:
            one = np.ones((len(i), 1))
            return i, along, along_slope * per_x, np.zeros((len(i), 1), np.int64), one, 0.0 * one
        per_theta = self.nt / _TURN
        v = np.mod(np.asarray(theta_rad, np.float64), _TURN) * per_theta
        j = np.minimum(v.astype(np.int64), self.nt - 1)
        around, around_slope = _cubic(v - j)
        return i, along, along_slope * per_x, (j[:, None] + _FOUR) % self.nt, around, around_slope * per_theta


def _cubic(share: Floats) -> tuple[Floats, Floats]:
    """Values and slopes (k, 4) of the four splines at shares (k,) of a cell."""
    f = share[:, None]
    g = 1.0 - f
    values = np.concatenate([g**3, 3 * f**3 - 6 * f**2 + 4, 3 * g**3 - 6 * g**2 + 4, f**3], axis=1) / 6
    slopes = np.concatenate([-3 * g**2, 9 * f**2 - 12 * f, -9 * g**2 + 12 * g, 3 * f**2], axis=1) / 6
    return values, slopes
