"""The tip over a skin against closed forms and against an independent referee."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.blank import Cylinder, sample
from engine.kernel.errors import ReachError
from engine.kernel.values import Tool
from engine.toolpath.dense import dense_contact
from engine.toolpath.follow import tip_radius
from engine.toolpath.tip import tip_over
from tests.toolpath.analytic import GENTLE, ROUGH, SPHERE, Formula, ball, cone, deepest_under, flat, slope_skin


def stand(skin, tool, x, depth, theta=0.3):
    x = np.atleast_1d(np.asarray(x, float))
    return tip_radius(skin, tool, x, np.full(len(x), theta), np.full(len(x), float(depth)))


def searched(skin, tool, x, depth, theta=0.3):
    """The dense search alone."""
    sampled = sample(skin, *skin.x_range_mm)
    form = (tool.flat_mm, tool.round_mm, tool.flank, tool.outer_mm)
    step = tip_over(sampled, tool).step_mm
    return dense_contact(sampled.coefficients, sampled.frame, float(x), theta, float(depth), form, step)


def test_a_ball_of_1_rolls_over_a_sphere_of_25():
    """Closed form sqrt((25 + 1)**2 - x**2) - 1: the ball's centre runs on the parallel sphere."""
    printed = [25, 24.5147016443, 23, 20.2367605816, 15.6132477258]
    np.testing.assert_allclose(stand(SPHERE, ball(1.0), [0, 5, 10, 15, 20], 0.0), printed, atol=2e-5)
    for x, z in zip([0, 5, 10, 15, 20], printed, strict=True):
        assert searched(SPHERE, ball(1.0), x, 0.0) == pytest.approx(z, abs=2e-6)


@pytest.mark.parametrize(("x", "depth"), [(10, 0.3), (15, 0.3), (15, 1.2)])
def test_a_ball_sunk_in_a_sphere_runs_on_the_parallel_sphere(x, depth):
    want = math.sqrt((26 - depth) ** 2 - x**2) - 1
    assert stand(SPHERE, ball(1.0), x, depth)[0] == pytest.approx(want, abs=2e-5)


@pytest.mark.parametrize(("radius", "slope", "raised"), [(1.5, 30, 0.2320508076), (1.5, 45, 0.6213203436)])
def test_a_ball_stands_higher_on_a_slope(radius, slope, raised):
    """R (1 / cos - 1) over the skin; sunk by d along the normal, (R - d) / cos - R."""
    skin = slope_skin(slope)
    here = skin.radius(np.array([10.0]), np.array([0.0]))[0]
    assert stand(skin, ball(radius), 10, 0.0)[0] - here == pytest.approx(raised, abs=1e-8)
    sunk = (radius - 0.1) / math.cos(math.radians(slope)) - radius
    assert stand(skin, ball(radius), 10, 0.1)[0] - here == pytest.approx(sunk, abs=1e-8)


@pytest.mark.parametrize(("radius", "slope", "raised"), [(0.5, 20, 0.0320888862), (3.0, 60, 3.0)])
def test_small_and_large_balls_likewise(radius, slope, raised):
    skin = slope_skin(slope)
    here = skin.radius(np.array([10.0]), np.array([0.0]))[0]
    assert stand(skin, ball(radius), 10, 0.0)[0] - here == pytest.approx(raised, abs=1e-8)


@pytest.mark.parametrize(("diameter", "depth", "tool"), [(20, 0.5, cone(90, 0.0)), (40, 0.3, cone(60, 0.0))])
def test_a_sharp_cone_on_a_cylinder_sinks_by_the_depth(diameter, depth, tool):
    skin = Cylinder(diameter_mm=diameter, length_mm=20)
    assert stand(skin, tool, 10, depth)[0] == pytest.approx(diameter / 2 - depth, abs=1e-9)


@pytest.mark.parametrize("width", [2.0, 1.0, 0.2])
def test_a_flat_end_on_a_cylinder_touches_in_the_middle(width):
    skin = Cylinder(diameter_mm=40, length_mm=20)
    assert stand(skin, flat(width), 10, 0.2)[0] == pytest.approx(19.8, abs=1e-9)


def test_a_flat_end_stands_on_its_rim_in_a_hollow():
    """r = 20 + (x - 10)**2 / 60: the corners of a flat of 2 mm are raised by the sagitta 1 / 60."""
    hollow = Formula(lambda x, t: 20 + (x - 10) ** 2 / 60 + 0 * t, (0.0, 20.0), is_round=True)
    assert stand(hollow, flat(2.0), 10, 0.0)[0] == pytest.approx(20 + 1 / 60, abs=1e-6)
    assert searched(hollow, flat(2.0), 10, 0.0) == pytest.approx(20 + 1 / 60, abs=1e-6)


