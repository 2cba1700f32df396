"""Shank, collet and nose beside the cut: closed forms at a shoulder and a bar; a dense cloud on a measured gourd."""

import math

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.values import KeepOut, Tool
from engine.machine import Profile
from engine.proof.holder import judge_holder, parts_of
from engine.proof.off_axis import lost_mm
from engine.proof.replay import replay
from engine.proof.rs274_reader import read
from tests.blank.skins import SKINS
from tests.proof.programs import DEPTH, R, codes, lines, proof_of

MACHINE = Profile(collet_mm=12.0, collet_length_mm=8.0, nose_mm=30.0)


class Shoulder:
    """A bar of radius 10 with a shoulder of radius 30 from x 40 on, rising within half a millimetre."""

    x_range_mm, sigma_mm, is_round = (0.0, 80.0), 0.0, True

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return 10.0 + np.clip((x - 40.0) / 0.5, 0.0, 1.0) * 20.0

    def slopes(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.where((x > 40) & (x < 40.5), 40.0, 0.0), np.zeros(x.shape)


def told(body, skin, tool, machine=MACHINE, keep_out=()):
    moves = replay(read(f"G21 G90 G94\n{body}\nM2\n".encode()), machine, zero_r_mm=0.0)
    return judge_holder(moves, skin, tool, machine, keep_out)


def test_what_is_not_stated_is_no_part():
    assert parts_of(Tool(), MACHINE) == []
    assert parts_of(Tool(stick_out_mm=20.0), Profile()) == []
    names = [p.name for p in parts_of(Tool(stick_out_mm=20.0, shank_mm=6.0, flute_mm=9.0), MACHINE)]
    assert names == ["shank", "collet", "spindle nose"]


@pytest.mark.parametrize(
    ("x", "stick_out", "finding"),
    [(20, 25.0, None), (36, 25.0, None), (36, 15.0, "collet runs 5"), (33, 15.0, None), (27, 12.7, "spindle nose")],
)
def test_a_neck_under_a_shoulder(x, stick_out, finding):
    # The collet's radius is 6: at x 36 it reaches over the shoulder, which stands 20 over the tip; the nose's is 15.
    found = told(f"G0 Z60\nG0 X{x} A0\nG1 Z10 F90\nG0 Z60", Shoulder(), Tool(stick_out_mm=stick_out))
    errors = [f for f in found if f.severity.value == "error"]
    if finding is None:
        assert errors == []
    elif finding.startswith("collet"):
        assert any(finding in f.message and f.where.line == 4 for f in errors)
    else:  # the nose begins 8 above the collet: 20.7 over the tip, 0.7 above the shoulder
        assert errors == [] and any(f.code == "holder-near" and "nose" in f.message for f in found)


def test_round_a_bar_a_wide_nose_touches_where_the_bar_itself_is_highest():
    bar = Cylinder(diameter_mm=60, length_mm=80)
    machine = Profile(nose_mm=40.0)
    body = "G0 Z60\nG0 X40 A0\nG1 Z29.8 F90\nG0 Z60"
    assert told(body, bar, Tool(stick_out_mm=2.0), machine) == []
    (near,) = told(body, bar, Tool(stick_out_mm=0.5), machine)
    assert near.code == "holder-near" and "within 0.3 mm" in near.message
    (into,) = told(body, bar, Tool(stick_out_mm=0.1), machine)
    assert into.code == "holder-touches"


@pytest.mark.parametrize("x", [34.2, 34.6, 35.0, 35.4, 36.0])
@pytest.mark.parametrize("far", ["", "G0 X-5\nG0 X85\n"])
def test_no_edge_between_the_nodes_of_the_map_is_missed(x, far):
    # The collet's rim, at x + 6, is over the shoulder's slope from x 34 on; it begins 5 below the shoulder's top.
    body = f"G0 Z60\n{far}G0 X{x} A0\nG1 Z10 F90\nG0 Z60"
    top = 20.0 * min(1.0, (x + 6 - 40) / 0.5)
    errors = [f for f in told(body, Shoulder(), Tool(stick_out_mm=15.0)) if f.severity.value == "error"]
    assert bool(errors) or top < 15


def test_hardware_with_a_reach_counts_and_stands_in_the_whole_proof():
    jaws = KeepOut(from_mm=0, to_mm=32, why="jaws", radius_mm=35.0)
    tool = Tool(stick_out_mm=6.0)
    assert codes(proof_of(lines(), tool=tool, machine=MACHINE)) == set()
    beside = proof_of([x.replace("Z25.0000", "Z37.1000") for x in lines()], tool=tool, machine=MACHINE, keep_out=[jaws])
    assert ("error", "holder-touches") in codes(beside)  # nose: radius 15, from 14 over a tip at 19.8
    slant = "G0 X2 A0 Z90\nG1 X60 Z30 F90\nG0 Z90"  # over the jaws it is 56 high and more
    assert told(slant, Cylinder(diameter_mm=20, length_mm=90), tool, keep_out=[jaws]) == []


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
    machine = Profile(collet_mm=2 * radius)
    for over, wanted in ((1.6, set()), (-0.6, {"holder-touches"})):
        height = highest + over
        if height > 0:
            assert {f.code for f in told(body, skin, Tool(stick_out_mm=height), machine)} == wanted


def test_a_tool_beside_the_axis_loses_depth_as_the_circle_falls():
    assert lost_mm(5.0, 3.0) == pytest.approx(1.0)  # 3, 4, 5
    assert lost_mm(2.0, 3.0) == 2.0
    assert codes(proof_of(lines(), machine=Profile(axis_error_mm=0.1))) == set()
    (found,) = proof_of(lines(), machine=Profile(axis_error_mm=1.0)).findings
    lost = R - DEPTH - math.sqrt((R - DEPTH) ** 2 - 1)
    assert found.code == "off-axis" and found.severity.value == "warning"
    assert f"{lost:.3f} mm less deep" in found.message
    assert f"{math.degrees(math.asin(1 / (R - DEPTH))):.2f} deg" in found.message
