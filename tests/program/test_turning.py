"""Turning programs: read back by the proof's reader and by a controller written from the standard."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import ProgramError
from engine.machine import Axis, FeedRule, Profile
from engine.program import turn_program
from engine.proof.rs274_reader import read
from tests.program.controller import run
from tests.program.paths import on_blank


def turn(angles, **more):
    told = {"profile": Profile(), "park_x_mm": -20.0, "park_r_mm": 60.0} | more
    return turn_program(angles, **told)


def body(told):
    return told.program.text.decode().split("\n", told.program.header_lines)[-1].split("\n")


def test_the_text_of_two_photographs():
    assert body(turn([0.0, 90.0])) == [
        *("G21 G90 G94", "G54 G17 G40 G49 G80", "M5", "G0 Z60.0000", "G0 X-20.0000", "G0 A0.0000"),
        *("(photograph 1 of 2: angle 0)", "M0", "G0 A90.0000", "(photograph 2 of 2: angle 90)", "M0", "M5", "M2", ""),
    ]


def test_a_timed_wait_takes_the_place_of_the_stop():
    told = turn([0.0, 90.0, 180.0], dwell_s=2.5)
    assert [line for line in body(told) if line.startswith(("G4", "M0"))] == ["G4 P2.500"] * 3
    assert told.time_s >= 7.5


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    st.lists(st.floats(-400, 400), min_size=1, max_size=36, unique_by=lambda a: round(a % 360.0, 2) % 360.0),
    st.booleans(),
    st.sampled_from([None, 360.0, 125.66]),
    st.sampled_from([0.0, 0.8]),
    st.sampled_from([(None, None), (-20000.0, 20000.0)]),
)
def test_every_angle_is_reached_from_the_same_side_and_none_is_overshot(angles, turned, per_turn, play, room):
    rotary = Axis(letter="B", reversed=turned, backlash=play, least=room[0], greatest=room[1])
    profile = Profile(rotary=rotary, mm_per_turn=per_turn, feed_rule=FeedRule.ALL_AXES)
    told = turn(angles, profile=profile)
    assert read(told.program.text, axes="XBZ").fault is None
    ran = run(told.program.text, profile.letters)
    step = 1e-4 * (1 if per_turn is None else 360 / per_turn)
    stood = [on_blank(place, profile)[1] for _, _, place in ran.waits]
    off = (np.array(stood) - np.array(angles) + 180.0) % 360.0 - 180.0
    assert np.abs(off).max() <= step and stood == pytest.approx(told.angle_deg.tolist(), abs=1e-9)
    way = [on_blank(m.end, profile)[1] for m in ran.moves if not math.isnan(m.end["B"])]
    senses = {float(np.sign(b - a)) for a, b in pairwise(way)}
    assert len(senses) <= 1  # one way, from before the first angle to the last
    if play and angles:
        assert abs(way[1] - way[0]) > play
    other = np.abs(np.diff(angles)) % 360.0
    if len(angles) > 1 and (np.diff(angles) > 0).all() and (other == np.diff(angles)).all():
        up, down = np.diff(angles).sum(), (360.0 - np.diff(angles)).sum()
        assert abs(stood[-1] - stood[0]) <= min(up, down) + 2 * step  # the shorter of the two ways


def test_the_tool_waits_out_of_the_picture_and_the_spindle_is_off():
    told = turn([0.0, 120.0, 240.0], zero_r_mm=25.0)
    moves = read(told.program.text, axes="XAZ")
    assert (moves.spindle == 0).all()
    assert all((place["X"], place["Z"]) == (-20.0, 35.0) for _, _, place in run(told.program.text, "XAZ").waits)


def test_angles_are_moved_by_whole_turns_into_the_rotarys_room():
    rotary = Axis(letter="A", least=-20.0, greatest=400.0)
    told = turn([-90.0, -45.0, 0.0], profile=Profile(rotary=rotary))
    assert told.angle_deg.tolist() == [270.0, 315.0, 360.0]


def test_the_other_way_round_is_taken_where_the_room_asks_for_it():
    rotary = Axis(letter="A", least=-100.0, greatest=20.0)
    told = turn([0.0, 330.0, 300.0], profile=Profile(rotary=rotary))
    assert told.angle_deg.tolist() == [0.0, -30.0, -60.0]


def test_many_turns_and_play_at_a_limit_are_told():
    back_and_forth = turn([0.0, 200.0, 40.0, 240.0])
    assert [f.code for f in back_and_forth.findings] == ["turns-more-than-once"]
    tight = Axis(letter="A", least=0.0, greatest=350.0, backlash=1.0)
    told = turn([0.0, 90.0], profile=Profile(rotary=tight))
    assert [f.code for f in told.findings] == ["play-not-taken-up"]
    assert "warning: the rotary's play of 1 degrees" in told.program.text.decode()


def test_the_header_says_what_it_is_and_the_cautions():
    text = turn([0.0], about=[("blank", "egg")], cautions=["eye protection"]).program.text.decode()
    assert text.startswith("(blank: egg)\n(program: turning for photographs") and "(caution: eye protection)" in text


@pytest.mark.parametrize(
    ("angles", "more", "where"),
    [
        ([], {}, "/angles_deg"),
        ([math.nan], {}, "/angles_deg"),
        ([10.0, 370.0], {}, "/angles_deg"),
        (list(range(721)), {}, "/angles_deg"),
        ([0.0, 90.0, 270.0], {"profile": Profile(rotary=Axis(letter="A", least=0.0, greatest=180.0))}, "/angles_deg"),
        ([0.0], {"dwell_s": 0.0}, "/wait"),
        ([0.0], {"park_r_mm": math.inf}, "/park_r_mm"),
        ([0.0], {"profile": Profile(radial=Axis(letter="Z", greatest=50.0))}, "/machine/axes"),
    ],
)
def test_what_cannot_be_written_is_refused_with_its_place(angles, more, where):
    with pytest.raises(ProgramError) as told:
        turn(angles, **more)
    assert told.value.where == where


def test_what_is_known_of_a_program_cannot_be_changed_afterwards():
    told = turn([0.0, 90.0])
    for array in (told.angle_deg, told.program.line_row, told.program.line_stroke):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