@pytest.mark.parametrize(("x", "depth"), [(0, 0.2), (10, 0.2), (18, 0.2)])
def test_the_rim_of_a_cone_s_flat_cuts_first_on_a_sphere(x, depth):
    want = math.sqrt((25 - depth) ** 2 - max(x - 0.05, 0) ** 2)
    assert stand(SPHERE, cone(60), x, depth)[0] == pytest.approx(want, abs=2e-5)


@pytest.mark.parametrize(("slope", "angle"), [(20, 60), (50, 60), (65, 60), (40, 120)])
def test_flank_and_shank_are_felt_where_the_skin_rises_faster_than_the_flank(slope, angle):
    """On a straight slope the contact is the rim of the flat, or of the shank where slope + half angle pass 90 deg."""
    skin, depth, outer = slope_skin(slope, r_start=12.0), 0.2, 3.175 / 2
    t, lean = math.tan(math.radians(slope)), math.cos(math.radians(slope))
    offset = 12 + 10 * t - depth / lean
    rim = offset + 0.05 * t
    shank = offset + outer * t - (outer - 0.05) / math.tan(math.radians(angle / 2))
    assert stand(skin, cone(angle), 10, depth)[0] == pytest.approx(max(rim, shank), abs=2e-5)


@pytest.mark.parametrize("tool", [cone(60), cone(60, 0.0), cone(140, 0.2), ball(0.25), ball(1.5), flat(1.0)])
def test_on_a_gentle_skin_the_deepest_place_is_the_asked_depth_to_a_micrometre(tool):
    rng = np.random.default_rng(3)
    x, theta = rng.uniform(5, 35, 4), rng.uniform(-3, 3, 4)
    z = tip_radius(GENTLE, tool, x, theta, np.full(4, 0.2))
    deepest = np.array([deepest_under(GENTLE, tool, *place) for place in zip(x, theta, z, strict=True)])
    np.testing.assert_allclose(deepest, 0.2, atol=1e-3)


@pytest.mark.parametrize("tool", [cone(60), cone(140, 0.2), ball(1.0), flat(1.0)])
def test_on_a_rough_skin_no_place_is_deeper_than_asked(tool):
    rng = np.random.default_rng(5)
    x, theta = rng.uniform(3, 13, 3), rng.uniform(-3, 3, 3)
    z = tip_radius(ROUGH, tool, x, theta, np.full(3, 0.2))
    deepest = np.array([deepest_under(ROUGH, tool, *place) for place in zip(x, theta, z, strict=True)])
    assert (deepest < 0.202).all() and (deepest > 0.197).all()


@pytest.mark.parametrize("tool", [ball(1.0), ball(1.5), flat(3.0), cone(140, 0.2)])
def test_wherever_a_second_contact_is_higher_it_is_looked_for(tool):
    """On a rough skin the nearest contact alone would cut up to 0.4 mm too deep; the certificate knows where."""
    skin = sample(ROUGH, *ROUGH.x_range_mm, 1e-5)
    tip = tip_over(skin, tool)
    rng = np.random.default_rng(8)
    x, theta = rng.uniform(2, 14, 150), rng.uniform(-3, 3, 150)
    z, _ = tip.radius(x, theta, np.full(150, 0.2))
    form = (tool.flat_mm, tool.round_mm, tool.flank, tool.outer_mm)
    places = zip(x, theta, strict=True)
    whole = [dense_contact(skin.coefficients, skin.frame, a, b, 0.2, form, tip.step_mm) for a, b in places]
    assert (z - whole).min() > -5e-4
    blind = replace(tip, risk=np.zeros((1, 1), np.bool_))
    assert (blind.radius(x, theta, np.full(150, 0.2))[0] - whole).min() < -5e-3


def test_a_turn_of_the_blank_changes_nothing():
    x = np.linspace(5, 35, 7)
    theta = np.linspace(-3, 3, 7)
    here = tip_radius(GENTLE, Tool(), x, theta, np.full(7, 0.2))
    np.testing.assert_allclose(tip_radius(GENTLE, Tool(), x, theta + 6 * math.pi, np.full(7, 0.2)), here, atol=1e-9)


def test_deeper_than_the_blank_is_refused():
    with pytest.raises(ReachError, match="finds no skin"):
        tip_radius(Cylinder(diameter_mm=2, length_mm=20), cone(60), np.array([10.0]), np.zeros(1), np.array([1.5]))


def test_no_places_no_radii():
    assert len(tip_radius(SPHERE, Tool(), np.zeros(0), np.zeros(0), np.zeros(0))) == 0
