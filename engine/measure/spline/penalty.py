"""What makes a fitted surface smooth: third differences of its coefficients, along and around.

Source: P. H. C. Eilers, B. D. Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11 (1996)
89-121. Third differences leave quadratics alone, so a paraboloid of revolution in r squared is not pulled about.
"""

import numpy as np
from scipy import sparse

from engine.measure.spline.basis import Basis

__all__ = ["penalties"]

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
    place = np.arange(nt)
    turns = sparse.csr_matrix((nt, nt))
    for k, v in enumerate(_THIRD):
        turns = turns + sparse.csr_matrix((np.full(nt, v), (place, (place + k) % nt)), shape=(nt, nt))
    return along, sparse.csr_matrix(sparse.kron(sparse.identity(nx), turns.T @ turns))
