"""Where the tool is changed the program stops, and goes on as if it had just begun; all other lines are as without."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine import FeedRule, Profile, ToolChange
from engine.program import Change, air, resume, write
from tests.program.paths import COLUMNS, back, body_moves, linked, on_blank, paths, profiles

few = settings(derandomize=True, deadline=None, max_examples=30)
ONE, TWO = (np.array([[x, a, 20], [x + 5, a, 20.0]]) for x, a in ((0, 0), (9, 1)))
CHANGE = Change(rpm=8000, says=("tool 2 of 2: ball (0.8 mm)", "touch off: set Z20.000"))


def two(first=None, second=None):
    """Two paths end to end, the second with another tool."""
    first, second = first or linked([ONE]), second or linked([TWO])
    columns = {name: np.concatenate([getattr(first, name), getattr(second, name)]) for name in COLUMNS}
    columns["stroke"][len(first) :] += first.stroke.max()
    return Path(**columns, tool=np.repeat([0, 1], [len(first), len(second)]))


def lines_of(path, profile, **more):
    return write(path, profile, rpm=9000, changes=[CHANGE], **more).text.decode().splitlines()


def test_the_lines_of_a_change():
    lines = lines_of(two(), Profile())
    k = lines.index("M0")
    assert lines[k - 5 : k + 8] == [
        "M5",
        "(tool 2 of 2: ball 0.8 mm)",
        "(touch off: set Z20.000)",
        "(MSG, fit tool 2, set Z again)",
        "T2",
        "M0",
        "G21 G90 G93",
        "G17 G40 G49 G80",
        "G0 Z22.0000",
        "G0 X9.0000 A57.2958",
        "S8000 M3",
        "G4 P2.000",
        "(stroke 2)",
    ]


def test_a_changer_is_told_to_change_and_the_program_waits_all_the_same():
    lines = lines_of(two(), Profile(tool_change=ToolChange.CHANGER))
    k = lines.index("T2 M6")
    assert lines[k + 1] == "M0" and "M6" not in " ".join(lines[k + 1 :])


@pytest.mark.parametrize(
    ("header", "off", "on"),
    [
        (["M8"], True, ["M8"]),
        (["G54 M7", "M08 (mist)"], True, ["M7", "M8"]),
        (["M8", "M9"], False, []),
        (["(M8)", "; M7", "M80.5", "M9"], False, []),
    ],
)
def test_coolant_is_off_while_a_hand_is_near_and_on_again_after(header, off, on):
    lines = lines_of(two(), Profile(header=tuple(header)))
    stop, spin = lines.index("M0"), lines.index("S8000 M3")
    assert ("M9" in lines[stop - 6 : stop]) is off
    assert lines[stop + 5 : spin] == on
    assert sum(line in header for line in lines) == len(header) + sum(line in header for line in on)


@given(paths(), paths(), profiles())
@few
def test_after_a_change_a_program_is_the_one_that_would_begin_there(first, second, profile):
    """Everything but the stroke numbers and the shop's header: nothing is taken over from before the stop."""
    whole = write(two(first, second), profile, rpm=9000, changes=[Change(rpm=8000)])
    alone = write(second, profile, rpm=8000)
    text = whole.text.decode()
    start = text.index("\nM0\n") + 4
    plain = [re.sub(r"\(stroke \d+\)", "()", part) for part in (text[start:], alone.text.decode())]
    assert plain[0] == plain[1].split("\n", alone.header_lines)[-1]


@given(paths(), paths(), profiles(), st.sampled_from(["stop", "changer"]))
@few
def test_every_row_of_both_tools_is_where_the_path_says(first, second, profile, how):
    profile = replace(profile, tool_change=ToolChange(how))
    path = two(first, second)
    program = write(path, profile, changes=[CHANGE])
    reading = back(program, profile)
    half = 0.51 * 10.0**-profile.decimals * (360.0 / (profile.mm_per_turn or 360.0))
    for move, row in body_moves(program, reading):
        place = on_blank(move.end, profile)
        assert place[0] == pytest.approx(path.x_mm[row], abs=half)
        assert place[2] == pytest.approx(path.r_mm[row], abs=half)
        assert move.rapid == (path.kind[row] == Kind.TRAVEL)
    lines = program.text.split(b"\n")[:-1]
    assert len(lines) == len(program.line_row) == len(program.line_stroke)
    assert program.dropped == len(path) - 2 - int((program.line_row >= 0).sum())


@pytest.mark.parametrize("changes", [[], [CHANGE, CHANGE]])
def test_as_many_changes_are_told_as_the_path_has(changes):
    with pytest.raises(ProgramError, match=f"1 changes of the tool, words for {len(changes)}"):
        write(two(), Profile(), changes=changes)


@pytest.mark.parametrize("rule", list(FeedRule))
def test_an_air_run_changes_nothing(rule):
    lifted = air(two(), lift_mm=3.0)
    assert lifted.stints == ((0, len(lifted)),)
    text = write(lifted, Profile(feed_rule=rule), spindle=False).text
    assert b"M0" not in text and b"T2" not in text


def test_going_on_after_the_change_begins_with_the_tool_that_cuts_there():
    rest = resume(two(), 2, Profile())
    assert set(rest.tool.tolist()) == {1} and set(rest.stroke.tolist()) <= {0, 2}
    assert b"M0" not in write(rest, Profile(), rpm=8000).text
    whole = resume(two(), 1, Profile())
    assert [int(whole.tool[k]) for k, _ in whole.stints] == [0, 1]


def test_words_for_the_stop_keep_to_the_controllers_lines():
    told = Change(says=("a place that is told in so many words that no short line holds them all",))
    program = write(two(), Profile(longest_line=40), changes=[told])
    assert max(map(len, program.text.decode().splitlines())) <= 40
