"""Steps coarser than the lines, lines and programs longer than the controller takes: told where the profile says so."""

import math

import pytest

from engine.machine import Axis, Profile
from engine.proof.resolution import judge_size
from tests.proof.programs import R, codes, lines, proof_of

GOOD = lines()
COARSE = ("warning", "coarse-axis")
FEWEST_PER_DEG = math.radians(0.5) * (R - 0.2) / 0.01  # half a step on the skin is then the planner's 0.01 mm


def told(**profile):
    return codes(proof_of(GOOD, machine=Profile(**profile)))


@pytest.mark.parametrize(("steps", "coarse"), [(None, False), (1.05, False), (0.95, True)])
def test_a_rotary_step_is_measured_on_the_skin(steps, coarse):
    axis = Axis(letter="A", rapid_per_min=3600.0, steps_per_unit=steps and steps * FEWEST_PER_DEG)
    assert told(rotary=axis) == ({COARSE} if coarse else set())


@pytest.mark.parametrize(("steps", "coarse"), [(60.0, False), (40.0, True)])
def test_a_carriage_step_is_plain_millimetres(steps, coarse):
    axis = Axis(letter="X", rapid_per_min=1500.0, steps_per_unit=steps)
    assert (COARSE in told(axial=axis)) is coarse


def test_the_radius_is_that_of_the_cut_and_not_of_a_lift():
    high = [line.replace(f"G1 Z{R + 0.3:.4f}", "G1 Z60.0000") for line in GOOD]
    assert COARSE not in codes(proof_of(high, machine=Profile(decimals=2)))


def test_words_of_one_decimal_are_coarse_and_of_four_are_not():
    assert COARSE in told(decimals=1)
    assert told() == set()


def test_a_line_and_a_program_longer_than_the_controller_takes_are_errors_with_their_place():
    text = b"G21 G90\n(" + b"x" * 70 + b")\nM2\n"
    (line,) = judge_size(text, Profile(longest_line=60))
    assert (line.code, line.where.line, line.severity.value) == ("line-too-long", 2, "error")
    (whole,) = judge_size(text, Profile(memory_bytes=50))
    assert whole.code == "program-too-long" and "84 bytes" in whole.message
    assert judge_size(text, Profile(longest_line=72, memory_bytes=84)) == []
