"""The joined path on every kind of blank: a referee in space measures how near the tool comes to the skin."""

import numpy as np
import pytest

from engine.kernel.errors import ReachError
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Form, Kind, Tool
from engine.layout import Placement, lay_out
from engine.machine import Axis, Park, Profile, limits_of, path_motion
from engine.marking import Hatch
from engine.toolpath import climb, cut, lay, link, order, walk
from engine.toolpath.order import stroke_ends
from tests.blank.skins import SKINS
from tests.marking.test_marking import art

TOOLS = {"cone": Tool(), "ball": Tool(form=Form.BALL, diameter_mm=2.0), "flat": Tool(form=Form.FLAT, diameter_mm=1.0)}


PLAIN = Profile()


def planned(skin, tool, *, machine=PLAIN, uphill=True, passes=1, step_mm=None):
    low, high = skin.x_range_mm
    layout = lay_out(skin, Placement(x_mm=low + 0.5 * (high - low), angle_deg=150))
    strokes = Hatch(pitch_mm=0.9, angle_deg=40, outline=True).mark(art(0.5), layout).strokes
    tolerance = Tolerance()
    laid = lay(strokes, layout, depth_mm=0.2, tolerance=tolerance)
    if uphill:
        laid = climb(laid, skin, tolerance=tolerance)
    runs = cut(
        laid,
        skin,
        tool,
        depth_mm=0.2,
        passes=passes,
        step_mm=step_mm,
        feed_mm_min=300,
        plunge_mm_min=100,
        art=0,
        tolerance=tolerance,
    )
    runs = order(runs, machine)
    return runs, link(runs, skin, tool, machine)


def least_gap(skin, tool, x, theta, r, lateral=13):
    """How far the tool's own form stands over the skin, along the tool, at each place: searched over its whole disc."""
    rho = np.linspace(0, tool.outer_mm, lateral)
    phi = np.linspace(0, 2 * np.pi, 25)[:-1]
    qx, qy = (rho[:, None] * np.cos(phi)).ravel(), (rho[:, None] * np.sin(phi)).ravel()
    q = np.hypot(qx, qy)
    if tool.form is Form.BALL:
        form = tool.round_mm - np.sqrt(np.maximum(tool.round_mm**2 - q**2, 0))
    elif tool.form is Form.CONE:
        form = np.maximum(q - tool.flat_mm, 0) * tool.flank
    else:
        form = np.zeros(len(q))
    gap = np.full(len(x), np.inf)
    low, high = skin.x_range_mm
    for k in range(len(q)):
        height = r + form[k]
        at_x = x + qx[k]
        at_t = theta + np.arctan2(qy[k], height)
        over = np.hypot(height, qy[k]) - skin.radius(at_x, at_t)
        gap = np.minimum(gap, np.where((at_x >= low) & (at_x <= high), over, np.inf))
    return gap


@pytest.mark.parametrize("name", sorted(SKINS))
@pytest.mark.parametrize("form", sorted(TOOLS))
def test_rapids_keep_their_clearance_for_the_tools_whole_form(name, form):
    skin, tool, machine = SKINS[name], TOOLS[form], Profile()
    _, path = planned(skin, tool)
    at = np.stack([path.x_mm, path.theta_rad, path.r_mm], 1)
    rapid = np.flatnonzero(path.kind[1:] == Kind.TRAVEL)
    a, b = at[rapid], at[rapid + 1]
    sideways = (a[:, :2] != b[:, :2]).any(axis=1)
    assert (a[sideways, 2] == b[sideways, 2]).all()
    share = np.linspace(0, 1, 12)[None, :, None]
    way = (a[sideways, None] + share * (b - a)[sideways, None]).reshape(-1, 3)
    gap = least_gap(skin, tool, *way.T)
    assert gap.min() >= machine.clearance_mm - 1e-3
    assert np.median(gap) <= machine.clearance_mm + 2.5
    down = ~sideways & (b[:, 2] < a[:, 2])
    gap = least_gap(skin, tool, *b[down].T)
    assert gap.min() >= machine.approach_mm - 5e-3
    assert np.median(gap) <= machine.approach_mm + 0.05


def test_the_rows_are_in_the_order_that_a_person_expects():
    runs, path = planned(SKINS["ovoid"], TOOLS["cone"])
    kinds = path.kind
    assert kinds[0] == Kind.TRAVEL
    assert kinds[-1] == Kind.TRAVEL
    assert path.r_mm[0] == pytest.approx(path.r_mm.max())
    assert path.r_mm[-1] == pytest.approx(path.r_mm.max())
    after_plunge = kinds[1:][kinds[:-1] == Kind.PLUNGE]
    assert (after_plunge == Kind.CUT).all()
    assert sorted(set(path.stroke[path.stroke > 0])) == list(range(1, len(runs) + 1))
    cut_rows = kinds == Kind.CUT
    assert (path.feed_mm_min[cut_rows] == 300).all()
    assert (path.feed_mm_min[kinds == Kind.PLUNGE] == 100).all()


