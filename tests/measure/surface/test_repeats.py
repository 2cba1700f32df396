"""Readings of one place that contradict each other are told, and the skin is no surer than half their difference."""

import numpy as np
import pytest

from engine.measure import Readings
from engine.measure.surface import fit_readings
from tests.measure.surface.skins import gourd, grid

X, THETA = grid(4, 116, 16, 24)


def fitted(x, theta, radius, sigma=0.0, **more):
    return fit_readings(
        Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=np.full(len(x), sigma)), step_mm=4.0, **more
    )


def twice(apart=0.0, noise=0.02, **more):
    """Every place twice, the second time so much higher."""
    x, theta = np.tile(X, 2), np.tile(THETA, 2)
    radius = gourd(x, theta) + np.repeat([0.0, apart], len(X)) + np.random.default_rng(2).normal(0, noise, len(x))
    return fitted(x, theta, radius, **more)


def told_of(got):
    return [f for f in got.findings if f.code == "repeats-differ"]


def test_a_skin_read_twice_a_millimetre_apart():
    got = twice(1.0)
    (told,) = told_of(got)
    assert told.severity.value == "warning" and "differ by up to 1.0" in told.message and told.advice
    assert told.where.x_mm in X and any(abs(told.where.angle_deg - np.degrees(THETA)) < 1e-6)
    assert got.sigma_mm.min() == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(("noise", "last"), [(0.0, 2 * np.pi), (0.02, 2 * np.pi), (0.02, 2 * np.pi - 1e-9)])
def test_a_zero_that_moves_through_a_turn_shows_between_0_and_360_degrees(noise, last):
    x, theta = np.concatenate([X, np.unique(X)]), np.concatenate([THETA, np.full(16, last)])
    drift = 0.4 * theta / (2 * np.pi)
    radius = gourd(x, theta) + drift + np.random.default_rng(2).normal(0, noise, len(x))
    got = fitted(x, theta, radius)
    (told,) = told_of(got)
    assert told.where.angle_deg == 0 and "differ by up to 0.4" in told.message
    assert got.sigma_mm.min() > 0.18


@pytest.mark.parametrize("noise", [0.0, 0.02, 0.2])
def test_repeats_that_agree_as_well_as_their_neighbours_do_are_not_told(noise):
    assert not told_of(twice(noise=noise))


def test_a_spread_that_was_stated_is_no_contradiction():
    assert told_of(twice(0.2, sigma=0.02)) and not told_of(twice(0.2, sigma=0.2))


def test_a_few_slips_among_repeats_are_outliers_and_no_contradiction():
    x, theta = np.tile(X, 2), np.tile(THETA, 2)
    radius = gourd(x, theta) + np.random.default_rng(2).normal(0, 0.02, len(x))
    radius[::97] += 3.0
    got = fitted(x, theta, radius)
    assert not told_of(got) and not got.used[::97].any() and np.median(got.sigma_mm) < 0.05


def test_readings_that_were_moved_a_little_are_one_place_where_they_were_meant_to_be():
    x, theta = np.tile(X, 2), np.tile(THETA, 2)
    radius = gourd(x, theta) + np.repeat([0.0, 1.0], len(X))
    moved = x + np.random.default_rng(2).normal(0, 0.01, len(x))
    meant = Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=0 * x)
    assert told_of(fitted(moved, theta, radius, laid_out=meant))
    assert not told_of(fitted(moved, theta, radius))
