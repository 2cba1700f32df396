"""What a program does, from NISTIR 6556 2.1.2.5, 3.5 to 3.7, table 8; the quick path is as exact to the last bit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.proof import rs274_reader
from engine.proof.rs274_lines import parse
from engine.proof.rs274_reader import read

HEAD = "G21 G90 G94\nG0 X0 A0 Z1\n"


def moves(body, head=HEAD, **kw):
    return read((head + body + "\nM2\n").encode(), **kw)


def fault(body, head=HEAD):
    told = moves(body, head).fault
    assert told is not None, "nothing was refused"
    return told


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("G1 X1", "F 0"),  # a message of the standard's own interpreter
        ("G93\nG1 X1 F2\nG1 X2", "without its own F"),  # 3.5.19
        ("G93\nG38.2 Z-1 F2", "G38.2 under G93"),  # 3.5.9.1
        ("G38.2 Z0.8 F10", "0.254 mm or more"),  # 3.5.9.1
        ("G38.2 A5 F10", "linear axes only"),
        ("G4 P-1", "seconds of at least 0"),
        ("G4", "needs P"),
        ("S-1", "negative"),
        ("F-1", "negative"),
        ("T1.5", "whole number"),
        ("G1 F10", "without an axis word"),
        ("G80\nX1", "no motion in force"),
        ("G1 Y1 F10", "no axis Y"),
        ("G2 X1 I1", "arcs"),
        ("G53 G0 X0", "machine coordinates"),
        ("G92 X0", "shifts"),
        ("G55", "only G54"),
        ("G81 X1 Z0 R1", "canned"),
        ("G43 H1", "length offsets"),
        ("X1 K2", "no use"),
        ("M2\nX1", "after the program's end"),
        ("G20 F5", "changes the units"),
    ],
)
def test_what_the_standard_or_this_reader_refuses(body, words):
    assert words in fault(body).message


def test_moves_before_units_distance_or_feed_mode_are_refused():
    assert "units" in fault("", head="G90 G94\nG0 X1\n").message
    assert "units" in fault("", head="G21 G94\nG0 X1\n").message
    assert "G93 or G94" in fault("G1 X1 F10", head="G21 G90\nG0 X0 A0 Z1\n").message
    assert "unknown X" in fault("", head="G21 G91 G94\nG0 X1\n").message


def test_a_program_ends_with_m2_m30_or_stands_between_percents():  # 3.1
    assert read(b"G21 G90\nG0 X1\n").fault.code == "no-end"
    assert read(b"%\nG21 G90\nG0 X1\n").fault.code == "no-end"
    assert read(b"%\nG21 G90\nG0 X1\n%\nanything at all\n").fault is None
    assert read(b"G21 G90\nG0 X1\nM30").fault is None
    assert read(b"G21 G90\n%\nM2").fault.line == 2


def test_the_order_on_a_line_is_table_8s():
    done = read(b"G21 G90 G94\nG0 X0 A0 Z0\nM2 G1 X1 S5000 M3 F100\n")  # table 8: the order of execution
    assert done.fault is None
    assert (done.spindle[-1], done.end[-1, 0], done.feed[-1]) == (1, 1.0, 100.0)


def test_units_change_linear_words_and_feeds_but_no_degrees():  # 3.5.7, 2.1.2.9
    done = moves("G20\nG1 X1 A90 F10\nG1 A0 F10\nG91 G1 X1")
    assert done.end[1:].tolist() == [[25.4, 90.0, 1.0], [25.4, 0.0, 1.0], [50.8, 0.0, 1.0]]
    assert done.feed[1:].tolist() == [254.0, 10.0, 254.0]


def test_spindle_strokes_and_modes_are_carried():
    done = moves("M3 S100\n(stroke 3)\nG1 X1 F5\nM6 T2\nX2\n/X9\n(Stroke 4)\nM4\nX3\nM5\nX4")
    assert done.spindle.tolist() == [0, 1, 0, -1, 0]
    assert done.stroke.tolist() == [0, 3, 3, 4, 4]
    assert done.line.tolist() == [2, 5, 7, 11, 13]
    assert (6, "tool change") in done.events
    assert (8, "block delete") in done.events


def test_without_a_speed_the_spindle_is_taken_to_turn_and_at_none_to_stand():
    assert moves("M3\nG1 X1 F5\nS0\nX2\nS5\nX3").spindle.tolist()[1:] == [1, 0, 1]
    assert (3, "no speed") in moves("M3\nG1 X1 F5").events
    assert [what for _, what in moves("S5 M3\nG1 X1 F5").events] == ["spindle", "end"]


def test_what_stands_before_a_fault_is_given_with_it():
    done = moves("G1 X1 F5\nG1 X2\nhello\nG1 X3")
    assert (done.fault.line, len(done)) == (5, 3)


def test_a_shop_line_that_cannot_be_followed_leaves_the_place_unknown():
    text = b"G21 G90 G94\nG0 X0 A0 Z1\nG28 X0\nG0 X5\nM2\n"
    assert read(text).fault.line == 3
    done = read(text, shop=["G28 X0"])
    assert done.fault is None
    assert np.isnan(done.start[-1]).all()
    assert done.end[-1, 0] == 5 and np.isnan(done.end[-1, 1:]).all()


def test_an_f_said_in_another_unit_or_mode_is_forgotten():
    assert "F 0" in fault("G1 X1 F10\nG20\nG1 X2").message
    assert "F 0" in fault("G93\nG1 X1 F10\nG94\nG1 X2").message


def test_the_last_stroke_comment_counts_however_it_is_written():
    runs = "\n".join(f"G1 X{k} F9" for k in range(40))
    done = moves(f"(stroke 3)\n{runs}\n( stroke 13 )\n{runs}\n(stroke 14)\n{runs}")
    assert done.stroke[1:].tolist() == [3] * 40 + [13] * 40 + [14] * 40


@st.composite
def line(draw):
    if draw(st.integers(0, 9)) == 0:
        return draw(st.sampled_from(ODD))
    words = draw(WORDS)
    g = draw(st.sampled_from(["", "G0", "G1", "G1"]))
    if not any(letter in "XAZ" for letter, _ in words):
        words = [*words, ("X", "1.5")]
    written = draw(st.sampled_from([" ", " ", "", "  "])).join([*([g] if g else []), *(f"{a}{b}" for a, b in words)])
    return written.lower() if draw(st.booleans()) else written


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    body=st.lists(line(), min_size=1, max_size=60),
    short=st.sampled_from([1, 3, 24]),
    chunk=st.sampled_from([64, 1 << 19]),
)
def test_the_quick_path_reads_what_the_exact_path_reads(body, short, chunk):
    text = ("G21 G90 G94 F100\nG0 X0 A0 Z5\n" + "\n".join(body) + "\nM2\n").encode()
    was = rs274_reader.SHORT, rs274_reader.CHUNK
    rs274_reader.SHORT, rs274_reader.CHUNK = short, chunk
    try:
        quick = read(text)
    finally:
        rs274_reader.SHORT, rs274_reader.CHUNK = was
    exact = read(text, exact=True)
    assert str(quick.fault) == str(exact.fault)
    for name in ("start", "end", "motion", "feed", "inverse", "spindle", "stroke", "line"):
        np.testing.assert_array_equal(getattr(quick, name), getattr(exact, name), err_msg=name)
    assert quick.events == exact.events


NUMBER = st.one_of(
    st.decimals(-99999, 99999, places=4, allow_nan=False).map(lambda d: f"{d:f}"),
    st.sampled_from(["0", "-0.0", "00012.5", "1.", "-.5", "+3.25", "123456789.5", "1.00000001", "7"]),
)
WORDS = st.lists(st.tuples(st.sampled_from("XAZF"), NUMBER), max_size=4, unique_by=lambda w: w[0])
ODD = [
    "",
    "(note)",
    "(stroke 12)",
    "( stroke 13 )",
    "(stroke 123456789)",
    "G1 x1 F20",
    "N5 X2",
    "G91",
    "G90",
    "G20",
    "G21",
]
ODD += ["N7 G1 X2", "n00012x3", "N123456 X1", "N1.5 X1", "N-1 X1", "N1. X1", "X1 N2", "N3", "N4 N5 X1", "X1 2", "X- 1"]
ODD += [
    "X.",
    "X-.",
    "X+.5",
    "x-1.A+.25 Z3.",
    "X1..2",
    "X+-1",
    "g1\tx2",
    "X1 ",
    " ",
    "(STROKE 8)",
    "(Stroke 9)",
    "(stroke 1 )",
]
ODD += ["G93", "G94 F7", "M3 S5", "F30", "(stroke 4) X1", "X1 (stroke 5)", "/X4", "X1  A2", "  X3", "M5\r", "G0"]


@pytest.mark.parametrize(
    "line",
    ["G1 x1.5 a-2 F9", "x1 a2", "X1A2", "X1.A.5", "N10 G1 X+1 A2", "  X1   A2", "X1\tA2", "(stroke 7)", "(STROKE 7)"],
)
def test_lines_as_others_write_them_are_read_many_at_once(line, monkeypatch):
    slow = []
    monkeypatch.setattr(rs274_reader, "parse", lambda text, number: slow.append(text) or parse(text, number))
    body = "G1 X0 F9\n" + f"{line}\nX3\n" * 500
    done = moves(body)
    assert done.fault is None and len(slow) < 10
    assert done.end.tolist() == moves(body, exact=True).end.tolist()


@pytest.mark.parametrize("line", ODD)
def test_an_odd_line_among_plain_ones_is_read_as_it_is_alone(line):
    plain = "X1 A1\nX2 A2\n" * 20
    body = f"G1 X0 F9\n{plain}{line}\n{plain}"
    quick, exact = moves(body), moves(body, exact=True)
    assert str(quick.fault) == str(exact.fault)
    np.testing.assert_array_equal(quick.end, exact.end)
    np.testing.assert_array_equal(quick.stroke, exact.stroke)


def test_too_many_lines_to_be_read_one_by_one_are_refused_at_the_first_above(monkeypatch):
    monkeypatch.setattr(rs274_reader, "MOST_EXACT", 20)
    done = moves("G1 X1 F9 (a)\n" * 40)
    assert done.fault.line == 21 and "comments" in done.fault.message and len(done) == 19
    assert moves("G1 X1 F9 (a)\n" * 17).fault is None
    assert moves("G1 X1 F9\n" * 40).fault is None
    assert moves("G1 X1 F9 (a)\n" * 40, exact=True).fault is None


def test_every_digit_of_a_long_program_is_read_as_float_reads_it():
    rng = np.random.default_rng(4)
    words = [f"{v:.{k}f}" for v, k in zip(rng.uniform(-4000, 4000, 3000), rng.integers(1, 8, 3000), strict=True)]
    text = "G21 G90 G94 F9\nG0 A0 Z0 X0\n" + "\n".join(f"G1 X{w}" for w in words) + "\nM2\n"
    assert read(text.encode()).end[1:, 0].tolist() == [float(w) for w in words]


@settings(derandomize=True, deadline=None, max_examples=150)
@given(st.binary(max_size=120))
def test_any_bytes_are_read_or_refused(data):
    done = read(b"G21 G90 G94\n" + data)
    assert done.fault is None or done.fault.line >= 1
