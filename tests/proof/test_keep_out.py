"""Hardware is kept clear of by the tool's whole form, at whatever height the program passes it."""

import math

import numpy as np
import pytest

from engine.kernel.values import Form, KeepOut, Tool
from engine.machine import Profile
from engine.proof.keep_out import FAR, judge_keep_outs, lowest_over
from engine.proof.replay import replay
from engine.proof.rs274_reader import read
from tests.proof.programs import TOOL, codes, lines, proof_of

GOOD = lines()
JAWS = KeepOut(from_mm=0.0, to_mm=10.0, why="jaws")
SHARP = Tool(tip_mm=0.0, angle_deg=60.0, diameter_mm=4.0)


def moves(body):
    text = f"G21 G90 G94\n{body}\nM2\n".encode()
    return replay(read(text, axes="XAZ"), Profile(), zero_r_mm=0.0)


def found(body, stretch, greatest=10.0, tool=SHARP):
    return [
        (f.severity.value, f.code)
        for f in judge_keep_outs(moves(body), tool, Profile(), [stretch], greatest_r_mm=greatest)
    ]


def test_the_form_enters_before_the_tip_does():
    low, share = lowest_over(moves("G0 Z30\nG0 X11 A0\nG1 Z9.8 F9\nG1 X10 F9\nG1 X13 F9\nG1 A9 F9"), SHARP, JAWS)
    assert low[2:] == pytest.approx([9.8 + math.sqrt(3), 9.8, 9.8, FAR], abs=1e-9)
    assert share[3:5] == pytest.approx([1.0, 0.0])


@pytest.mark.parametrize("form", [{}, {"form": Form.BALL, "diameter_mm": 4.0}, {"form": Form.FLAT, "diameter_mm": 4.0}])
def test_a_slanting_move_is_lowest_where_a_fine_walk_along_it_says(form):
    tool = Tool(**form)
    low, _ = lowest_over(moves("G0 Z40\nG0 X-20 A0\nG1 X35 Z12 F9\nG1 X-8 Z30 F9"), tool, JAWS)
    for k, (x0, r0, x1, r1) in ((2, (-20, 40, 35, 12)), (3, (35, 12, -8, 30))):
        t = np.linspace(0, 1, 400_001)
        x, r = x0 + t * (x1 - x0), r0 + t * (r1 - r0)
        away = np.maximum(np.maximum(-x, x - 10.0), 0.0)
        if tool.form is Form.CONE:
            rise = np.maximum(away - tool.flat_mm, 0.0) * tool.flank
        elif tool.form is Form.BALL:
            rise = 2.0 - np.sqrt(np.maximum(4.0 - away**2, 0.0))
        else:
            rise = np.zeros_like(away)
        truth = (r + rise)[away <= tool.outer_mm].min()
        assert low[k] == pytest.approx(truth, abs=0.02) and low[k] >= truth - 1e-3


@pytest.mark.parametrize(
    ("radius_mm", "height", "told"),
    [
        (None, 11.9, [("error", "keep-out")]),
        (None, 12.0, [("warning", "keep-out-height")]),
        (25.0, 26.9, [("error", "keep-out")]),
        (25.0, 27.0, []),
        (4.0, 6.0, []),
        (4.0, 5.9, [("error", "keep-out")]),
    ],
)
def test_a_rapid_over_hardware_keeps_the_clearance_over_its_reach(radius_mm, height, told):
    stretch = KeepOut(from_mm=20.0, to_mm=25.0, why="steady", radius_mm=radius_mm)
    assert found(f"G0 Z{height}\nG0 X10 A0\nG0 X40", stretch) == told


def test_parking_among_jaws_is_an_error_and_high_over_them_a_warning():
    assert found("G0 Z11\nG0 X40 A0\nG0 X5", JAWS) == [("error", "keep-out")]
    assert found("G0 Z60\nG0 X40 A0\nG0 X5", JAWS) == [("warning", "keep-out-height")]


def test_the_first_move_counts_by_its_end_alone():
    assert found("G0 X5 A0 Z11", JAWS) == [("error", "keep-out")]
    assert found("G0 Z11\nG0 X40 A0", JAWS) == []


def test_a_finding_says_where_and_what_to_do():
    (finding,) = judge_keep_outs(
        moves("G0 Z30\nG0 X40 A0\nG0 X30\nG1 X5 Z12 F9"), SHARP, Profile(), [JAWS], greatest_r_mm=20.0
    )
    assert finding.severity.value == "error" and "x 0 to 10 (jaws)" in finding.message
    assert (finding.where.line, finding.where.x_mm) == (5, 5.0)
    assert "radius_mm" in finding.advice


def test_a_program_beside_hardware_is_good_and_one_into_it_is_not():
    def told(from_mm, to_mm):
        return codes(proof_of(GOOD, keep_out=[KeepOut(from_mm=from_mm, to_mm=to_mm, why="jaws")]))

    assert told(0, 30) == set()
    assert told(46.5, 90) == {("error", "keep-out")}
    assert told(46 + TOOL.outer_mm + 0.1, 90) == set()
    assert told(0, 41) == {("error", "keep-out")}


def test_a_first_move_from_anywhere_goes_over_hardware_too():
    steady = KeepOut(from_mm=60, to_mm=65, why="steady", radius_mm=60.0)
    assert ("error", "rapid-too-low") in codes(proof_of(GOOD, keep_out=[steady]))
    high = [line.replace("G0 Z25.0000", "G0 Z62.0000") for line in GOOD]
    assert codes(proof_of(high, keep_out=[steady])) == set()
