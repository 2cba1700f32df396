"""Solving the penalised normal equations, and choosing how smooth: banded Cholesky factors and a search by decades.

Coefficients follow one another around, so a normal matrix has at most four rings of them beside its diagonal.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from engine.kernel.arrays import Floats
from engine.measure.spline.basis import Basis

__all__ = ["RIDGE", "Factor", "Smoothing", "covariance", "pattern_search"]

RIDGE = 1e-9  # of the mean weight: keeps places that nobody saw from running away
LEAST_GAIN = 0.998  # a step of the search has to better the score by this factor
RANGE = (-9.0, 7.0)  # decades of either weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothing:
    """Weights of the two penalties, as shares of the mean weight of a coefficient's readings; how they were chosen."""

    along: float
    around: float
    how: str = "given"


class Factor:
    """A banded Cholesky factor of `normal` + smoothing.

    normal, along, around : (size, size) sparse, from `Basis.matrix` and `penalties`. unit : the mean weight that the
    smoothing is a share of.
    """

    def __init__(
        self,
        basis: Basis,
        normal: sparse.csr_matrix,
        along: sparse.csr_matrix,
        around: sparse.csr_matrix,
        smoothing: Smoothing,
        unit: float,
    ) -> None:
        whole = normal + (smoothing.along * along + smoothing.around * around) * unit
        band = _banded(whole + RIDGE * unit * sparse.identity(basis.size), min(4 * basis.nt, basis.size) - 1)
        self._factor = linalg.cholesky_banded(band, overwrite_ab=True, check_finite=False)

    def solve(self, right: Floats) -> Floats:
        """(size,) or (size, k): the solution for each right side."""
        return np.asarray(linalg.cho_solve_banded((self._factor, False), right, check_finite=False))


def covariance(matrix: Floats) -> Floats:
    """The inverse of a symmetric positive definite (n, n) matrix, in full."""
    factor = linalg.cholesky(matrix, lower=True, check_finite=False)
    inverse = np.tril(linalg.lapack.dpotri(factor, lower=1)[0])
    return np.asarray(inverse + np.tril(inverse, -1).T)


def pattern_search(
    score: Callable[[float, float], float], start: tuple[float, float], widths: tuple[float, ...], *, round_body: bool
) -> tuple[float, float]:
    """The (along, around) decades of least score: steps of each width in turn, along first, while they better it."""
    seen: dict[tuple[float, float], float] = {}

    def known(place: tuple[float, float]) -> float:
        if place not in seen:
            seen[place] = score(*place)
        return seen[place]

    at = start
    steps = ((1.0, 0.0), (-1.0, 0.0)) if round_body else ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))
    for width in widths:
        moved = True
        while moved:
            moved = False
            for a, b in steps:
                to = (at[0] + a * width, at[1] + b * width)
                while all(RANGE[0] <= v <= RANGE[1] for v in to) and known(to) < LEAST_GAIN * known(at):
                    at, moved = to, True
                    to = (at[0] + a * width, at[1] + b * width)
    return at


def _banded(matrix: sparse.csr_matrix, above: int) -> Floats:
    """(above + 1, n) the upper band, as LAPACK holds it."""
    upper = sparse.coo_matrix(sparse.triu(matrix))
    band = np.zeros((above + 1, upper.shape[0]))
    band[above + upper.row - upper.col, upper.col] = upper.data
    return band
