"""The grammar of one line, from NISTIR 6556 3.3 and table 4."""

import pytest

from engine.proof.rs274_lines import ReadError, parse


def test_white_space_and_case_mean_nothing():  # 3.3: the report's own example
    a, b = parse("g0x +0. 12 34y 7", 1), parse("G0 X+0.1234 Y7", 1)
    assert (a.g, a.words) == (b.g, b.words) == ((0,), {"X": 0.1234, "Y": 7.0})


@pytest.mark.parametrize(
    ("text", "value"), [("X1", 1), ("X1.", 1), ("X.5", 0.5), ("X-.5", -0.5), ("X+1.50", 1.5), ("X007", 7)]
)
def test_numbers(text, value):  # 3.3.2.1
    assert parse(text, 1).words == {"X": value}


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("G1 X", 4),  # a letter without its number
        ("G1 X1.2.3", 8),  # 3.3.2.1: one point
        ("G1 X1e3", 6),  # 3.3.2.1: no exponent
        ("G1 X--1", 4),
        ("G1 X1 X2", 7),  # 3.3.5: any other letter once
        ("G0 G1 X1", 4),  # table 4, group 1
        ("G20 G21", 5),
        ("G93 G94", 5),
        ("M3 M5", 4),
        ("M7 M8", 4),  # 3.3.5: both may be on, but not by one line
        ("M0 M3 M6 M7 M48", 13),  # 3.3.5: four M words at most
        ("G12 X1", 1),  # no code of table 5
        ("G1.05 X1", 1),  # 3.3.2.1: too far from a code
        ("M3.5", 1),
        ("N000009", 1),  # 3.3.1: five digits at most
        ("N-1", 1),
        ("N1.5 X1", 3),
        ("X1 N5", 4),  # 3.3: N stands first
        ("(a (b) c)", 4),  # 3.3.4: none inside another
        ("(open", 1),
        ("X1)", 3),
        ("X1 ; more", 4),  # no comment of this standard
        ("X[1+1]", 1),
        ("#1=5", 1),
        ("O100 sub", 1),
        ("X1 é", 4),
        ("X" + "1" * 256, 257),  # 3.3: 256 characters at most
    ],
)
def test_what_the_standard_forbids_is_refused_at_its_column(text, column):
    with pytest.raises(ReadError) as caught:
        parse(text, 7)
    assert (caught.value.line, caught.value.column) == (7, column)


def test_what_the_standard_allows_is_read():
    assert parse("N99999 M3 M8", 1).m == (3, 8)
    assert parse("G1.00005X1", 1).g == (1,)  # 3.3.2.1: within 0.0001 of a whole number
    assert parse("/G1 X1", 1).deleted
    assert parse("(one) X1 (two)", 1).comments == ("one", "two")
    assert parse("X" + "1" * 255, 1).words["X"] == float("1" * 255)
    assert parse("G38.2 G59.3", 1).g == (38.2, 59.3)
    assert parse("", 1).words == {}
