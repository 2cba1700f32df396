"""What makes a fitted surface smooth: third differences of its coefficients, along and around.

Source: P. H. C. Eilers, B. D. Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11 (1996)
89-121. Third differences leave quadratics alone, so a paraboloid of revolution in r squared is not pulled about.
"""

from collections.abc import Sequence

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats
from engine.measure.spline.basis import Basis

__all__ = ["around_penalty", "penalties"]

_THIRD = (-1.0, 3.0, -3.0, 1.0)


def penalties(basis: Basis) -> tuple[sparse.csr_matrix, sparse.csr_matrix]:
    """(along, around): matrices (size, size) whose quadratic forms are the sums of squared third differences.

    `around` is 0 on a body of revolution.
    """
    nx, nt = basis.nx, basis.nt
    steps = sparse.diags(_THIRD, (0, 1, 2, 3), shape=(nx - 3, nx)) if nx > 3 else sparse.csr_matrix((0, nx))
    along = sparse.csr_matrix(sparse.kron(steps.T @ steps, sparse.identity(nt)))
    if nt == 1:
        return along, sparse.csr_matrix((nx, nx))
    return along, around_penalty(basis, _THIRD)


def around_penalty(basis: Basis, taps: Sequence[float] | Floats) -> sparse.csr_matrix:
    """(size, size) whose quadratic form is the sum of squares of a filter with `taps` run round each row, nt > 1."""
    place = np.arange(basis.nt)
    turns = sparse.csr_matrix((basis.nt, basis.nt))
    for k, v in enumerate(taps):
        here = (np.full(basis.nt, v), (place, (place + k) % basis.nt))
        turns = turns + sparse.csr_matrix(here, shape=(basis.nt, basis.nt))
    return sparse.csr_matrix(sparse.kron(sparse.identity(basis.nx), turns.T @ turns))
