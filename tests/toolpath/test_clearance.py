"""Heights over the skin: closed forms on a cylinder and a cone, and the law on rough skins against a dense cloud."""

import math

import numpy as np
import pytest
from scipy.spatial import cKDTree

from engine.blank import Cone, Cylinder
from engine.kernel.values import Form, Tool
from engine.toolpath.clearance import highest_mm, hover
from tests.blank.skins import SKINS
from tests.toolpath.analytic import GENTLE, ROUGH, Formula, form_height

TOOLS = (Tool(), Tool(form=Form.BALL, diameter_mm=3.0), Tool(form=Form.FLAT, diameter_mm=2.0))


def least_distance(skin, tool, x, theta, r, reach=4.0, spacing=0.1):
    """From the points of the tool's form to a cloud of skin points, in space. Up to `spacing` too great."""
    xs = np.arange(x - reach, x + reach, spacing)
    xs = xs[(xs >= skin.x_range_mm[0]) & (xs <= skin.x_range_mm[1])]
    wide = min(1.2, reach / r)
    angles = theta + np.linspace(-wide, wide, int(2 * wide * r / spacing))
    far = skin.radius(xs[:, None], angles[None, :])
    cloud = np.stack(np.broadcast_arrays(xs[:, None], far * np.sin(angles - theta), far * np.cos(angles - theta)), -1)
    rho = np.unique(np.concatenate([np.linspace(0, tool.outer_mm, 9), [tool.flat_mm]]))
    phi = np.linspace(0, 2 * np.pi, 25)[:-1]
    q, p = (v.ravel() for v in np.meshgrid(rho, phi))
    form = np.stack([x + q * np.cos(p), q * np.sin(p), r + form_height(tool, q)], 1)
    return cKDTree(cloud.reshape(-1, 3)).query(form)[0].min()


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.form.value)
def test_on_a_cylinder_the_height_is_the_radius_and_the_gap(tool):
    field = hover(Cylinder(diameter_mm=40, length_mm=60), tool, 2.0, (10.0, 50.0))
    assert field.height_mm == pytest.approx(np.full(field.height_mm.shape, 22.0), abs=1e-9)


def test_over_a_slope_the_height_is_at_most_two_cells_of_it_too_great():
    skin = Cone(diameter_mm=30, end_diameter_mm=60, length_mm=60)
    x = np.linspace(10, 50, 200)
    needed = skin.radius(x, 0.0) + 2.0 * math.hypot(1.0, skin.slope) + 0.05 * skin.slope
    over = hover(skin, Tool(), 2.0, (10.0, 50.0)).over_mm((x, 0 * x), (x, 0 * x)) - needed
    assert over.min() >= -1e-3
    assert over.max() <= 2 * 0.5 * skin.slope + 0.3


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.form.value)
@pytest.mark.parametrize(
    "skin", [GENTLE, ROUGH, SKINS["grid"], SKINS["ovoid"]], ids=["gentle", "rough", "grid", "ovoid"]
)
def test_no_part_of_the_tool_is_nearer_than_the_gap(skin, tool):
    low, high = skin.x_range_mm
    span = low + 0.2 * (high - low), low + 0.8 * (high - low)
    field = hover(skin, tool, 1.5, span)
    rng = np.random.default_rng(7)
    x, theta = rng.uniform(*span, 30), rng.uniform(-9, 9, 30)
    r = field.over_mm((x, theta), (x, theta))
    gaps = [least_distance(skin, tool, *place) for place in zip(x, theta, r, strict=True)]
    assert min(gaps) >= 1.5


def test_a_wide_tool_minds_a_ridge_beside_it():
    ridge = Formula(lambda x, t: 20 + 6 * np.exp(-(((x - 20) / 0.8) ** 2)) + 0 * t, (0.0, 40.0), is_round=True)
    wide = Tool(form=Form.FLAT, diameter_mm=6.0)
    field = hover(ridge, wide, 2.0, (5.0, 16.0))
    x, theta = np.array([6.0, 16.0]), np.zeros(2)
    away, beside = field.over_mm((x, theta), (x, theta))
    assert away == pytest.approx(22.0, abs=0.01)
    assert beside > 25
    assert least_distance(ridge, wide, 16.0, 0.0, beside, reach=6.0) >= 2.0


def test_a_way_is_as_high_as_the_highest_place_on_it_in_both_directions_and_any_turn():
    field = hover(GENTLE, Tool(), 2.0, (5.0, 35.0))
    rng = np.random.default_rng(3)
    x, theta = rng.uniform(5, 35, (2, 50)), rng.uniform(-4, 4, (2, 50))
    there = field.over_mm((x[0], theta[0]), (x[1], theta[1]))
    t = np.linspace(0, 1, 300)[:, None]
    xs, thetas = x[0] + t * (x[1] - x[0]), theta[0] + t * (theta[1] - theta[0])
    places = field.over_mm((xs.ravel(), thetas.ravel()), (xs.ravel(), thetas.ravel())).reshape(xs.shape)
    # Between a way's samples a corner of a cell may be passed: that is what the cells' own slack is for.
    assert (there >= places.max(axis=0) - 0.35).all()
    assert (there <= places.max(axis=0) + 1e-12).all() or np.abs(there - places.max(axis=0)).max() < 0.35
    turn = 2 * np.pi
    assert field.over_mm((x[0], theta[0] + turn), (x[1], theta[1] + turn)) == pytest.approx(there, abs=0.2)


@pytest.mark.parametrize("name", sorted(SKINS))
def test_the_highest_place_is_no_lower_than_any_found(name):
    skin = SKINS[name]
    x = np.linspace(*skin.x_range_mm, 1501)[:, None]
    theta = np.linspace(0, 2 * np.pi, 500)[None, :]
    greatest = skin.radius(x, theta).max()
    assert greatest - 1e-9 <= highest_mm(skin) <= greatest + 0.1


@pytest.mark.parametrize("skin", [GENTLE, SKINS["grid"]], ids=["round", "grid"])
def test_heights_reckoned_for_some_ways_are_those_of_the_whole_field_and_no_others_are_known(skin):
    rng = np.random.default_rng(5)
    x, theta = rng.uniform(5, 35, (2, 40)), rng.uniform(-9, 9, (2, 40))
    way = (x[0], theta[0]), (x[1], theta[0] + 0.1 * theta[1])
    whole, some = (hover(skin, Tool(), 2.0, (5.0, 35.0), ways) for ways in (None, [way]))
    assert (some.over_mm(*way) == whole.over_mm(*way)).all()
    known = np.isfinite(some.height_mm)
    assert known.mean() < 0.9
    assert (some.height_mm[known] == whole.height_mm[known]).all()
