"""What acceleration leaves of a feed: by the closed forms of a ramp (plain kinematics), and told with its axis."""

import re

import numpy as np
import pytest

from engine.machine import Axis, Profile
from engine.proof.moved import moved
from engine.proof.pace import judge_pace, pace_of
from tests.proof.programs import BAR, TOOL, codes, lines, proof_of

SLOW = Axis(letter="X", rapid_per_min=1500.0, accel_per_s2=4.0)


def told(body, machine):
    text = "\n".join(["G21 G90 G94", "G0 Z25", "G0 X10 A0", "S9000 M3", "G1 Z19.8 F80", *body, "G1 Z25 F80", "M2"])
    motion = moved(text.encode(), skin=BAR, tools=[TOOL], machine=machine, zero_r_mm=0.0, keep_out=())
    return motion.replay, pace_of(motion.replay, machine)


def test_a_lone_cut_rises_and_falls_by_the_closed_form():
    replay, pace = told(["G1 X25 F600"], Profile(axial=SLOW))
    k = int(np.flatnonzero(replay.end[pace.ends[1:], 0] == 25.0)[0])
    v, a, way, slow = 10.0, 4.0, 15.0, float(pace.motion.enter[k])
    assert slow == float(pace.motion.leave[k]) < 0.5 and way < v * v / a  # two ramps, and its feed never reached
    assert pace.motion.seconds[k] == pytest.approx(2 * ((slow**2 + a * way) ** 0.5 - slow) / a, rel=1e-6)
    assert pace.end_s[-1] == pytest.approx(pace.motion.seconds.sum())
    assert len(pace.end_s) == len(pace.ends) and np.all(np.diff(pace.end_s) >= 0)


def test_a_cut_that_acceleration_slows_is_told_with_its_axis_and_place():
    body = [f"G1 X{x} F600" for x in (12, 10, 12, 10, 12)]
    machine = Profile(axial=SLOW)
    replay, pace = told(body, machine)
    (found,) = judge_pace(replay, pace, machine)
    assert (found.severity.value, found.code) == ("note", "slowed-by-acceleration")
    assert "axial axis X" in found.message and "F asks for 600" in found.message
    mean = float(re.search(r"to ([0-9.]+) mm/min", found.message)[1])
    assert mean == pytest.approx(60 * 2 / (2 * (2 / 4.0) ** 0.5), rel=0.05)  # but for the corners at its ends
    assert 6 <= found.where.line <= 10
    assert judge_pace(*told(body, Profile()), Profile()) == []


def test_a_good_program_is_not_told_and_an_unread_one_has_no_pace():
    assert codes(proof_of(lines())) == set()
    assert len(proof_of([]).pace.end_s) == 0
