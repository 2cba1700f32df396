"""Whatever a job is called, its name stays a comment: it never becomes a command, nor a stroke."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.machine import Profile
from engine.program import comment, write
from tests.program.paths import back
from tests.program.test_rs274 import HELIX

PIECES = [
    "(", ")", "\n", "\r", "\r\n", "\x00", "\x0b", "\x1b[2J", "\x85", "\u2028", "\u2029", "\u202e", "\uff08", "\uff09",
    "G0 Z-50", "G1 X0 F9999", "M3 S24000", "M2", "%", ";", "!", "~", "?", "$H", "$X", "\x18", "stroke 1", "(stroke 2)",
    "STROKE 3", "s t r o k e 4", "MSG, hold", "msg,", "(MSG, go)", "#5220=9", "[1+2]", "/", "O100 call", "\ud800",
    "\U0001f95a", "\u00df", "\u0661", "e\u0301", "Gourd 12", "duck egg", " " * 90, "x" * 300, "\t", "<", ">", "\\",
    "\"", "'", "&", "*/", "N10", "\ufeff", "\uff27\uff10", "^C", "",
]  # fmt: skip


def hostile_names():
    draw = random.Random(12)
    return [*PIECES, *("".join(draw.choices(PIECES, k=draw.randint(2, 6))) for _ in range(200 - len(PIECES)))]


def told(name):
    program = write(HELIX, Profile(), header=[("job", name)])
    reading = back(program, Profile())  # refuses anything between the brackets' lines that is no plain word
    return program, reading


def test_two_hundred_hostile_names_change_no_move_and_no_stroke():
    plain, quiet = told("Gourd 12")
    names = hostile_names()
    assert len(names) == 200
    for name in names:
        program, reading = told(name)
        assert reading.strokes == quiet.strokes == [1], name
        assert program.check_code == plain.check_code, name
        assert program.text.isascii() and program.text.split(b"(check code")[1] == plain.text.split(b"(check code")[1]
        head = program.text.split(b"(check code")[0]
        assert all(line[:1] == b"(" and line[-1:] == b")" for line in head.splitlines()), name
        moves = [(move.end, move.rapid, move.feed) for move in reading.moves]
        assert moves == [(move.end, move.rapid, move.feed) for move in quiet.moves], name


@given(st.text(max_size=400) | st.lists(st.sampled_from(PIECES), max_size=8).map("".join))
@settings(derandomize=True, deadline=None, max_examples=60)
def test_a_comment_is_always_one(text):
    for line in comment(text):
        assert 2 < len(line) <= 100 and line.isascii() and line.isprintable() and line[0] == "(" and line[-1] == ")"
        inside = line[1:-1]
        assert not set('();%!~?$[]{}\\"') & set(inside)
        assert not inside.lower().replace(" ", "").startswith(("stroke", "msg"))


@given(st.lists(st.text("abcdefghij.-", min_size=1, max_size=130), min_size=1, max_size=40))
@settings(derandomize=True, deadline=None, max_examples=40)
def test_no_word_is_lost_on_the_way(words):
    """Long texts go on over the next lines, each of which begins with a point."""
    lines = comment(" ".join(words))
    joined = "".join(line[1:-1].removeprefix(". ") if k else line[1:-1] for k, line in enumerate(lines))
    assert joined.replace(" ", "") == "".join(words)


def test_accents_and_widths_keep_their_letters():
    assert comment("K\u00fcrbis \uff27\uff10 \u00e9") == ["(Kurbis G0 e)"]
    assert comment("stroke 5") == ["(. stroke 5)"] and comment("MSG, wait") == ["(. MSG, wait)"]
    assert comment("") == [] and comment(" \n") == [] and comment("\U0001f95a") == ["(-)"]


@pytest.mark.parametrize("width", [20, 40, 72, 100, 300])
def test_no_line_is_longer_than_asked_and_no_word_is_lost(width):
    text = "keep collet and nose clear, 16 % of the cut may stay unmarked " + "0123456789abcdef" * 4
    lines = comment(text, width)
    assert max(map(len, lines)) <= min(width, 100)
    held = "".join(line[1:-1].removeprefix(". ") for line in lines).replace(" ", "")
    assert held == text.replace("%", "percent").replace(" ", "")
