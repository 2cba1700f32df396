"""The difference picture's codes, and the correlation of light and dark, worked out by hand on small fields."""

import numpy as np
import pytest

from engine.kernel.values import Wanted
from engine.proof.carve_field import Carved
from engine.proof.difference import Match, difference

X, THETA = np.arange(40, 50, 0.1), np.arange(-0.25, 0.25, 0.005)


def wanted(depth):
    return Wanted(x_mm=X, theta_rad=THETA, depth_mm=depth, feed_mm_min=240, plunge_mm_min=80)


def carved(depth):
    """A carved field whose cells are those of the wanted one, a turn on."""
    theta = THETA + 2 * np.pi
    return Carved(x_mm=X, theta_rad=theta, depth_mm=depth, whole=False, note="", removed_mm3=0.0)


def test_carved_depths_are_read_at_the_cells_and_nothing_is_known_beside_the_window():
    x, theta = np.arange(42, 46, 0.05), np.arange(-0.1, 0.1, 0.0025) + 2 * np.pi
    depth = x[:, None] - 42 + 0 * theta
    field = Carved(x_mm=x, theta_rad=theta, depth_mm=depth, whole=False, note="", removed_mm3=0.0)
    made = difference(wanted(np.zeros((len(X), len(THETA)))), field, 20.0).made_mm
    inside = (X >= 42) & (X < 45.95)
    assert made[inside][:, 50] == pytest.approx(X[inside] - 42, abs=0.026)
    assert not made[~inside].any() and not made[:, np.abs(THETA) > 0.105].any()


def test_every_cell_says_what_became_of_it():
    asked = np.zeros((len(X), len(THETA)))
    asked[:50] = 0.2
    made = np.zeros(asked.shape)
    made[:, :30] = 0.2
    made[:, 30:40] = 0.004  # a scratch: less than 5 um
    codes = difference(wanted(asked), carved(made), 20.0).match
    assert (codes[:50, :30] == Match.MADE).all() and (codes[:50, 30:] == Match.LEFT).all()
    assert (codes[50:, :30] == Match.BESIDE).all() and (codes[50:, 30:] == Match.BARE).all()


def test_tones_agree_as_their_means_do():
    ramp = np.linspace(0, 0.2, len(X))[:, None] + np.zeros(len(THETA))

    def tone(asked, made):
        return difference(wanted(asked), carved(made), 20.0).tone

    assert tone(ramp, ramp) == pytest.approx(1.0, abs=1e-6)
    assert tone(ramp, 0.5 * ramp) == pytest.approx(1.0, abs=1e-6)
    assert tone(ramp, 0.2 - ramp) == pytest.approx(-1.0, abs=1e-6)
    dots = np.where(np.random.default_rng(1).random(ramp.shape) < ramp / 0.2, 0.2, 0.0)
    assert 0.9 < tone(ramp, dots) < 1.0
    assert tone(np.full_like(ramp, 0.2), ramp) is None
