"""The usual spacing of readings, however they were taken, and the distance to the nearest one."""

import numpy as np
import pytest

from engine.measure import Readings
from engine.measure.surface.spacing import Spacing
from tests.measure.surface.skins import grid

RNG = np.random.default_rng(9)


def readings(x, theta, radius=30.0):
    return Readings(x_mm=x, theta_rad=theta, radius_mm=np.full(len(x), radius), sigma_mm=np.zeros(len(x)))


def test_a_grid_with_shaky_stations_and_missing_cells():
    x, theta = grid(0, 95, 20, 24)
    x, keep = x + RNG.uniform(-0.01, 0.01, 480), RNG.random(480) > 0.4
    got = Spacing.of(readings(x[keep], theta[keep]))
    assert got.along_mm == pytest.approx(5, abs=0.05) and got.around_rad == pytest.approx(2 * np.pi / 24)


def test_stations_with_angles_of_their_own():
    x = np.repeat(np.arange(20) * 5.0, 30)
    got = Spacing.of(readings(x, RNG.uniform(0, 2 * np.pi, 600)))
    assert got.along_mm == pytest.approx(5) and got.around_rad == pytest.approx(2 * np.pi / 30)


def test_lines_along_with_stations_of_their_own():
    theta = np.repeat(np.arange(12) * np.pi / 6, 40)
    got = Spacing.of(readings(RNG.uniform(0, 100, 480), theta))
    assert got.around_rad == pytest.approx(np.pi / 6) and got.along_mm == pytest.approx(100 / 40, rel=0.05)


@pytest.mark.parametrize("count", [300, 20_000])
def test_strewn_readings_share_the_skin(count):
    got = Spacing.of(readings(RNG.uniform(0, 100, count), RNG.uniform(0, 2 * np.pi, count)))
    side = np.sqrt(100 * 2 * np.pi * 30 / count)
    assert got.along_mm == pytest.approx(side, rel=0.02) and got.around_rad * 30 == pytest.approx(side, rel=0.02)


def test_distance_counts_spacings_and_goes_round_the_seam():
    x, theta = grid(0, 95, 20, 24)
    keep = ~((np.abs(x - 50) < 12) & ((theta < 0.6) | (theta > 5.7)))  # 5 stations by 5 angles, 0 in their middle
    all_of_them = readings(x[keep], theta[keep])
    spacing = Spacing.of(all_of_them)
    got = spacing.distance(all_of_them, np.array([50.0, 20.0]), np.array([0.0, np.pi, 2 * np.pi / 24]))
    assert got[0] == pytest.approx([3, 0, 2]) and got[1] == pytest.approx(0, abs=1e-9)
