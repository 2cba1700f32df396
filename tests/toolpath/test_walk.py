"""The walk: it follows the outline in the air, and its hook tells the upper left corner from the others."""

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.errors import ReachError
from engine.kernel.values import Form, Kind, Tool
from engine.machine import Profile
from engine.toolpath.walk import covering, walk
from tests.blank.skins import SKINS
from tests.toolpath.analytic import ROUGH, Formula
from tests.toolpath.test_clearance import least_distance


def frame(low, high, left, right, n=12):
    """Clockwise from the upper left corner as seen from outside: x up, theta to the right."""
    t = np.linspace(0, 1, n, endpoint=False)
    x = np.concatenate([high + 0 * t, high + t * (low - high), low + 0 * t, low + t * (high - low), [high]])
    theta = np.concatenate([left + t * (right - left), right + 0 * t, right + t * (left - right), left + 0 * t, [left]])
    return x, theta


def test_the_outline_is_walked_a_block_a_point_after_the_hook():
    x, theta = frame(20, 40, -0.4, 0.4)
    path = walk([(x, theta)], Cylinder(diameter_mm=40, length_mm=60), Tool(), Profile())
    cut = path.kind == Kind.CUT
    assert path.x_mm[cut] == pytest.approx(x)
    assert path.theta_rad[cut] == pytest.approx(theta)
    assert path.r_mm[cut] == pytest.approx(np.full(len(x), 20.3), abs=0.02)
    hook_x, hook_theta = path.x_mm[0], path.theta_rad[0]
    assert (hook_x, hook_theta * 20) == pytest.approx((40 - 3, -0.4 * 20 + 3))


def test_the_hook_of_a_mirrored_axis_is_another_corners():
    x, theta = frame(20, 40, -0.4, 0.4)
    path = walk([(x, theta)], Cylinder(diameter_mm=40, length_mm=60), Tool(), Profile())
    low = np.flatnonzero(path.kind == Kind.CUT)
    start = np.array([path.x_mm[low[0]] - path.x_mm[0], path.theta_rad[low[0]] - path.theta_rad[0]])
    assert start[0] > 0 > start[1]  # up and to the left, into the corner; each mirror turns one of the signs


@pytest.mark.parametrize("tool", [Tool(), Tool(form=Form.FLAT, diameter_mm=2.0)], ids=["cone", "flat"])
@pytest.mark.parametrize("skin", [ROUGH, SKINS["grid"], SKINS["ovoid"]], ids=["rough", "grid", "ovoid"])
def test_no_part_of_the_tool_touches_between_the_points_either(skin, tool):
    low, high = skin.x_range_mm
    mid, half = 0.5 * (low + high), 0.3 * (high - low)
    path = walk([frame(mid - half, mid + half, 1.0, 2.0, n=6)], skin, tool, Profile())
    at = np.stack([path.x_mm, path.theta_rad, path.r_mm], 1)
    rows = np.flatnonzero(path.kind == Kind.CUT)
    gaps = [
        least_distance(skin, tool, *(at[k - 1] + t * (at[k] - at[k - 1])), reach=2.5, spacing=0.08)
        for k in rows
        for t in (0.0, 0.25, 0.5, 0.75)
    ]
    assert min(gaps) >= 0.3


def test_a_ridge_between_two_points_is_stepped_over():
    ridge = Formula(lambda x, t: 20 + 3 * np.exp(-(((x - 20) / 0.8) ** 2)) + 0 * t, (0.0, 40.0), is_round=True)
    path = walk([frame(15, 25, 0.0, 0.5, n=1)], ridge, Tool(), Profile())
    at = np.stack([path.x_mm, path.theta_rad, path.r_mm], 1)
    across = [k for k in np.flatnonzero(path.kind == Kind.CUT) if abs(at[k, 0] - at[k - 1, 0]) > 9]
    assert len(across) == 2
    for k in across:
        way = at[k - 1] + np.linspace(0, 1, 101)[:, None] * (at[k] - at[k - 1])
        assert (way[:, 2] >= ridge.radius(way[:, 0], way[:, 1]) + 0.3).all()


def test_outlines_are_hopped_between_and_closed_where_open():
    a, b = frame(10, 20, -0.2, 0.2), frame(30, 40, 0.5, 0.9)
    path = walk([(a[0][:-1], a[1][:-1]), b], Cylinder(diameter_mm=40, length_mm=60), Tool(), Profile())
    assert set(path.stroke.tolist()) == {0, 1, 2}
    one = np.flatnonzero((path.kind == Kind.CUT) & (path.stroke == 1))
    assert (path.x_mm[one[0]], path.theta_rad[one[0]]) == (path.x_mm[one[-1]], path.theta_rad[one[-1]])
    sideways = (np.diff(path.x_mm) != 0) & (path.kind[1:] == Kind.TRAVEL)
    assert (path.r_mm[1:][sideways] >= 22.0).all()


def test_what_is_no_outline_is_refused():
    skin = Cylinder(diameter_mm=40, length_mm=60)
    with pytest.raises(ReachError):
        walk([], skin, Tool(), Profile())
    with pytest.raises(ReachError):
        walk([(np.array([1.0, 2.0]), np.array([0.0, 0.0]))], skin, Tool(), Profile())


def test_what_a_covering_tool_stays_clear_of_all_tools_do():
    """Its form lies nowhere over that of any of them; one tool covers itself."""
    tools = [Tool(), Tool(form=Form.BALL, diameter_mm=4.0), Tool(form=Form.FLAT, diameter_mm=1.0)]
    whole = covering(tools)
    assert covering(tools[:1]) is tools[0]
    assert whole.outer_mm == max(tool.outer_mm for tool in tools) and whole.flat_mm == whole.outer_mm
    skin = SKINS["grid"]
    x, theta = frame(45, 60, -0.4, 0.4)
    path = walk([(x, theta)], skin, whole, Profile())
    cut = path.kind == Kind.CUT
    for tool in tools:
        gaps = [
            least_distance(skin, tool, *at)
            for at in zip(path.x_mm[cut][::9], path.theta_rad[cut][::9], path.r_mm[cut][::9], strict=True)
        ]
        assert min(gaps) > 0.29
