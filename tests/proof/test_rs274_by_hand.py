"""Programs as people edit them and as our own writer prints them: read, or refused where the slip stands."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.program import write
from engine.proof.replay import replay
from engine.proof.rs274_reader import read
from tests.program.paths import paths, profiles
from tests.proof.programs import HEAD, done, refused


@pytest.mark.parametrize(
    "line",
    [
        "g1 x5 f9",
        "G 1 X 5 F 9",
        "\tG1\tX5\tF9\t",
        "G01 X05. F09",
        "G1X+5.F9",
        "N10 G1 X5.000 F9. (to the right)",
        "  G1   X5   F9   ",
        "x5f9g1",
    ],
)
def test_however_it_is_written(line):
    told = done(line)
    assert (told.end[-1, 0], told.feed[-1], told.motion[-1]) == (5, 9, 1)


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("G1 X1,5 F9", 6, "decimal point"),
        ("G1 X5 F9 and so on", 10, "A has no number"),
        ("G1 X5 F9 %", 10, "alone on its line"),
        ("G1 X5 F9 \\", 10, "begins no word"),
        ("G1 X5 F9 \x00", 10, "begins no word"),
        ("G1 X5 F9 \u00e9", 10, "ASCII"),
        ("G1 X\u2212" + "5 F9", 5, "ASCII"),
        ("G1 X1e3 F9", 6, "exponents"),
        ("G1 X5 F9 // fast", 10, "first on its line"),
    ],
)
def test_what_slips_in_is_refused_where_it_stands(line, column, words):
    told = refused(line)
    assert told[:2] == (1, column)
    assert words in told[2]


def test_a_byte_order_mark_is_named():
    told = read(b"\xef\xbb\xbfG21 G90\nM2\n").fault
    assert (told.line, told.column) == (1, 1) and "byte order mark" in told.message


def test_a_megabyte_of_blank_lines_is_counted():
    told = read(b"G21 G90\n" + b"\n" * (1 << 20) + b"G0 X1\n" + b" \t\r\n" * 1000 + b"hello\nM2\n")
    assert told.line.tolist() == [(1 << 20) + 2]
    assert told.fault.line == (1 << 20) + 1003


def test_a_megabyte_without_a_line_end_is_refused():
    assert read(b"X" * (1 << 20)).fault.column == 257


NUMBERS = st.one_of(
    st.from_regex(r"[+-]?[0-9]{0,6}\.?[0-9]{0,6}", fullmatch=True),
    st.sampled_from(["9" * 200, "0." + "0" * 200 + "1", "-", "", "1e5", "38.2", "93", "20", "91"]),
)
WORD = st.builds("{}{}".format, st.sampled_from("GMXAZFSTPN" * 4 + "BCDEHIJKLOQRUVWY#[]()%/;=*,. "), NUMBERS)
TYPED = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=12)
LINES = st.lists(st.lists(st.one_of(WORD, WORD, WORD, TYPED), max_size=5).map(" ".join), max_size=12)


@settings(derandomize=True, deadline=None, max_examples=120)
@given(LINES, st.sampled_from(["", HEAD, "G20 G91 G93\n", "G21 G90 G94 F5\nG0 X0 A0 Z9\nG38.2 Z1\n"]))
def test_no_words_raise(lines, head):
    text = (head + "\n".join(lines)).encode()
    quick, exact = read(text), read(text, exact=True)
    assert quick.fault is None or 1 <= quick.fault.line <= text.count(b"\n") + 2
    assert str(quick.fault) == str(exact.fault)
    np.testing.assert_array_equal(quick.end, exact.end)


@given(paths(), profiles(), st.sampled_from([0.0, 20.0]))
@settings(derandomize=True, deadline=None, max_examples=40)
def test_a_printed_path_is_read_as_its_own_rows(path, profile, zero_r_mm):
    program = write(path, profile, zero_r_mm=zero_r_mm)
    moves = read(program.text, axes="".join(profile.letters))
    assert moves.fault is None
    told = replay(moves, profile, zero_r_mm=zero_r_mm)
    step = 10.0**-profile.decimals
    turned = 2 * np.pi * step / (profile.mm_per_turn or 360.0)
    row = program.line_row[moves.line - 1]
    mine = row >= 0
    wanted = np.stack([path.x_mm, path.theta_rad, path.r_mm], 1)[row[mine]]
    assert (np.abs(told.end[mine] - wanted) <= np.array([step, turned, step])).all()
    np.testing.assert_array_equal(told.stroke[mine], path.stroke[row[mine]])
    assert row[mine].tolist() == sorted(set(row[mine].tolist()))
    assert mine.sum() + program.dropped == len(path) - 1
