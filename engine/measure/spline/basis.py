"""A tensor of uniform cubic B-splines over a cylinder: along x on an interval, around theta periodic.

Coefficients are (nx, nt), flattened row by row: nt = 1 is a body of revolution. Unlike `engine.blank.spline`, which
goes through every reading, this is what readings are fitted with, so it gives its own rows.
Source: C. de Boor, A Practical Guide to Splines, uniform cubic B-splines.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD

__all__ = ["Basis"]

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
        i, along, j, around = self._parts(x_mm, theta_rad)
        index = (i[:, None] + _FOUR)[:, :, None] * self.nt + j[:, None, :]
        return index.reshape(len(i), -1), (along[:, :, None] * around[:, None, :]).reshape(len(i), -1)

    def matrix(self, x_mm: Floats, theta_rad: Floats, weight: Floats) -> sparse.csr_matrix:
        """(k, size) the rows at k places, each times its weight."""
        index, value = self.rows(x_mm, theta_rad)
        starts = np.arange(len(index) + 1) * index.shape[1]
        return sparse.csr_matrix(((value * weight[:, None]).ravel(), index.ravel(), starts), (len(index), self.size))

    def at(self, coefficients: Floats, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats, Floats]:
        """(value, d/dx, d/dtheta), each (k,), of a surface with coefficients (nx, nt)."""
        per_x = (self.nx - 3) / (self.x1_mm - self.x0_mm)
        held = np.ascontiguousarray(coefficients, np.float64)
        x, theta = np.ascontiguousarray(x_mm, np.float64), np.ascontiguousarray(theta_rad, np.float64)
        value, along, around = _surface(held, self.x0_mm, per_x, x, theta)
        return value, along, around

    def _parts(self, x_mm: Floats, theta_rad: Floats) -> tuple[Ints, Floats, Ints, Floats]:
        """First index and values (k, 4) along; indices and values around."""
        cells = self.nx - 3
        per_x = cells / (self.x1_mm - self.x0_mm)
        u = np.clip((np.asarray(x_mm, np.float64) - self.x0_mm) * per_x, 0.0, cells)
        i = np.minimum(u.astype(np.int64), cells - 1)
        along = _cubic(u - i)
        if self.nt == 1:
            return i, along, np.zeros((len(i), 1), np.int64), np.ones((len(i), 1))
        per_theta = self.nt / TURN_RAD
        v = np.mod(np.asarray(theta_rad, np.float64), TURN_RAD) * per_theta
        j = np.minimum(v.astype(np.int64), self.nt - 1)
        return i, along, (j[:, None] + _FOUR) % self.nt, _cubic(v - j)


def _cubic(share: Floats) -> Floats:
    """Values (k, 4) of the four splines at shares (k,) of a cell."""
    f = share[:, None]
    g = 1.0 - f
    return np.concatenate([g**3, 3 * f**3 - 6 * f**2 + 4, 3 * g**3 - 6 * g**2 + 4, f**3], axis=1) / 6


@compiled
def _values(f: float) -> tuple[float, float, float, float]:
    """What the four splines of a cell are at a share of it."""
    g = 1.0 - f
    return g**3 / 6, (3 * f**3 - 6 * f**2 + 4) / 6, (3 * g**3 - 6 * g**2 + 4) / 6, f**3 / 6


@compiled
def _slopes(f: float) -> tuple[float, float, float, float]:
    """How they rise there, a cell."""
    g = 1.0 - f
    return -(g**2) / 2, 1.5 * f**2 - 2 * f, -1.5 * g**2 + 2 * g, f**2 / 2


@compiled
def _surface(coefficients: Floats, x0: float, per_x: float, x: Floats, theta: Floats) -> tuple[Floats, Floats, Floats]:
    """Value and both slopes at each place: sixteen products each, of which whole arrays would hold copies."""
    nx, nt = coefficients.shape
    cells, per_theta = nx - 3, nt / TURN_RAD
    value, along, around = np.zeros(len(x)), np.zeros(len(x)), np.zeros(len(x))
    for k in range(len(x)):
        u = min(max((x[k] - x0) * per_x, 0.0), cells)
        i = min(int(u), cells - 1)
        rise, tilt = _values(u - i), _slopes(u - i)
        j, wide, swell, turn = 0, 1, (1.0, 0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 0.0)
        if nt > 1:
            v = (theta[k] % TURN_RAD) * per_theta
            j, wide = min(int(v), nt - 1), 4
            swell, turn = _values(v - j), _slopes(v - j)
        for a in range(4):
            across, turned = 0.0, 0.0
            for c in range(wide):
                held = coefficients[i + a, (j + c) % nt]
                across += held * swell[c]
                turned += held * turn[c]
            value[k] += across * rise[a]
            along[k] += across * tilt[a] * per_x
            around[k] += turned * rise[a] * per_theta
    return value, along, around
