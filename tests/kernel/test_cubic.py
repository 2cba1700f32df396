"""The four cubic B-splines of a cell beside scipy's."""

import numpy as np
import pytest
from scipy.interpolate import BSpline

from engine.kernel.cubic import cubic_slopes, six_cubic


@pytest.mark.parametrize("u", [0.0, 0.2, 0.5, 0.9, 1.0])
def test_values_and_slopes_are_those_of_scipy(u):
    each = [BSpline.basis_element(np.arange(-3, 2) + k, extrapolate=False) for k in range(4)]  # the k-th begins k later
    held = np.array([np.nan_to_num(one(u)) for one in each])
    slopes = np.array([np.nan_to_num(one.derivative()(u)) for one in each])
    assert np.array(six_cubic(u)) / 6 == pytest.approx(held, abs=1e-15)
    assert cubic_slopes(u) == pytest.approx(slopes, abs=1e-15)
