"""A smooth round profile through scattered readings, whatever is wild among them: the fit's point of departure.

Fitted to the squared radius, which stays smooth where a rounded end meets the axis.
Source of the weights: P. J. Huber, "Robust estimation of a location parameter", Ann. Math. Stat. 35 (1964) 73-101;
of the smoothing: P. Craven, G. Wahba, "Smoothing noisy data with spline functions", Numer. Math. 31 (1979) 377-403.
"""

from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse

from engine.kernel.arrays import Floats
from engine.kernel.robust import robust_sigma
from engine.measure.spline import RIDGE, Basis, covariance, penalties

__all__ = ["Profile", "huber"]

HUBER = 1.345  # standard deviations: 95 % as good as least squares where the noise is normal
DECADES = np.arange(-6.0, 6.5, 1.0)
ROUNDS = 6
MOST_KNOTS = 24  # the fit that follows adds what finer knots would tell
LEAST_SHARE = 1e-3  # of the greatest radius, where the fitted square falls to 0 or below


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """The square of the radius as a spline along x. inverse : of its equations, for readings of variance 1."""

    basis: Basis
    coefficients: Floats
    inverse: Floats
    least_mm: float

    @staticmethod
    def through(x_mm: Floats, radius_mm: Floats, x0_mm: float, x1_mm: float, knots: int) -> "Profile":
        """A robust profile of k readings on [x0_mm, x1_mm]."""
        basis = Basis(x0_mm=x0_mm, x1_mm=x1_mm, nx=max(4, min(knots, MOST_KNOTS)), nt=1)
        rows = basis.matrix(x_mm, np.zeros(len(x_mm)), np.ones(len(x_mm)))
        along = penalties(basis)[0].toarray()
        middle = float(np.median(radius_mm))
        square = radius_mm**2
        unit = 0.25 / np.maximum(radius_mm, 0.1 * middle) ** 2  # a reading's square is 2 r times as far off
        weight = unit
        coefficients, inverse = np.zeros(basis.nx), np.identity(basis.nx)
        for _ in range(ROUNDS):
            half = sparse.csr_matrix(sparse.diags_array(np.sqrt(weight)) @ rows)
            normal, right = (half.T @ half).toarray(), half.T @ (np.sqrt(weight) * square)
            coefficients, inverse = _smoothest(normal, right, along, float((weight * square**2).sum()), len(x_mm))
            away = (square - rows @ coefficients) * np.sqrt(unit)
            weight = unit * huber(away / max(float(robust_sigma(away)), 1e-9 * middle))
        return Profile(basis=basis, coefficients=coefficients, inverse=inverse, least_mm=LEAST_SHARE * middle)

    def radius(self, x_mm: Floats) -> Floats:
        """(m,) the radius, never below a small share of the usual one."""
        square = self.basis.at(self.coefficients[:, None], x_mm, np.zeros(len(x_mm)))[0]
        return np.asarray(np.sqrt(np.maximum(square, self.least_mm**2)))

    def variance(self, x_mm: Floats) -> Floats:
        """(m,) of the radius, in units of one reading's."""
        rows = self.basis.matrix(x_mm, np.zeros(len(x_mm)), np.ones(len(x_mm))).toarray()
        return np.asarray(((rows @ self.inverse) * rows).sum(axis=1) / (2.0 * self.radius(x_mm)) ** 2)


def huber(deviate: Floats) -> Floats:
    """Weights of readings that many standard deviations off: 1 near, falling as 1 / distance."""
    return np.asarray(HUBER / np.maximum(np.abs(deviate), HUBER))


def _smoothest(normal: Floats, right: Floats, along: Floats, total: float, count: int) -> tuple[Floats, Floats]:
    """The coefficients of least generalised cross-validation score over decades of smoothing, and their covariance."""
    best, found, at = np.inf, np.zeros(len(right)), normal
    unit = float(np.trace(normal)) / len(right)
    for decade in DECADES:
        matrix = normal + unit * (10.0**decade * along + RIDGE * np.identity(len(right)))
        factor = linalg.cho_factor(matrix, check_finite=False)
        c = linalg.cho_solve(factor, right, check_finite=False)
        free = count - float(np.trace(linalg.cho_solve(factor, normal, check_finite=False)))
        score = max(total - 2.0 * float(c @ right) + float(c @ (normal @ c)), 0.0) / free**2 if free > 0 else np.inf
        if score < best:
            best, found, at = score, c, matrix
    return np.asarray(found), covariance(at)
