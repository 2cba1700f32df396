"""Where a stroke's depth grows along its way, the tip sinks no faster than it may plunge."""

import numpy as np
import pytest

from engine.blank import Cone, Cylinder, Ovoid
from engine.toolpath.runs import Runs
from engine.toolpath.sinking import sinking_feeds

SKINS = [Cylinder(diameter_mm=40, length_mm=90), Ovoid(length_mm=60, breadth_mm=44, shift_mm=2, quarter_diameter_mm=35)]


def runs_along(skin, depths, step_mm, *, feed=240.0, plunge=80.0):
    low, high = skin.x_range_mm
    x = 0.5 * (low + high) + step_mm * np.arange(len(depths))
    theta = 0.01 * np.arange(len(depths))
    r = skin.radius(x, theta) - np.asarray(depths)
    return Runs(
        x_mm=x,
        theta_rad=theta,
        r_mm=r,
        run_offsets=np.array([0, len(depths)]),
        stroke_offsets=np.array([0, 1]),
        reversible=np.array([True]),
        feed_mm_min=np.array([feed]),
        plunge_mm_min=np.array([plunge]),
        art=np.array([0]),
    )


@pytest.mark.parametrize("skin", SKINS, ids=lambda s: type(s).__name__)
@pytest.mark.parametrize("slope", [0.1, 0.3, 0.5, 2.0])
def test_the_way_in_is_never_faster_than_the_plunge(skin, slope):
    """Closed form on a cylinder: the way a mm is sqrt(1 + slope^2 + turn^2), the way in is slope."""
    runs = runs_along(skin, slope * 0.2 * np.arange(6), 0.2)
    feed = sinking_feeds(runs, skin)
    way = np.sqrt(np.diff(runs.x_mm) ** 2 + np.diff(runs.r_mm) ** 2 + (runs.r_mm[1:] * 0.01) ** 2)
    inwards = feed[1:] * slope * 0.2 / way
    assert inwards.max() <= 80.0 * 1.02
    if slope >= 0.5:
        assert inwards.min() >= 80.0 * 0.9  # and no slower than it must
    assert feed[0] == 240.0


@pytest.mark.parametrize("falls_mm", [0.0, 0.001, 0.009])
def test_skin_that_rises_is_sunk_into_on_a_level_way(falls_mm):
    """A cone of 45 degrees: each 0.1 mm along, the normal's way in is (0.1 + fall) cos 45."""
    skin = Cone(diameter_mm=20, end_diameter_mm=120, length_mm=50)
    x = 20.0 + 0.1 * np.arange(6)
    depths = 0.02 + skin.radius(x, 0.0 * x) - skin.radius(x[:1], np.zeros(1)) + falls_mm * np.arange(6)
    runs = runs_along(skin, depths, 0.1)
    runs = Runs(
        **{name: getattr(runs, name) for name in Runs.__slots__}
        | {"x_mm": x, "theta_rad": np.zeros(6), "r_mm": skin.radius(x, 0.0 * x) - depths}
    )
    way_in = (0.1 + falls_mm) * np.sqrt(0.5)
    np.testing.assert_allclose(sinking_feeds(runs, skin)[1:], 80.0 * np.hypot(0.1, falls_mm) / way_in, rtol=1e-6)


def test_what_rises_or_keeps_its_depth_keeps_its_feed():
    skin = SKINS[1]
    assert (sinking_feeds(runs_along(skin, np.full(6, 0.2), 0.5), skin) == 240.0).all()
    assert (sinking_feeds(runs_along(skin, np.linspace(0.5, 0.1, 6), 0.2), skin) == 240.0).all()


def test_the_first_point_of_a_run_is_no_move_along():
    skin = SKINS[0]
    runs = runs_along(skin, [0.1, 0.1, 1.0, 1.0], 0.2)
    two = Runs(
        **{name: getattr(runs, name) for name in Runs.__slots__}
        | {"run_offsets": np.array([0, 2, 4]), "stroke_offsets": np.array([0, 2])}
    )
    assert (sinking_feeds(two, skin) == 240.0).all()
