"""The writer's text: the standard's lines, the path's places, one stroke after the other."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine import FeedRule, Profile
from engine.program import write
from tests.program.paths import FREE, back, body_moves, linked, on_blank, paths, profiles, straight

HELIX = linked([np.stack([np.linspace(0, 5, 50), np.linspace(0, 4 * np.pi, 50), np.full(50, 20.0)], 1)])


@given(paths(), profiles(), st.sampled_from([0.0, 20.0]))
@settings(derandomize=True, deadline=None, max_examples=50)
def test_every_row_is_reached_within_half_a_step(path, profile, zero_r_mm):
    program = write(path, profile, zero_r_mm=zero_r_mm)
    reading = back(program, profile)
    unit = 10.0**-profile.decimals
    half = 0.5000001 * np.array([unit, unit * 360 / (profile.mm_per_turn or 360), unit]) + 1e-9
    wanted = np.stack([path.x_mm, np.degrees(path.theta_rad), path.r_mm], 1)
    ends = {row: move for move, row in body_moves(program, reading)}
    first = [move for move in reading.moves if program.line_row[move.line - 1] < 0]
    held = first[-1].end
    for row in range(len(path)):
        if row in ends:
            held = ends[row].end
            assert ends[row].rapid == (path.kind[row] == Kind.TRAVEL)
            assert ends[row].stroke == path.stroke[row] == program.line_stroke[ends[row].line - 1]
        # A row without a line of its own has the words of the one before it.
        assert (np.abs(np.array(on_blank(held, profile, zero_r_mm)) - wanted[row]) <= half).all()
    assert program.dropped == len(path) - 1 - len(ends)


@given(paths(), profiles())
@settings(derandomize=True, deadline=None, max_examples=40)
def test_no_line_breaks_the_standard(path, profile):
    """The reader itself refuses long lines, exponents, -0, doubled letters, an F left out under G93."""
    program = write(path, profile, rpm=12_000, header=[("job", "w" * 400 + "(b)\n%")])
    reading = back(program, profile)
    assert reading.ended and program.text.endswith(b"\nM2\n")
    assert {21, 90, 93 if profile.feed_rule is FeedRule.INVERSE_TIME else 94} <= reading.modes
    assert not {93, 94} <= reading.modes
    decimals = {
        len(word.partition(".")[2])
        for line in program.text.decode().splitlines()
        if not line.startswith("(")
        for word in re.findall(rf"[{''.join(profile.letters)}]-?([\d.]+)", line)
    }
    assert decimals == {profile.decimals}
    for move, _ in body_moves(program, reading):
        unchanged = {letter for letter in move.said if move.start[letter] == move.end[letter]}
        assert not unchanged  # so that a block of the rotary alone carries no linear word (2.1.2.5 B)


@given(paths(), profiles())
@settings(derandomize=True, deadline=None, max_examples=25)
def test_strokes_are_announced_in_order_each_once(path, profile):
    program = write(path, profile)
    assert back(program, profile).strokes == sorted(set(path.stroke.tolist()) - {0})
    lines = program.text.split(b"\n")[:-1]
    assert len(lines) == len(program.line_stroke) == len(program.line_row)
    for n, line in zip(program.line_stroke.tolist(), lines, strict=True):
        assert not line.startswith(b"(stroke ") or line == b"(stroke %d)" % n
    rows = program.line_row[program.line_row >= 0]
    assert (np.diff(rows) > 0).all()


@pytest.mark.parametrize("rule", list(FeedRule))
def test_same_input_same_bytes(rule):
    assert write(HELIX, Profile(feed_rule=rule)).text == write(HELIX, Profile(feed_rule=rule)).text


def test_the_rotary_is_never_wrapped_by_the_writer():
    far = Path(**{n: getattr(HELIX, n) for n in ("x_mm", "r_mm", "kind", "stroke", "feed_mm_min")} | {
        "theta_rad": HELIX.theta_rad + 2 * np.pi * 30})  # fmt: skip
    assert back(write(far, Profile()), Profile()).moves[-1].end["A"] == pytest.approx(720 + 360 * 30)


def test_the_tool_goes_up_before_it_goes_anywhere():
    """Where the tool stands at the start is not known: the first move names the radial axis alone."""
    first, second, *_ = back(write(HELIX, Profile()), Profile()).moves
    assert (first.said, first.rapid, second.said, second.rapid) == ({"Z"}, True, {"X", "A"}, True)
    assert first.end["Z"] == pytest.approx(HELIX.r_mm[0])


def test_the_spindle_turns_before_the_first_feed_and_stops_at_the_end():
    for rpm, spindle, wanted in ((9000, True, {9000.0}), (9000, False, {0.0})):
        program = write(HELIX, Profile(dwell_s=1.5), rpm=rpm, spindle=spindle)
        moves = back(program, Profile()).moves
        assert {move.spindle for move in moves if not move.rapid} == wanted
        assert (b"G4 P1.500" in program.text) == spindle
        assert program.text.endswith(b"M5\nM2\n")


def test_the_shops_own_lines_stand_as_they_are():
    program = write(HELIX, Profile(header=("G54", "M8"), footer=("M9",)))
    assert b"\nG54\nM8\n" in program.text and program.text.endswith(b"M5\nM9\nM2\n")


def test_a_word_too_long_to_be_exact_is_refused():
    with pytest.raises(ProgramError, match="too long"):
        write(straight(1e13, 0, 0, 25, 600), Profile(decimals=6, **FREE))


@pytest.mark.parametrize("turned", [False, True])
def test_nothing_that_rounds_to_zero_has_a_sign(turned):
    """Every word falls to a hair below or above zero and comes back, on plain and on reversed axes."""
    axes = {name: replace(axis, reversed=turned) for name, axis in FREE.items()}
    hair = np.array([3, -1e-9, 2, 1e-9, -4, -1e-9, 5.0])
    path = linked([np.stack([hair, np.roll(hair, 1), 20 + np.roll(hair, 2)], 1)])
    program = write(path, Profile(**axes), zero_r_mm=20.0)
    assert back(program, Profile(**axes)).ended  # the reader refuses "-0"
    words = program.text.decode().split()
    assert all(any(word in (f"{k}0.0000", f"G1{k}0.0000") for word in words) for k in "XAZ")


def test_rows_that_round_to_one_place_give_one_line():
    t = np.linspace(0, 1, 1001)
    program = write(linked([np.stack([0.01 * t, 0 * t, 20 + 0 * t], 1)]), Profile(decimals=3))
    assert program.dropped == 990 and program.text.count(b"\n") < 40


def test_a_program_without_a_cut_is_one_too():
    rest = Path(x_mm=[1], theta_rad=[0], r_mm=[30], kind=[3], stroke=[0], feed_mm_min=[1])
    reading = back(write(rest, Profile()), Profile())
    assert reading.ended and len(reading.moves) == 2 and reading.strokes == []
