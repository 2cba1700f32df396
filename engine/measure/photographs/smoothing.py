"""How smooth the skin is to be: the weights of both penalties that foretell photographs left out of the fit best."""

import math
from dataclasses import replace

import numpy as np
from scipy import linalg, sparse

from engine.kernel.arrays import Bools, Floats, Ints
from engine.measure.photographs.fit import Linear, Problem, State, linearised
from engine.measure.spline import Factor, Smoothing, pattern_search

__all__ = ["smoothed"]

_FOLDS = 6
_MANY = 20  # photographs; with fewer, a pair from opposite sides leaves a gap that nothing foretells
_BLOCK = 8  # edge points left out together where whole photographs cannot be


def smoothed(problem: Problem, state: State, widths: tuple[float, ...]) -> State:
    """The state with smoothing chosen at its contacts; searched by decades in steps of each width in turn."""
    row = linearised(problem, state, settled=False)
    folds = _folds(problem)[row.use]
    parts = [_part(row, folds == k) for k in np.unique(folds)]
    normal, right = sparse.csr_matrix(row.matrix.T @ row.matrix), row.matrix.T @ row.target
    per_mm = float(row.trust.sum())

    def score(along: float, around: float) -> float:
        """Mean squared distance, mm^2, of edges from the skin that was fitted without their photographs; infinite
        where so slight a smoothing leaves a place without them unsettled.
        """
        smoothing = Smoothing(along=10.0**along, around=10.0**around)
        total = 0.0
        for matrix, target, own, pull in parts:
            rest = sparse.csr_matrix(normal - own)
            try:
                factor = Factor(problem.basis, rest, problem.along, problem.around, smoothing, row.unit)
            except linalg.LinAlgError:
                return math.inf
            missed = target - matrix @ factor.solve(right - pull)
            total += float(missed @ missed)
        return total / per_mm

    start = (math.log10(state.smoothing.along), math.log10(state.smoothing.around))
    along, around = pattern_search(score, start, widths, round_body=problem.basis.nt == 1)
    what = "photographs" if problem.points.photos >= 4 else "stretches of the outline"
    foretold = math.sqrt(score(along, around))
    told = f"chosen by leaving {what} out: they are foretold to {1000.0 * foretold:.1f} µm"
    chosen = Smoothing(along=10.0**along, around=10.0**around, how=told)
    return replace(state, smoothing=chosen, foretold_mm=foretold)


def _part(row: Linear, own: Bools) -> tuple[sparse.csr_matrix, Floats, sparse.csr_matrix, Floats]:
    """Rows and targets of one fold, and what they add to the normal equations."""
    matrix = sparse.csr_matrix(row.matrix[own])
    target = row.target[own]
    return matrix, target, sparse.csr_matrix(matrix.T @ matrix), matrix.T @ target


def _folds(problem: Problem) -> Ints:
    """(n,) fold of each edge point. Photographs from opposite sides show the same outline, mirrored but for
    perspective: they would vouch for each other, so they go together.
    """
    points = problem.points
    if points.photos < 4:
        return (points.run // _BLOCK) % _FOLDS
    if points.photos < _MANY:
        return points.photo
    half_turn = np.round(np.mod(np.degrees(points.beta_rad), 180.0), 3) % 180.0
    group = np.unique(half_turn, return_inverse=True)[1]
    return np.asarray((group % min(_FOLDS, int(group.max()) + 1))[points.photo], np.int64)
