"""The scatter of residuals against a general-purpose library, and with wild ones among them."""

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from engine.kernel.robust import robust_sigma


def test_it_is_the_scaled_median_absolute_deviation():
    residual = np.random.default_rng(1).normal(0, 0.3, (4, 20_001))
    expected = median_abs_deviation(residual, axis=-1, scale="normal", center=lambda values, axis: 0.0)
    assert robust_sigma(residual) == pytest.approx(expected, rel=2e-6)
    assert float(robust_sigma(residual[0])) == pytest.approx(0.3, rel=0.02)


def test_one_wild_residual_in_twenty_hardly_moves_it():
    residual = np.random.default_rng(2).normal(0, 0.02, 2000)
    residual[::20] += 5.0
    assert float(robust_sigma(residual)) == pytest.approx(0.02, rel=0.12)
