"""What a reading is compared with before it is called wild."""

import numpy as np
import pytest

from engine.measure import Readings
from engine.measure.surface.outliers import studentized, tell_outliers, wild
from tests.measure.surface.skins import grid


def test_left_out_residuals_are_those_of_fits_without_the_reading():
    """A straight line by least squares with weights of 1 and 0, done over without each reading."""
    rng = np.random.default_rng(5)
    x = np.linspace(0, 1, 12)
    y = 2 * x + rng.normal(0, 0.1, 12)
    weight = np.where(np.arange(12) == 4, 0.0, 1.0)
    rows = np.stack([np.ones(12), x], axis=1)
    inverse = np.linalg.inv(rows.T @ (weight[:, None] * rows))
    residual = y - rows @ (inverse @ rows.T @ (weight * y))
    variance = np.einsum("ka,ab,kb->k", rows, inverse, rows)
    away, wide = studentized(residual, weight, variance)
    for k in range(12):
        kept = (np.arange(12) != k) & (weight > 0)
        without = np.linalg.inv(rows[kept].T @ rows[kept])
        assert away[k] == pytest.approx(y[k] - rows[k] @ without @ rows[kept].T @ y[kept])
        assert wide[k] == pytest.approx(np.sqrt(1 + rows[k] @ without @ rows[k]))


def test_one_that_stands_alone_is_wild_and_a_rough_patch_is_not():
    x, theta = grid(0, 19, 20, 24)
    places, box = np.stack([x, theta * 24 / (2 * np.pi)], axis=1), np.array([0.0, 24.0])
    deviate = np.random.default_rng(6).normal(size=480)
    patch = (np.abs(x - 10) <= 3) & (np.abs(theta - 3) < 1)
    deviate[patch] *= 8
    deviate[30] = 8.0
    found = wild(deviate, places, box)
    assert found[30] and not found[~patch].sum() > 1
    assert found[patch].sum() <= 3 and (np.abs(deviate[patch]) > 4).sum() > 20  # a few at the patch's edge


def test_the_worst_five_are_named_and_many_are_a_warning():
    x = np.arange(40.0)
    away = np.where(x % 5 == 0, x / 10 + 0.5, 0.0)
    readings = Readings(x_mm=x, theta_rad=-x / 10, radius_mm=x + 10, sigma_mm=0 * x)
    (told,) = tell_outliers(readings, away, x % 5 != 0)
    assert told.message.startswith("8 of 40 readings") and "and 3 more" in told.message
    assert told.message.index("x 35.0") < told.message.index("x 15.0") and "x 10.0" not in told.message
    assert told.severity.value == "warning" and told.where.x_mm == 35
    assert told.where.angle_deg == pytest.approx(np.degrees(2 * np.pi - 3.5))
    assert not tell_outliers(readings, away, x >= 0)
