"""Shank, collet and nose against skin and hardware: closed forms, and a cloud of points as a referee."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.values import Form, KeepOut, Tool
from engine.machine import Profile
from engine.proof import holder_map
from engine.proof.clearance import heights
from engine.proof.holder import judge_holder
from engine.proof.holder_map import Stack, gaps
from engine.proof.replay import replay
from engine.proof.rs274_reader import read
from tests.blank.skins import SKINS
from tests.proof.programs import codes, lines, proof_of

LONG = Tool(stick_out_mm=8.0)
SPINDLE = {"collet_mm": 12.0, "collet_length_mm": 15.0, "nose_mm": 40.0}
MACHINE = Profile(**SPINDLE)


class Step:
    """A bar of radius 10 with a shoulder of radius 20 from x 40 on, all round or (not `is_round`) from 0 to 90 deg."""

    x_range_mm, sigma_mm = (0.0, 80.0), 0.0

    def __init__(self, *, is_round=True):
        self.is_round = is_round

    def radius(self, x_mm, theta_rad):
        x, theta = np.broadcast_arrays(x_mm, theta_rad)
        on = (x >= 40.0) & (self.is_round | (np.mod(theta, 2 * math.pi) <= 0.5 * math.pi))
        return np.where(on, 20.0, 10.0)

    def slopes(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.zeros(x.shape), np.zeros(x.shape)


class Flask(Step):
    """A ball of radius 30 round x 30 with a neck of radius 8 from where they meet on."""

    x_range_mm = (0.0, 110.0)

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.maximum(np.sqrt(np.maximum(900.0 - (x - 30.0) ** 2, 0.0)), np.where(x > 30, 8.0, 0.0))


class Shoulder(Step):
    """A bar of radius 10 with a shoulder of radius 30 from x 40 on, rising within half a millimetre."""

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return 10.0 + np.clip((x - 40.0) / 0.5, 0.0, 1.0) * 20.0


class Lumpy:
    """A measured-like skin: waves along and round."""

    x_range_mm, sigma_mm, is_round = (0.0, 60.0), 0.0, False

    def radius(self, x_mm, theta_rad):
        x, t = np.broadcast_arrays(x_mm, theta_rad)
        return 16.0 + 5.0 * np.sin(x / 7.0) * np.cos(2 * t) + 2.0 * np.sin(3 * t + 1.0)

    def slopes(self, x_mm, theta_rad):
        x, t = np.broadcast_arrays(x_mm, theta_rad)
        along = 5.0 / 7.0 * np.cos(x / 7.0) * np.cos(2 * t)
        return along, -10.0 * np.sin(x / 7.0) * np.sin(2 * t) + 6.0 * np.cos(3 * t + 1.0)


def moves(body):
    return replay(read(f"G21 G90 G94\n{body}\nM2\n".encode()), Profile(), zero_r_mm=0.0)


def at(x, deg, r):
    """A cut with the tip at one place."""
    return f"G0 Z60\nG0 X{x} A{deg}\nG1 Z{r} F60\nG1 A{deg + 1} F60\nG0 Z60"


def found(body, skin, tool=LONG, machine=MACHINE, keep_out=()):
    told = moves(body)
    high = heights(told, skin, tool, enough_mm=3.0)
    grid = np.linspace(*skin.x_range_mm, 257)[:, None]
    greatest = float(skin.radius(grid, np.linspace(0, 2 * math.pi, 257)).max())
    return judge_holder(told, high, tool, machine, skin, keep_out, greatest_r_mm=greatest)


def kinds(*args, **words):
    return [(f.severity.value, f.code) for f in found(*args, **words)]


@pytest.mark.parametrize(("is_round", "cell"), [(True, 0.05), (False, 0.3)])
def test_a_collet_beside_a_shoulder_touches_at_less_than_its_radius(is_round, cell):
    """Tip at 9.8, collet of radius 6 from 17.8 on, shoulder 20 high at x 40: it touches where 40 - x < 6."""
    skin = Step(is_round=is_round)
    for x in (34.0 + 0.1 * cell, 34.0 + cell):  # an edge is never missed
        assert kinds(at(x, 45, 9.8), skin) == [("error", "holder-touches")]
    assert kinds(at(34.0 - cell, 45, 9.8), skin) == [("warning", "holder-near")]
    for x in (33.0 + 0.1 * cell, 33.0 + cell):  # half the clearance is 1 mm
        assert kinds(at(x, 45, 9.8), skin) == [("warning", "holder-near")]
    assert kinds(at(34.0 - 1.0 - cell, 45, 9.8), skin) == []


def test_a_shoulder_on_the_far_side_of_the_turn_is_not_touched():
    assert kinds(at(37.0, 225, 9.8), Step(is_round=False)) == []


@pytest.mark.parametrize("x", [34.2, 34.6, 35.0, 35.4, 36.0])
@pytest.mark.parametrize("far", ["", "G0 X-5\nG0 X85\n"])
@pytest.mark.parametrize("is_round", [True, False])
def test_no_edge_between_the_nodes_of_the_map_is_missed(x, far, is_round):
    """The collet's rim, at x + 6, is over the slope from x 34 on; it begins 5 below the shoulder's top."""
    body = f"G0 Z60\n{far}G0 X{x} A0\nG1 Z10 F90\nG0 Z60"
    top = 20.0 * min(1.0, (x + 6 - 40) / 0.5)
    told = kinds(body, Shoulder(is_round=is_round), tool=Tool(stick_out_mm=15.0))
    assert ("error", "holder-touches") in told or top < 15
    assert ("error", "holder-touches") not in told or top > 15 - (4 if is_round else 16)  # 0.05 and 0.3 along the slope


def test_how_far_it_runs_in_and_what_to_do_are_told():
    (told,) = found(at(36.0, 45, 9.8), Step())
    assert "the collet (12 mm wide, 8 mm over the tip) runs 2.20 mm into the skin" in told.message
    assert "x 40.0 mm" in told.message and told.where.line == 4 and told.where.x_mm == 36.0
    assert "more than 10.5 mm (stick_out_mm)" in told.advice and "shoulder" in told.advice
    assert kinds(at(36.0, 45, 9.8), Step(), tool=replace(LONG, stick_out_mm=10.5)) == [("warning", "holder-near")]
    assert kinds(at(36.0, 45, 9.8), Step(), tool=replace(LONG, stick_out_mm=11.3)) == []


def test_the_nose_is_met_where_the_collet_is_not():
    high = {"collet_mm": 6.0, "collet_length_mm": 1.0, "nose_mm": 40.0}
    (told,) = found(at(25.0, 45, 9.8), Step(), machine=Profile(**high))
    assert "spindle nose (40 mm wide, 9 mm" in told.message and "1.20 mm" in told.message


@pytest.mark.parametrize("x", [45.0, 55.0, 61.0])
def test_a_nose_beside_a_ball_touches_where_the_circle_says(x):
    """The nose's nearest edge is at x - 20, or over the ball's middle at 30; the ball is sqrt(900 - (x - 30)2) high."""
    told = moves(at(x, 0, 7.9))
    stack = Stack(np.array([20.0]), np.array([20.0]), np.zeros(1))
    edge = max(x - 20.0, 30.0)
    need = math.sqrt(900.0 - (edge - 30.0) ** 2) - 20.0
    least, _, _ = gaps(told, told.known, Flask(), (), stack, greatest_r_mm=30.0)
    assert least.min() == pytest.approx(7.9 - need, abs=0.02)


def test_a_sampled_skin_is_touched_where_a_cloud_of_its_points_says():
    skin = Lumpy()
    x, theta = np.meshgrid(np.linspace(0, 60, 601), np.linspace(0, 2 * math.pi, 1441), indexing="ij")
    radius = skin.radius(x, theta)
    cloud = np.stack([x, radius * np.cos(theta), radius * np.sin(theta)], axis=-1).reshape(-1, 3)
    stack = Stack(np.array([3.0, 9.0]), np.array([2.0, 5.0]), np.array([1.0, 0.0]))
    rng = np.random.default_rng(5)
    wrong = []
    for place, deg in zip(rng.uniform(5, 55, 16), rng.uniform(0, 360, 16), strict=True):
        turn = math.radians(deg)
        up = cloud[:, 1] * math.cos(turn) + cloud[:, 2] * math.sin(turn)
        aside = cloud[:, 2] * math.cos(turn) - cloud[:, 1] * math.sin(turn)
        away = np.hypot(cloud[:, 0] - place, aside)
        need = -math.inf
        for r, h, grown in zip(*stack, strict=True):
            over = np.maximum(away - r, 0.0)
            reach = (over <= grown) & (up > 0)
            need = max(need, float((up - h + np.sqrt(np.maximum(grown**2 - over**2, 0.0)))[reach].max()))
        told = moves(f"G0 Z60\nG0 X{place:.4f} A{deg:.4f}\nG0 Z{need - 1.0:.4f}")
        least, share, _ = gaps(told, told.known, skin, (), stack, greatest_r_mm=23.0)
        assert share[2] == 1.0
        wrong.append(least[2] + 1.0)
    assert max(wrong) < 0.01 and min(wrong) > -0.25  # never too high, a little too low


@pytest.mark.parametrize("seed", range(6))
def test_on_a_measured_gourd_as_a_dense_cloud_says(seed):
    skin, rng = SKINS["grid"], np.random.default_rng(seed)
    x, theta, radius = rng.uniform(20, 110), rng.uniform(-3, 3), rng.uniform(8, 20)
    tip = float(skin.radius(np.array([x]), np.array([theta]))[0])
    xs = np.linspace(x - radius, x + radius, 161)
    xs = xs[(xs >= skin.x_range_mm[0]) & (xs <= skin.x_range_mm[1])][:, None]
    angles = theta + np.linspace(-1.5, 1.5, 601)[None, :]
    r = skin.radius(xs, angles)
    under = np.hypot(xs - x, r * np.sin(angles - theta)) <= radius
    highest = float((r * np.cos(angles - theta))[under].max()) - tip
    body = f"G0 Z90\nG0 X{x:.4f} A{math.degrees(theta):.4f}\nG1 Z{tip:.4f} F90\nG0 Z90"
    machine = Profile(collet_mm=2 * radius, nose_mm=2 * radius, collet_length_mm=50.0)
    for over, wanted in ((1.6, []), (0.2, ["holder-near"]), (-0.05, ["holder-touches"])):
        height = highest + over
        if height > 0:
            found_here = found(body, skin, Tool(stick_out_mm=height), machine)
            assert [f.code for f in found_here] == wanted, over


def test_round_a_bar_a_wide_nose_touches_where_the_bar_itself_is_highest():
    bar, machine = Cylinder(diameter_mm=60, length_mm=80), Profile(nose_mm=40.0)
    body = "G0 Z60\nG0 X40 A0\nG1 Z29.8 F90\nG0 Z60"
    for stick_out, code in ((2.0, []), (0.22, ["holder-near"]), (0.18, ["holder-touches"])):
        tool = Tool(stick_out_mm=stick_out, shank_mm=1.0)
        assert [f.code for f in found(body, bar, tool, machine)] == code


def test_a_nose_whose_distance_from_the_collets_face_is_not_told_is_no_error():
    bar = Cylinder(diameter_mm=60, length_mm=80)
    machine = Profile(collet_mm=1.0, nose_mm=40.0)
    tall = KeepOut(from_mm=55, to_mm=60, radius_mm=45.0)
    (told,) = found("G0 Z60\nG0 X40 A0\nG1 Z29.8 F90\nG0 Z60", bar, Tool(stick_out_mm=9.0), machine, [tall])
    assert (told.severity.value, told.code) == ("warning", "holder-near")
    assert "nose" in told.message and "assumed" in told.message and "collet_length_mm" in told.advice
    (told,) = found(
        "G0 Z60\nG0 X40 A0\nG1 Z29.8 F90\nG0 Z60", bar, Tool(stick_out_mm=9.0), Profile(nose_mm=40.0), [tall]
    )
    assert told.severity.value == "error"  # no collet: the nose stands at the tool itself


def test_moves_too_long_for_full_steps_are_told_once(monkeypatch):
    monkeypatch.setattr(holder_map, "MOST_SAMPLES", 100)
    coarse = ("note", "looked-coarsely")
    assert kinds("G0 Z60\nG0 X5 A45\nG0 Z12\nG0 X30\nG0 Z60", Step()) == [coarse]
    assert kinds("G0 Z60\nG0 X5 A45\nG0 Z45\nG0 X30\nG0 Z60", Step()) == []


def test_a_wide_shank_over_short_flutes_touches_a_shoulder():
    ball = Tool(form=Form.BALL, diameter_mm=1.0, shank_mm=6.0, flute_mm=4.0)
    assert kinds(at(37.5, 45, 9.9), Step(), tool=ball, machine=Profile()) == [("error", "holder-touches"), UNKNOWN]
    assert kinds(at(35.5, 45, 9.9), Step(), tool=ball, machine=Profile())[0] == UNKNOWN
    slim = Tool(form=Form.FLAT, diameter_mm=2.0, shank_mm=1.5, flute_mm=1.0, stick_out_mm=30.0)
    assert kinds(at(25, 45, 8.5), Step(), tool=slim) == []  # slimmer than its groove
    cone = Tool(diameter_mm=1.0, shank_mm=6.0)  # where the shank begins is not told
    (told, _) = found(at(37.5, 45, 9.9), Step(), tool=cone, machine=Profile())
    assert told.severity.value == "warning" and "assumed" in told.message
    guessed = replace(ball, flute_mm=None)  # three diameters: told, but no error
    (told, _) = found(at(37.5, 45, 9.9), Step(), tool=guessed, machine=Profile())
    assert told.severity.value == "warning" and "assumed" in told.message and "flute_mm" in told.advice


UNKNOWN = ("note", "holder-unknown")


def test_a_shank_as_wide_as_the_flutes_rubs_where_the_cut_is_deeper_than_they_are():
    flat = Tool(form=Form.FLAT, diameter_mm=2.0, flute_mm=1.5, stick_out_mm=30.0)
    bar = Cylinder(diameter_mm=40, length_mm=90)
    assert kinds(at(40, 0, 18.4), bar, tool=flat) == [("error", "holder-touches")]
    assert kinds(at(40, 0, 18.6), bar, tool=flat) == []


def test_what_is_not_known_is_told_once_and_only_beside_a_deep_neck():
    bare = Profile()
    (told,) = found(at(30, 45, 9.8), Step(), tool=Tool(), machine=bare)
    assert (told.severity.value, told.code, told.where.pointer) == (*UNKNOWN, "/tools")
    assert "10.2 mm higher" in told.message
    assert kinds(at(19, 45, 9.8), Step(), tool=Tool(), machine=bare) == []  # the shoulder is 21 mm away
    assert kinds(at(30, 45, 10.3), Step(), tool=Tool(), machine=bare) == []  # nothing is cut
    bar, tall = Cylinder(diameter_mm=40, length_mm=90), KeepOut(from_mm=60, to_mm=64, radius_mm=60.0)
    assert kinds(at(50, 45, 19.8), bar, tool=Tool(), machine=bare, keep_out=[tall]) == []  # hardware is no neck
    (told,) = found(at(30, 45, 9.8), Step(), tool=LONG, machine=bare)
    assert (told.code, told.where.pointer) == ("holder-unknown", "/machine/spindle")
    assert kinds(at(30, 45, 9.8), Step(), tool=replace(LONG, stick_out_mm=30), machine=bare) == []


def test_hardware_with_a_reach_is_touched_and_named():
    bar = Cylinder(diameter_mm=40, length_mm=90)
    steady = KeepOut(from_mm=60, to_mm=64, why="steady", radius_mm=29.0)
    for x in (55.005, 55.01, 55.015, 55.02):  # rows of the map stand on either side of the steady's end
        assert "(steady)" in found(at(x, 0, 19.8), bar, keep_out=[steady])[0].message
    (told,) = found(at(55, 0, 19.8), bar, keep_out=[steady])
    assert told.code == "holder-touches" and "x 60 to 64 (steady)" in told.message
    assert told.where.pointer == "/blank/keep_out/0" and "1.20 mm" in told.message
    assert kinds(at(52, 0, 19.8), bar, keep_out=[steady]) == []
    assert kinds(at(55, 0, 19.8), bar, keep_out=[replace(steady, radius_mm=None)]) == []


def test_jaws_beyond_the_end_of_the_blank_are_touched_too():
    bar = Cylinder(diameter_mm=40, length_mm=90)
    jaws = KeepOut(from_mm=-30, to_mm=0, why="jaws", radius_mm=35.0)
    for x in (5, 5.01, 5.02, 5.03):
        (told,) = found(at(x, 0, 19.8), bar, keep_out=[jaws])
        assert told.code == "holder-touches" and "(jaws)" in told.message
    assert kinds(at(25, 0, 19.8), bar, keep_out=[jaws]) == []


def test_a_slant_over_jaws_counts_as_high_as_it_is_there():
    bar, jaws = Cylinder(diameter_mm=20, length_mm=90), KeepOut(from_mm=0, to_mm=32, why="jaws", radius_mm=35.0)
    slant = "G0 X2 A0 Z90\nG1 X60 Z30 F90\nG0 Z90"
    assert kinds(slant, bar, tool=Tool(stick_out_mm=6.0), keep_out=[jaws]) == []
    assert kinds(slant.replace("Z90\nG1", "Z40\nG1"), bar, tool=Tool(stick_out_mm=2.0), keep_out=[jaws]) != []


def test_a_rapid_past_a_shoulder_counts():
    body = "G0 Z60\nG0 X20 A45\nG0 Z11.9\nG0 X37\nG0 Z60"
    assert kinds(body, Step()) == [("error", "holder-touches")]
    (told,) = found(body, Step())
    assert told.where.line == 5 and told.where.x_mm >= 33.9


def test_a_plain_program_has_nothing_to_tell_and_a_short_tool_in_it_has():
    assert codes(proof_of(lines())) == set()
    assert codes(proof_of(lines(), tool=LONG, machine=MACHINE)) == set()
    steady = [KeepOut(from_mm=50, to_mm=60, why="steady", radius_mm=28.5)]
    told = codes(proof_of(lines(), tool=LONG, machine=MACHINE, keep_out=steady))
    assert ("error", "holder-touches") in told
