"""Bows of straight lines in closed form on bars, cones and a ball; what counts as one straight line."""

from math import radians

import numpy as np
import pytest

from engine.artwork import Drawing
from engine.blank import Cone, Cylinder
from engine.kernel.ragged import Ragged
from engine.layout import Eye, Placement, Projection, bows, lay_out, sight, straight_lines
from engine.layout.straight import STRAIGHT_MM
from tests.blank.skins import SKINS
from tests.blank.test_published import Spheroid

BAR = Cylinder(diameter_mm=40, length_mm=90)


def lines(*runs, rings=()):
    return Drawing(
        width_mm=60, height_mm=60, lines=Ragged.of([np.array(r, float) for r in runs]), rings=Ragged.of(list(rings))
    )


def judged(skin, drawing, *, projection=Projection.EQUIDISTANT, x_mm=45.0, angle_deg=30.0, eye=None):
    where = Placement(x_mm=x_mm, angle_deg=angle_deg, projection=projection)
    seen = sight(skin, Placement(x_mm=x_mm, angle_deg=angle_deg, projection=Projection.FROM_VIEW, eye=eye))
    return bows(drawing, lay_out(skin, where, drawing), seen)


def test_a_slanting_line_on_a_bar_bows_as_the_sine_does():
    """u = k v is laid as a helix; seen square to the axis it is (rho sin(u / rho), v), and the chord is straight."""
    found = judged(BAR, lines([[-15, -30], [15, 30]], [[0, -20], [0, 20]], [[-14, 3], [14, 3]]))
    t = np.linspace(-1, 1, 200_001)
    a, b = 20 * np.sin(15 / 20), 30.0
    bow = np.abs(20 * np.sin(15 * t / 20) * b - a * 30 * t).max() / np.hypot(a, b)
    assert found.length_mm[0] == pytest.approx(2 * np.hypot(a, b), abs=1e-9)
    assert found.bow_mm[0] == pytest.approx(bow, rel=2e-3)
    assert found.bow_mm[1:] == pytest.approx([0, 0], abs=1e-9) and found.centred.all()
    assert abs(found.x_mm[0] - 45) > 5 and abs(found.theta_rad[0] - radians(30)) > 0.1


def test_a_level_line_on_a_cone_bows_as_the_ellipse_that_is_seen():
    """Square to a cone's skin, the circle around the axis is an ellipse: bow = rho (1 - cos) sin(half angle)."""
    skin = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60)
    found = judged(skin, lines([[-12, 0], [12, 0]]), x_mm=30.0)
    slope = np.arctan(10 / 60)
    assert found.bow_mm[0] == pytest.approx(25 * (1 - np.cos(12 / 25)) * np.sin(slope), rel=1e-9)
    assert found.length_mm[0] == pytest.approx(50 * np.sin(12 / 25), rel=1e-9)


def test_a_great_circle_looks_straight_from_above_it_and_a_parallel_does_not():
    """A parallel of a ball at latitude phi, seen square to the skin at its own middle."""
    skin = Spheroid(c=25.0, a=25.0, x_range_mm=(-25, 25))
    equator = judged(skin, lines([[-15, 0], [15, 0]]), x_mm=0.0)
    assert equator.bow_mm[0] == pytest.approx(0, abs=1e-9)
    phi = np.arcsin(10 / 25)
    parallel = judged(skin, lines([[-15, 0], [15, 0]]), x_mm=10.0)
    turn = 15 / (25 * np.cos(phi))
    assert parallel.bow_mm[0] == pytest.approx(25 * np.cos(phi) * (1 - np.cos(turn)) * np.sin(phi), rel=1e-9)


@pytest.mark.parametrize("name", ["ovoid", "grid"])
@pytest.mark.parametrize("eye", [None, Eye(x_mm=60.0, angle_deg=15.0, distance_mm=300.0)])
def test_what_is_laid_from_view_looks_straight_from_there(name, eye):
    skin = SKINS[name]
    middle = sum(skin.x_range_mm) / 2
    drawing = lines([[-9, -9], [9, 7]], [[-8, 6], [9, -2]])
    layout = lay_out(skin, Placement(x_mm=middle, projection=Projection.FROM_VIEW, eye=eye))
    found = bows(drawing, layout, layout)
    assert len(found.bow_mm) == 2 and found.bow_mm.max() < 1e-8
    other = judged(skin, drawing, x_mm=middle, angle_deg=0.0, eye=eye)
    assert other.bow_mm.max() > 0.05


def test_a_line_that_goes_out_of_sight_is_looked_at_straight_on():
    """A slanting line three quarters round a bar: seen at its own middle, as far as 78 degrees to each side."""
    found = judged(BAR, lines([[-20, -10], [74, 37]]))
    half = np.arccos(0.2)
    sampled = 32 * half * 20 / 94 // 1 / 32 * 94  # the last place that is shown on each side, of 33
    a, b = 20 * np.sin(sampled / 20), sampled / 2
    t = np.linspace(-1, 1, 2001)
    bow = np.abs(20 * np.sin(sampled * t / 20) * b - a * sampled * t / 2).max() / np.hypot(a, b)
    assert not found.centred[0]
    assert found.length_mm[0] == pytest.approx(2 * np.hypot(a, b), rel=1e-9)
    assert found.bow_mm[0] == pytest.approx(bow, rel=5e-3)


def test_what_is_seen_end_on_or_not_laid_is_left_out():
    found = judged(BAR, lines([[0, -60], [0, 20]], [[-10, 2], [-10, 22]]))
    assert len(found.bow_mm) == 1 and found.length_mm[0] == pytest.approx(20)
    slanting = Eye(x_mm=45 + 120 / np.tan(radians(12.7)), angle_deg=30.0, distance_mm=140.0)
    found = judged(BAR, lines([[0, -10], [0, 10]], [[-6, 0], [6, 0]]), eye=slanting)
    assert len(found.bow_mm) == 1 and found.length_mm[0] == pytest.approx(12, rel=0.02)


def test_a_run_of_points_on_one_line_is_one_line_and_a_curve_is_none():
    traced = np.stack([np.linspace(0, 30, 400), 0.4 * np.linspace(0, 30, 400)], axis=1)
    traced += 0.3 * STRAIGHT_MM * np.random.default_rng(1).uniform(-1, 1, traced.shape)
    t = np.linspace(0, 2 * np.pi, 400)
    circle = 25 * np.stack([np.cos(t), np.sin(t)], axis=1)
    circle[-1] = circle[0]
    box = np.array([[0.0, 0], [20, 0], [20, 12], [0, 12], [0, 0]])
    ends = straight_lines(lines(traced, [[0, 0], [9, 0], [18, 0.01], [2, 0.0]], rings=[circle, box]))
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    assert length[0] == pytest.approx(30 * np.hypot(1, 0.4), abs=0.1)
    assert length[1:] == pytest.approx([20, 20, 18, 16, 12, 12], abs=0.02)
    assert len(straight_lines(lines())) == 0
