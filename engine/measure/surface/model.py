"""What scattered readings are fitted with: a round part and a deviation, each smooth, in one linear model.

The coefficients of one spline along stand together: first the round part's, then the deviation's nt around. The round
part has a smoothing of its own, since readings all around share in it.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats, Ints
from engine.measure.spline import RIDGE, Basis, penalties
from engine.measure.surface.blocks import Blocks

__all__ = ["ROWS", "Model"]

ROWS = 3  # rows of coefficients a block
TIE = 1e-4  # of the mean weight, on the deviation alone: parts it from the round part, far below what readings say


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """basis : its nx a whole number of blocks. round_, along, around, tie : the penalties as blocks."""

    basis: Basis
    round_: Blocks
    along: Blocks
    around: Blocks
    tie: Blocks

    @staticmethod
    def on(basis: Basis) -> "Model":
        """The model whose deviation lies on a basis."""
        width, size = basis.nt + 1, ROWS * (basis.nt + 1)
        line = Basis(x0_mm=basis.x0_mm, x1_mm=basis.x1_mm, nx=basis.nx, nt=1)
        along, around = penalties(basis)
        first = np.zeros(width)
        first[0] = 1.0
        rest = sparse.diags_array(1.0 - first).tocsr()[:, 1:]  # (width, nt): where the deviation stands in a row
        wide = sparse.kron(sparse.identity(basis.nx), rest)
        tie = sparse.identity(basis.nx * width) * RIDGE + wide @ wide.T * TIE
        return Model(
            basis=basis,
            round_=Blocks.of(sparse.csr_matrix(sparse.kron(penalties(line)[0], sparse.diags_array(first))), size),
            along=Blocks.of(sparse.csr_matrix(wide @ along @ wide.T), size),
            around=Blocks.of(sparse.csr_matrix(wide @ around @ wide.T), size),
            tie=Blocks.of(sparse.csr_matrix(tie), size),
        )

    @property
    def width(self) -> int:
        """Coefficients of one row."""
        return self.basis.nt + 1

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return self.basis.nx * self.width

    def rows(self, x_mm: Floats, theta_rad: Floats) -> tuple[Ints, Floats]:
        """Indices and values (k, 20) of the coefficients that k places feel."""
        index, value = self.basis.rows(x_mm, theta_rad)
        line = Basis(x0_mm=self.basis.x0_mm, x1_mm=self.basis.x1_mm, nx=self.basis.nx, nt=1)
        row, along = line.rows(x_mm, theta_rad)
        i, j = np.divmod(index, self.basis.nt)
        return np.hstack([row * self.width, i * self.width + 1 + j]), np.hstack([along, value])

    def matrix(self, x_mm: Floats, theta_rad: Floats) -> sparse.csr_matrix:
        """(k, size) the rows at k places."""
        index, value = self.rows(x_mm, theta_rad)
        starts = np.arange(len(index) + 1) * index.shape[1]
        return sparse.csr_matrix((value.ravel(), index.ravel(), starts), (len(index), self.size))

    def grid(self, coefficients: Floats, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(m, n) the value at every one of m stations and n angles."""
        along, around = self.sides(x_mm, theta_rad)
        return np.asarray(along @ coefficients.reshape(self.basis.nx, self.width) @ around.T)

    def sides(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(m, nx) and (n, width): the grid's rows are the products of one of each."""
        line = Basis(x0_mm=self.basis.x0_mm, x1_mm=self.basis.x1_mm, nx=self.basis.nx, nt=1)
        along = line.matrix(x_mm, np.zeros(len(x_mm)), np.ones(len(x_mm))).toarray()
        inside = np.full(len(theta_rad), 0.5 * (self.basis.x0_mm + self.basis.x1_mm))
        full = self.basis.matrix(inside, theta_rad, np.ones(len(theta_rad))).toarray()
        around = full.reshape(len(theta_rad), self.basis.nx, self.basis.nt).sum(1)
        return along, np.hstack([np.ones((len(theta_rad), 1)), around])