def test_with_uphill_the_skin_falls_under_no_stroke():
    skin = SKINS["grid"]
    _, path = planned(skin, TOOLS["cone"])
    cut_rows = np.flatnonzero(path.kind == Kind.CUT)
    r = skin.radius(path.x_mm, path.theta_rad)
    fall = np.maximum(r[cut_rows - 1] - r[cut_rows], 0)
    length = np.hypot(np.diff(path.x_mm)[cut_rows - 1], r[cut_rows] * np.diff(path.theta_rad)[cut_rows - 1])
    assert length[fall > 0.02].sum() <= 1e-3 * length.sum()


def test_levels_of_a_stroke_are_cut_one_after_another_under_its_own_number():
    runs, path = planned(SKINS["cylinder"], TOOLS["cone"], step_mm=0.1, passes=2, uphill=False)
    assert (np.diff(runs.stroke_offsets) == 3).all()
    ends = stroke_ends(runs)
    for k in range(3):
        rows = np.flatnonzero(path.stroke == k + 1)
        levels = path.r_mm[rows][path.kind[rows] == Kind.PLUNGE]
        assert levels == pytest.approx([19.9, 19.8], abs=1e-6)  # the repeat runs back at the same level, no plunge
        down = rows[path.kind[rows] == Kind.PLUNGE][0]
        assert (path.x_mm[down], path.theta_rad[down]) == pytest.approx(tuple(ends[k, 0]))


def test_play_is_taken_up_in_the_air():
    machine = Profile(rotary=Axis(letter="A", rapid_per_min=3600.0, accel_per_s2=720.0, backlash=0.4))
    _, path = planned(SKINS["cylinder"], TOOLS["cone"], machine=machine)
    theta = path.theta_rad
    for k in np.flatnonzero(path.kind == Kind.PLUNGE):
        air = next(theta[k] - theta[j] for j in range(k, -1, -1) if abs(theta[j] - theta[k]) > 1e-9)
        cut_on = next((theta[j] - theta[k] for j in range(k, len(theta)) if abs(theta[j] - theta[k]) > 1e-9), 0)
        if path.kind[k + 1] == Kind.CUT and abs(theta[k + 1] - theta[k]) > 1e-9:
            assert air * cut_on > 0


def test_parked_at_the_end():
    machine = Profile(park=Park(x_mm=70, angle_deg=0, lift_mm=15))
    _, path = planned(SKINS["cylinder"], TOOLS["cone"], machine=machine)
    assert path.x_mm[-1] == 70
    assert np.cos(path.theta_rad[-1]) == pytest.approx(1)
    assert abs(path.theta_rad[-1] - path.theta_rad[-2]) <= np.pi + 1e-9
    assert path.r_mm[-1] == pytest.approx(path.r_mm[:-2].max() + 15)


def test_the_walk_shows_the_upper_left_corner_and_touches_nothing():
    skin, tool = SKINS["grid"], TOOLS["cone"]
    layout = lay_out(skin, Placement(x_mm=60, angle_deg=90))
    t = np.linspace(0, 1, 15)
    u = np.concatenate([-8 + 16 * t, np.full(15, 8), 8 - 16 * t, np.full(15, -8)])
    v = np.concatenate([np.full(15, 6), 6 - 12 * t, np.full(15, -6), -6 + 12 * t])
    x, theta = layout.wrap(np.stack([u, v], 1))
    path = walk([(x, theta)], skin, tool, Profile())
    gap = least_gap(skin, tool, path.x_mm, path.theta_rad, path.r_mm)
    assert gap.min() >= 0.3 - 1e-3
    low = path.kind == Kind.CUT
    assert np.median(gap[low]) <= 0.4
    corner = int(np.hypot(path.x_mm - x[0], path.theta_rad - theta[0])[low].argmin()) + int(low.argmax())
    assert (path.x_mm[corner], path.theta_rad[corner]) == pytest.approx((x[0], theta[0]))
    assert path.x_mm[0] < x[0] - 1  # the tool comes to the upper left corner from inside: from below
    assert path.theta_rad[0] > theta[0]  # and from the right
    assert path_motion(path, limits_of(Profile())).seconds.sum() > 0
    with pytest.raises(ReachError):
        walk([], skin, tool, Profile())
