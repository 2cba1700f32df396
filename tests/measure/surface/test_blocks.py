"""Block matrices: solutions and the near part of the inverse against the dense ones."""

import numpy as np
import pytest
from scipy import sparse

from engine.measure.surface.blocks import Blocks, Inverse

RNG = np.random.default_rng(7)
SIZE = 4


def dense(count):
    wide = RNG.normal(size=(count * SIZE, count * SIZE))
    block = np.arange(count * SIZE) // SIZE
    matrix = np.where(np.abs(block[:, None] - block) <= 1, wide + wide.T, 0.0)
    return matrix + 40 * np.identity(count * SIZE)


@pytest.mark.parametrize("count", [1, 2, 5])
def test_solutions_and_near_inverse_are_the_dense_ones(count):
    matrix = dense(count)
    inverse = Inverse(Blocks.of(sparse.csr_matrix(matrix), SIZE))
    right = RNG.normal(size=count * SIZE)
    assert inverse.solve(right) == pytest.approx(np.linalg.solve(matrix, right), abs=1e-12)
    full = np.linalg.inv(matrix).reshape(count, SIZE, count, SIZE)
    near = inverse.near()
    for k in range(count):
        assert near.diagonal[k] == pytest.approx(full[k, :, k], abs=1e-12)
    for k in range(count - 1):
        assert near.below[k] == pytest.approx(full[k + 1, :, k], abs=1e-12)


def test_sums_and_traces_are_the_dense_ones():
    one, other = dense(3), dense(3)
    a, b = (Blocks.of(sparse.csr_matrix(m), SIZE) for m in (one, other))
    assert a.plus((2.5, b)).diagonal[1] == pytest.approx((one + 2.5 * other)[4:8, 4:8])
    assert a.trace_with(b) == pytest.approx(np.trace(one @ other))
