"""Depths along the normal: points put at a known depth are found there; a field says what its cells do one by one."""

import numpy as np
import pytest

from engine.blank import sample
from engine.proof.carve_pieces import Frame
from engine.proof.normal_depth import depth_at, depth_field
from tests.blank.skins import SKINS


def stretch(name):
    low, high = SKINS[name].x_range_mm
    return sample(SKINS[name], low + 0.25 * (high - low), low + 0.75 * (high - low), 1e-5)


@pytest.mark.parametrize("name", SKINS)
def test_a_point_put_at_a_depth_under_its_foot_is_found_at_that_depth(name):
    skin = stretch(name)
    rng = np.random.default_rng(2)
    x = rng.uniform(skin.x_range_mm[0] + 2, skin.x_range_mm[1] - 2, 200)
    theta, depth = rng.uniform(-4, 4, 200), rng.uniform(0.01, 1.0, 200)
    r = skin.radius(x, theta)
    along, around = skin.slopes(x, theta)
    length = np.sqrt(1 + along**2 + (around / r) ** 2)
    up, side = r - depth / length, depth * around / r / length
    found = depth_at(skin, x + depth * along / length, theta + np.arctan2(side, up), np.hypot(up, side))
    assert found == pytest.approx(depth, abs=1e-4)


@pytest.mark.parametrize("name", SKINS)
@pytest.mark.parametrize("deep_mm", [0.05, 0.3, 2.0])
def test_every_cell_of_a_field_is_as_deep_as_the_point_at_its_place(name, deep_mm):
    skin = stretch(name)
    low, high = skin.x_range_mm
    frame = Frame(low + 2.0, (high - low - 4.0) / 59, -2.0, 4.0 / 80, False)
    x, theta = frame.x0 + frame.dx * np.arange(60.0), frame.th0 + frame.dth * np.arange(81.0)
    before = skin.on_grid(x, theta).astype(np.float32)
    after = (before - np.random.default_rng(3).uniform(0, deep_mm, before.shape)).astype(np.float32)
    after[::7] = before[::7]
    field = depth_field(skin, frame, before, after)
    there = [v.ravel() for v in np.meshgrid(x, theta, indexing="ij")]
    one_by_one = depth_at(skin, *there, after.astype(np.float64).ravel()).reshape(field.shape)
    one_by_one[::7] = 0.0
    assert field == pytest.approx(one_by_one, abs=3e-5)
