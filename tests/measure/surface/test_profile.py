"""The robust round profile that a fit departs from."""

import numpy as np
import pytest

from engine.blank.ovoid import Ovoid
from engine.measure.surface.profile import HUBER, Profile, huber


def test_an_egg_with_one_reading_in_five_wild_is_followed_to_near_its_ends():
    egg = Ovoid(length_mm=56, breadth_mm=43.5, shift_mm=1.9, quarter_diameter_mm=36)
    rng = np.random.default_rng(4)
    x = np.repeat(np.linspace(0.5, 55.5, 40), 12)
    radius = egg.radius(x, np.zeros(1)) + rng.normal(0, 0.02, len(x))
    wild = rng.random(len(x)) < 0.2
    radius = np.maximum(radius + np.where(wild, rng.uniform(1, 6, len(x)), 0), 0.5)
    got = Profile.through(x, radius, 0.0, 56.0, 24)
    at = np.linspace(1, 55, 100)
    assert got.radius(at) == pytest.approx(egg.radius(at, np.zeros(1)), abs=0.12)


def test_a_profile_that_runs_out_keeps_above_the_axis():
    x = np.repeat(np.linspace(10, 40, 10), 6)
    got = Profile.through(x, np.sqrt(25.0**2 - (x - 20) ** 2), 0.0, 80.0, 12)
    beyond = got.radius(np.array([60.0, 80.0]))
    assert (beyond > 0).all() and (beyond < 1).all()


def test_weights_fall_as_one_over_the_distance():
    assert huber(np.array([0.0, 1.0, -HUBER, 2 * HUBER, -10 * HUBER])) == pytest.approx([1, 1, 1, 0.5, 0.1])
