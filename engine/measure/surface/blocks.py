"""Symmetric matrices whose rows reach no further than the next block: their solutions and the near part of the inverse.

Three rows of tensor coefficients make a block, since a cubic spline reaches three knots. The blocks of the inverse on
and beside the diagonal are all that a variance at one place needs, and cost no more than the factor itself.
Source: K. Takahashi, J. Fagan, M.-S. Chin, "Formation of a sparse bus impedance matrix", 8th PICA conference (1973),
in block form (from memory; checked against the dense inverse in the tests).
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats
from engine.measure.spline import covariance

__all__ = ["Blocks", "Inverse"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """diagonal : (c, b, b). below : (c - 1, b, b), the block under each diagonal one."""

    diagonal: Floats
    below: Floats

    @staticmethod
    def of(matrix: sparse.csr_matrix, size: int) -> "Blocks":
        """A symmetric sparse (c * size, c * size) matrix in blocks; what lies further off must be 0."""
        entries = sparse.coo_matrix(matrix)
        row, column = np.divmod(entries.row, size), np.divmod(entries.col, size)
        count = matrix.shape[0] // size
        diagonal, below = np.zeros((count, size, size)), np.zeros((max(count - 1, 0), size, size))
        on, under = row[0] == column[0], row[0] == column[0] + 1
        diagonal[row[0][on], row[1][on], column[1][on]] = entries.data[on]
        below[column[0][under], row[1][under], column[1][under]] = entries.data[under]
        return Blocks(diagonal=diagonal, below=below)

    def plus(self, *more: tuple[float, "Blocks"]) -> "Blocks":
        """The sum with others, each times a factor."""
        diagonal, below = self.diagonal.copy(), self.below.copy()
        for factor, other in more:
            diagonal += factor * other.diagonal
            below += factor * other.below
        return Blocks(diagonal=diagonal, below=below)

    def trace_with(self, other: "Blocks") -> float:
        """The trace of the product of both."""
        return float((self.diagonal * other.diagonal).sum() + 2.0 * (self.below * other.below).sum())


class Inverse:
    """A factor of a positive definite `Blocks`: `solve`, and `near`, the blocks of its inverse."""

    def __init__(self, matrix: Blocks) -> None:
        self._below = matrix.below
        self._inverse = [covariance(matrix.diagonal[0])]
        self._carry: list[Floats] = []
        for under, diagonal in zip(matrix.below, matrix.diagonal[1:], strict=True):
            self._carry.append(under @ self._inverse[-1])
            self._inverse.append(covariance(diagonal - self._carry[-1] @ under.T))

    def solve(self, right: Floats) -> Floats:
        """(n,) the solution for a right side (n,)."""
        parts = list(right.reshape(len(self._inverse), -1))
        for k, carry in enumerate(self._carry):
            parts[k + 1] = parts[k + 1] - carry @ parts[k]
        out = [self._inverse[-1] @ parts[-1]]
        for k in range(len(self._carry) - 1, -1, -1):
            out.append(self._inverse[k] @ parts[k] - self._carry[k].T @ out[-1])
        return np.concatenate(out[::-1])

    def near(self) -> Blocks:
        """The inverse's own diagonal blocks and those below them."""
        diagonal, below = [self._inverse[-1]], []
        for k in range(len(self._carry) - 1, -1, -1):
            below.append(-diagonal[-1] @ self._carry[k])
            diagonal.append(self._inverse[k] - self._carry[k].T @ below[-1])
        size = len(diagonal[0])
        return Blocks(
            diagonal=np.array(diagonal[::-1]),
            below=np.array(below[::-1]).reshape(-1, size, size),
        )
