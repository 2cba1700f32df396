"""A tool beside the axis of rotation: depth and angle by closed form, told where they matter."""

import math

import pytest

from engine.blank import Cone
from engine.machine import Profile, ZZero
from engine.proof.off_axis import lean_rad, loss_mm
from tests.proof.programs import codes, lines, proof_of


@pytest.mark.parametrize(
    ("r", "e", "deg", "loss"),
    [(20, 0.5, 1.4325437376, 0.0062509769), (10, 0.5, 2.8659839826, 0.0125078223)],
)
def test_depth_lost_and_lean_are_the_published_ones(r, e, deg, loss):
    assert math.degrees(lean_rad(r, e)) == pytest.approx(deg, abs=1e-9)
    assert loss_mm(r, e) == pytest.approx(loss, abs=5e-11)


def test_a_tool_further_off_than_the_radius_misses_it():
    assert lean_rad(2.0, 3.0) == pytest.approx(0.5 * math.pi) and loss_mm(2.0, 3.0) == 2.0
    assert lean_rad(0.0, 0.0) == pytest.approx(0.5 * math.pi)


def told(error, **words):
    return codes(proof_of(lines(), machine=Profile(axis_error_mm=error, **words)))


OFF = {("warning", "off-axis")}


def test_nothing_is_told_where_it_is_not_known_or_small():
    assert told(None) == told(0.0) == told(0.2) == set()
    assert told(0.21) == OFF


def test_depth_lost_counts_where_the_place_hardly_moves():
    """On a bar of radius 1.5, 0.19 mm aside cost 0.0121 mm of depth: more than 5 % of 0.2 and than 0.01."""
    slim = Cone(diameter_mm=3.0, end_diameter_mm=3.0, length_mm=90)
    program = [line.replace("Z19.8", "Z1.3").replace("Z20.3", "Z1.8").replace("Z22.2", "Z3.7") for line in lines()]
    for error, code in ((0.19, OFF), (0.16, set())):
        proof = proof_of(program, skin=slim, wanted=None, machine=Profile(axis_error_mm=error))
        assert {c for c in codes(proof) if c[1] == "off-axis"} == code, error


def test_what_it_costs_is_told_in_figures():
    proof = proof_of(lines(), machine=Profile(axis_error_mm=0.5))
    (finding,) = proof.findings
    assert "0.006 mm less deep" in finding.message and "1.43 deg" in finding.message and "20.00 mm" in finding.message
    assert "axis_error_mm" in finding.advice and finding.where.line is not None


def test_a_zero_set_on_the_skin_takes_the_loss_out():
    machine = Profile(axis_error_mm=0.5, z_zero=ZZero.SURFACE)
    program = [
        line.replace("Z25.0000", "Z5.0").replace("Z19.8", "Z-0.2").replace("Z20.3", "Z0.3").replace("Z22.2", "Z2.2")
        for line in lines()
    ]
    (finding,) = proof_of(program, machine=machine, zero_r_mm=20.0).findings
    assert "0.000 mm less deep" in finding.message
