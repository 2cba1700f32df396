"""Cubic splines on a rectangle of the sheet, with what the fitting asks of them: values, slopes, inner products.

One space serves every field that is fitted (the place on the skin, the scale, the sheet itself): twice smooth, so that
the tool's path sees no kink.
Source: C. de Boor, A Practical Guide to Splines.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import BSpline, NdBSpline
from scipy.sparse import csr_array, kron

from engine.kernel.arrays import Floats, Ints

__all__ = ["Net"]

DEGREE = 3
NODES = np.polynomial.legendre.leggauss(3)  # a cell: exact for the products of two slopes


@dataclass(frozen=True, kw_only=True, eq=False)
class Net:
    """low_mm, high_mm : (2,) corners of the rectangle. cells : how many along each side."""

    low_mm: Floats
    high_mm: Floats
    cells: tuple[int, int]

    @cached_property
    def knots(self) -> tuple[Floats, Floats]:
        """Of each side, its ends repeated."""
        p, q = (self._even(k) for k in (0, 1))
        return np.pad(p, DEGREE, mode="edge"), np.pad(q, DEGREE, mode="edge")

    @cached_property
    def stations(self) -> tuple[Floats, Floats]:
        """Of each side, as many places as coefficients, at which values fix them (the knots' averages)."""
        p, q = (np.stack([t[k : len(t) - DEGREE - 1 + k] for k in (1, 2, 3)]).mean(axis=0) for t in self.knots)
        return p, q

    @property
    def shape(self) -> tuple[int, int]:
        """Coefficients along each side."""
        return self.cells[0] + DEGREE, self.cells[1] + DEGREE

    @cached_property
    def places(self) -> Floats:
        """(m, 2): the stations' lattice, row by row."""
        return _lattice(*self.stations)

    @cached_property
    def samples(self) -> Floats:
        """(n, 2): where inner products are summed."""
        return _lattice(*(self._gauss(k)[0] for k in (0, 1)))

    @cached_property
    def weights(self) -> Floats:
        """(n,) mm2 of the rectangle that each sample stands for."""
        return np.outer(*(self._gauss(k)[1] for k in (0, 1))).ravel()

    @cached_property
    def values(self) -> csr_array:
        """(n, m): from coefficients to the field at the samples."""
        return self._at_samples(0, 0)

    @cached_property
    def slopes(self) -> tuple[csr_array, csr_array]:
        """(n, m) each: from coefficients to the field's two slopes at the samples."""
        return self._at_samples(1, 0), self._at_samples(0, 1)

    @cached_property
    def inner(self) -> Ints:
        """Which coefficients do not move the field on the rim."""
        lattice: Ints = np.arange(self.shape[0] * self.shape[1]).reshape(self.shape)
        return lattice[1:-1, 1:-1].ravel()

    def through(self, values: Floats) -> Floats:
        """Coefficients (m, k) of the fields with the values (m, k) at `places`."""
        fields: Floats = values.reshape(*self.shape, -1)
        for axis, (t, x) in enumerate(zip(self.knots, self.stations, strict=True)):
            held = BSpline.design_matrix(x, t, DEGREE, extrapolate=True).toarray()
            fields = np.moveaxis(np.tensordot(np.linalg.inv(held), fields, axes=(1, axis)), 0, axis)
        return fields.reshape(len(values), -1)

    def at(self, coefficients: Floats, places: Floats, slope: tuple[int, int] = (0, 0)) -> Floats:
        """(n, k) the fields, or a slope of theirs, at places (n, 2); beyond the rim the outermost cubic goes on."""
        held = NdBSpline(self.knots, coefficients.reshape(*self.shape, -1), DEGREE, extrapolate=True)
        return np.asarray(held(places, nu=slope), np.float64)

    def even_coefficients(self, coefficients: Floats) -> Floats:
        """(cells + 3, cells + 3, k): the same fields over even knots that run on past the rim."""
        fields = coefficients.reshape(*self.shape, -1)
        for axis, (t, x) in enumerate(zip(self.knots, self.stations, strict=True)):
            low, high, cells = self.low_mm[axis], self.high_mm[axis], self.cells[axis]
            even = low + (high - low) / cells * np.arange(-DEGREE, cells + DEGREE + 1)
            here = BSpline.design_matrix(x, t, DEGREE, extrapolate=True).toarray()
            there = BSpline.design_matrix(x, even, DEGREE, extrapolate=True).toarray()
            fields = np.moveaxis(np.tensordot(np.linalg.solve(there, here), fields, axes=(1, axis)), 0, axis)
        return np.ascontiguousarray(fields)

    def _even(self, axis: int) -> Floats:
        return np.linspace(self.low_mm[axis], self.high_mm[axis], self.cells[axis] + 1)

    def _gauss(self, axis: int) -> tuple[Floats, Floats]:
        ends = self._even(axis)
        half = 0.5 * np.diff(ends)[:, None]
        middle = 0.5 * (ends[1:] + ends[:-1])[:, None]
        return (middle + half * NODES[0]).ravel(), (half * NODES[1]).ravel()

    def _at_samples(self, first: int, second: int) -> csr_array:
        one, other = (
            _row(t, self._gauss(axis)[0], nu)
            for axis, (t, nu) in enumerate(zip(self.knots, (first, second), strict=True))
        )
        return csr_array(kron(one, other, format="csr"))


def _row(t: Floats, x: Floats, nu: int) -> csr_array:
    """(len(x), coefficients): values or slopes of the basis."""
    if not nu:
        return csr_array(BSpline.design_matrix(x, t, DEGREE))
    lower = csr_array(BSpline.design_matrix(x, t[1:-1], DEGREE - 1))
    n = len(t) - DEGREE - 1
    pace = DEGREE / (t[DEGREE + 1 : n + DEGREE] - t[1:n])
    rows = np.repeat(np.arange(n - 1), 2)
    columns = np.stack([np.arange(n - 1), np.arange(1, n)], axis=1).ravel()
    steps = csr_array((np.stack([-pace, pace], axis=1).ravel(), (rows, columns)), shape=(n - 1, n))
    return csr_array(lower @ steps)


def _lattice(p: Floats, q: Floats) -> Floats:
    return np.stack(np.meshgrid(p, q, indexing="ij"), axis=-1).reshape(-1, 2)
