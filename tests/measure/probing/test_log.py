"""Reading logs: what each form means, what is passed over, and what is refused with the place where it goes wrong."""

import math
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from engine.kernel.errors import BlankError
from engine.kernel.findings import Severity
from engine.machine import Axis, Profile
from engine.measure.probing import find_touches, read_log

POINTS = np.array([20.0, 20.0, 20.0, 40.0, 40.0, 40.0]), np.array([0.0, 90.0, 180.0, 180.0, 90.0, 0.0])
RADII = [22.0, 22.5, 23.0, 24.0, 24.5, 25.0]


def report(x, angle, z, flag=1):
    return f"[touch:{x:.3f},0.000,{z:.3f},{angle:.3f}:{flag}]"


LINES = [report(x, a, r) for x, a, r in zip(*POINTS, RADII, strict=True)]


def log(lines=LINES, **more):
    told = {"profile": Profile(), "tip_radius_mm": 1.0, "unit": "mm", "points": POINTS} | more
    return read_log("\n".join(lines).encode(), **told)


def refused(lines=LINES, **more):
    with pytest.raises(BlankError) as told:
        log(lines, **more)
    assert told.value.hint or told.value.where != "/log"
    return f"{told.value.message} | {told.value.hint}"


def test_a_report_is_the_balls_centre_on_the_blank():
    told = log()
    assert told.form == "bracketed reports" and not told.findings
    assert told.centres.x_mm.tolist() == POINTS[0].tolist()
    assert np.degrees(told.centres.theta_rad) == pytest.approx(POINTS[1])
    assert told.centres.radius_mm == pytest.approx(np.array(RADII) + 1.0)
    assert log(sigma_mm=0.02).centres.sigma_mm.tolist() == [0.02] * 6


@pytest.mark.parametrize(
    "text",
    [
        "20 0 22.5 90\n40 0 25 0",
        "20,0\t0,0\t22,5\t90\n40\t0\t25\t0\n",
        "2e1 0 2.25e1 90\r\n40 0 25 0\r\n",
        "20 0 22.5 90 0 0\n40 0 25 0 0 0",
        "x,a,z\n20,90,22.5\n40,0,25",
        "X;A;Z\r\n20,0;90;22,5\r\n40;0;25\r\n",
        "z\tx\ta\n22.5\t20\t90\n25\t40\t0",
        "x_mm,angle_deg,radius_mm\n20,90,22.5\n40,0,25",
        "n;x_mm;theta_rad;r_mm;ok\n1;20;1,5707963268;22,5;1\n2;40;0;25;true",
        '"x_mm","angle_deg","radius_mm"\n"20","90","22.5"\n"40","0","25"',
        "n,x_mm,a,z_mm\n1,20,90,22.5\n2,40,0,25",
        "x_in,a,z_in\n0.787401575,90,0.885826772\n1.574803150,0,0.984251969",
        "probing of the plum gourd\nok\nx,a,z\n20,90,22.5\nok\n40,0,25\n\n",
        "\ufeffx,a,z\n20,90,22.5\n40,0,25",
        "> [T1: 20.0 , 0, 22.5, 90.0 : 1] ok\nok[t1:40,0,25,0:1]",
        "[T1:20,0,22.5,90:1][T1:40,0,25,0:1]",
    ],
)
def test_every_form_says_the_same(text):
    for data in (text.encode(), text.encode("utf-16")):
        told = read_log(data, profile=Profile(), tip_radius_mm=0.5, unit="mm", points=([20, 40], [90, 0]))
        assert told.centres.x_mm == pytest.approx([20, 40], abs=1e-6)
        assert np.degrees(told.centres.theta_rad) == pytest.approx([90, 0], abs=1e-6)
        assert told.centres.radius_mm == pytest.approx([23.0, 25.5], abs=1e-6)


def test_letters_signs_and_units_are_the_machines():
    machine = Profile(
        axial=Axis(letter="Y", reversed=True),
        rotary=Axis(letter="X", reversed=True),
        radial=Axis(letter="Z", reversed=True),
        mm_per_turn=125.0,
        feed_rule=Profile().feed_rule,
    )
    told = read_log(b"[P:-31.25,-20,5:1]", profile=machine, tip_radius_mm=1.0, unit="mm", zero_r_mm=25.0)
    assert told.centres.x_mm.tolist() == [20.0] and np.degrees(told.centres.theta_rad) == pytest.approx([90.0])
    assert told.centres.radius_mm.tolist() == [21.0]
    inch = b"[P:-1.230314961,-0.787401575,0.196850394:1]"
    told = read_log(inch, profile=machine, tip_radius_mm=1.0, unit="inch", zero_r_mm=25.0)
    assert told.centres.x_mm == pytest.approx([20.0]) and np.degrees(told.centres.theta_rad) == pytest.approx([90.0])
    assert told.centres.radius_mm == pytest.approx([21.0])


def test_named_places_on_the_blank_are_no_words_of_the_machine():
    machine = Profile(axial=Axis(letter="X", reversed=True), rotary=Axis(letter="A", reversed=True))
    data = b"x_mm,angle_deg,radius_mm\n20,90,22.5\n"
    told = read_log(data, profile=machine, tip_radius_mm=1.0, unit="mm", zero_r_mm=9.0)
    assert told.centres.x_mm.tolist() == [20.0] and told.centres.radius_mm.tolist() == [23.5]
    assert np.degrees(told.centres.theta_rad) == pytest.approx([90.0])
    words = read_log(b"x_mm,a_deg,radius_mm\n-20,-90,22.5\n", profile=machine, tip_radius_mm=1.0, unit="mm")
    assert words.centres.x_mm.tolist() == [20.0] and np.degrees(words.centres.theta_rad) == pytest.approx([90.0])


def test_the_programs_zero_in_the_machines_own_count_is_taken_off():
    shifted = [report(x - 300.0, a + 15.0, r - 120.0) for x, a, r in zip(*POINTS, RADII, strict=True)]
    told = log(shifted, origin=(-300.0, 15.0, -120.0))
    assert told.centres.radius_mm == pytest.approx(np.array(RADII) + 1.0)
    said = refused(shifted)
    assert "shifted by -300.000 mm and 15.000 degrees" in said and "origin" in said


def test_a_rotary_that_counts_the_other_way_is_named():
    said = refused([report(x, -a, r) for x, a, r in zip(*POINTS, RADII, strict=True)])
    assert "touch 2 (line 2)" in said and "the other way round" in said


def test_a_rotary_that_is_logged_within_one_turn_is_the_same_angle():
    told = log([report(x, (a + 180) % 360 - 180 - 360, r) for x, a, r in zip(*POINTS, RADII, strict=True)])
    assert np.cos(told.centres.theta_rad) == pytest.approx(np.cos(np.radians(POINTS[1])))


def test_everything_else_is_counted_and_told():
    lines = ["ok", "OK ", "ALARM:5", "error 9", "", ">", "G1 X3", "N5 G38.2 Z4", "hello", "[X:broken,1:1]"]
    told = log([*LINES[:3], *lines, *LINES[3:]])
    assert len(told.centres) == 6
    says = {f.code: (f.severity, f.message) for f in told.findings}
    assert says["alarms-in-log"] == (Severity.WARNING, "the log holds 2 alarms and errors")
    assert says["unread-lines"] == (Severity.WARNING, "the log holds 1 reports that cannot be read")
    assert says["other-lines"][0] is Severity.NOTE
    for words in ("2 acknowledgements", "1 blank lines", "1 prompts", "2 program lines", "1 other lines"):
        assert words in says["other-lines"][1]


def test_rows_whose_cells_are_no_numbers_are_told():
    data = b"x;a;z\n20;9o;22\n20;90;22,5\n"
    told = read_log(data, profile=Profile(), tip_radius_mm=1.0, unit="mm")
    assert len(told.centres) == 1 and [f.code for f in told.findings] == ["unread-lines"]
    assert told.findings[0].message == "the log holds 1 rows that cannot be read"


def test_a_named_word_of_a_rotary_in_mm_is_a_length():
    machine = Profile(rotary=Axis(letter="A", reversed=True), mm_per_turn=127.0)
    data = b"x_mm,a,z_mm\n20,-1.25,22.5\n"
    told = read_log(data, profile=machine, tip_radius_mm=1.0, unit="inch")
    assert np.degrees(told.centres.theta_rad) == pytest.approx([90.0]) and told.centres.x_mm.tolist() == [20.0]


def test_touches_that_found_nothing_are_missing_points():
    lines = list(LINES)
    lines[4] = report(40, 90, 19.0, 0)
    told = log(lines)
    assert told.missing.tolist() == [4] and told.point.tolist() == [0, 1, 2, 3, 5] and len(told.centres) == 5
    (finding,) = told.findings
    assert finding.code == "nothing-found" and (finding.where.x_mm, finding.where.angle_deg) == (40.0, 90.0)
    assert "line 5" in finding.message
    table = "x;a;z;found\n20;0;22;1\n20;90;22;0\n"
    told = read_log(table.encode(), profile=Profile(), tip_radius_mm=1.0, unit="mm")
    assert told.missing.tolist() == [1]


def test_the_last_of_several_touches_counts_and_the_others_must_agree():
    twice = [t for x, a, r in zip(*POINTS, RADII, strict=True) for t in (report(x, a, r + 0.1), report(x, a, r))]
    told = log(twice, touches=2)
    assert told.centres.radius_mm == pytest.approx(np.array(RADII) + 1.0) and not told.findings
    twice[6] = report(40, 180, 25.0)
    (finding,) = log(twice, touches=2).findings
    assert finding.code == "touches-differ" and "1 points" in finding.message and "1.00 at most" in finding.message
    assert (finding.where.x_mm, finding.where.angle_deg) == (40.0, 180.0)
    assert "(touch 2 of 2)" in refused([*twice[:3], *twice[4:]], touches=2)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (LINES[:-1], ["5 touches, the program 6", "ends before point 6, at x 40, angle 0", "rest is missing"]),
        ([*LINES, LINES[-1]], ["7 touches, the program 6", "touch 7 (line 7)", "more follows"]),
        ([*LINES[:2], *LINES[3:]], ["touch 3 (line 3)", "point 3 at x 20, angle 180", "that point is missing"]),
        ([*LINES[:3], LINES[2], *LINES[3:]], ["touch 4 (line 4)", "stands there twice"]),
        ([LINES[0], LINES[2], LINES[1], *LINES[3:]], ["touch 2 (line 2)", "have changed places"]),
        ([report(30, 10, 22), *LINES[1:]], ["touch 1 (line 1) is at x 30", "log of this program"]),
        ([*LINES[:4], report(41, 90, 24.5), LINES[5]], ["touch 5 (line 5) is at x 41", "log of this program"]),
        ([report(x / 25.4, a, r / 25.4) for x, a, r in zip(*POINTS, RADII, strict=True)], ["the log is in inches"]),
    ],
)
def test_a_log_that_is_not_the_programs_is_refused_where_the_two_part(lines, says):
    told = refused(lines)
    assert all(words in told for words in says), told


def test_a_log_in_mm_that_is_called_inches_is_refused():
    assert "the log is in mm" in refused(unit="inch")


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"  \r\n ", "empty"),
        (b"hello\nok\n", "no touch is found in 2 lines"),
        (b"PX20 PY0 PZ22.5\n", "looked for reports"),
        (b"20 0\n20 1\n", "no touch is found"),
        (b"20 0 22.5\n20 1 22.5\n", "3 columns, so none for axis A"),
        (b"[P:20,0,22.5:1]\n", "3 columns, so none for axis A"),
        (b"1 2 3 4 5 6 7\n", "no touch is found"),
        (b"20 0 22.5 90\n20 0 22.5 90\n20 0 22.5 90\n", "all 3 touches of the log are at one place"),
        (b"20 0 22.5 90\n20 0 22.5 90 0\n", "line 2 has 5 coordinates, the others have 4"),
        (b"[P:20,0,22.5,90:1]\n[Q:20,0,22.5,0:1]\n", "several kinds: p 1, q 1"),
        (b"x,angle,z\n20,90,22\n", "angle_deg or angle_rad"),
        (b"x,y,a\n20,90,22\n", "no touch is found"),
        (b"x,x_mm,a,n\n20,20,90,1\n", "say the same"),
        (b"x,a,ok\n20,20,90\n", "no radial column"),
        (b"x,a,z\nok\n", "no row of numbers"),
        (b"20 0 -22.5 90\n20 0 -22 180", "from the axis or beyond"),
        (b"20 0 9999999 90\n20 0 1 180", "no machine reaches"),
        (b"[P:20,0,22,90:0]\n[P:20,0,22,91:0]\n", "found anything"),
        (b"\0\1\2\0\0\0\0\0", "no text"),
    ],
)
def test_what_is_no_log_of_touches_is_refused_with_what_was_looked_for(data, says):
    with pytest.raises(BlankError) as told:
        read_log(data, profile=Profile(), tip_radius_mm=1.0, unit="mm")
    assert says in f"{told.value.message} | {told.value.hint}" and told.value.where == "/log" and told.value.hint


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ({"tip_radius_mm": -1.0}, "/tip_radius_mm"),
        ({"tip_radius_mm": math.nan}, "/tip_radius_mm"),
        ({"zero_r_mm": -1.0}, "/zero_r_mm"),
        ({"sigma_mm": -1.0}, "/sigma_mm"),
        ({"origin": (0.0, math.inf, 0.0)}, "/origin"),
        ({"origin": (0.0, 0.0)}, "/origin"),
        ({"unit": "cm"}, "/unit"),
        ({"points": ([1.0], [1.0, 2.0])}, "/points"),
        ({"touches": 4, "points": None}, "/log"),
    ],
)
def test_numbers_that_are_none_are_refused_with_their_place(more, where):
    with pytest.raises(BlankError) as told:
        log(**more)
    assert told.value.where == where


def test_huge_logs_are_refused():
    for data in (b"x" * 8_000_001, b"1 2 3 4\n" * 50_001, b"\n" * 200_000 + b"1 2 3 4"):
        with pytest.raises(BlankError, match="more than"):
            find_touches(data)


PIECES = [
    b"[touch:",
    b"1.5,",
    b"-2,",
    b":1]",
    b"]",
    b"[",
    b" ",
    b"\t",
    b"\n",
    b",",
    b";",
    b"x",
    b"a",
    b"z",
    b"radius_mm",
]
PIECES += [
    b"angle_deg",
    b"1e9",
    b"9" * 400,
    b"\xff\xfe",
    b"\0",
    b"nan",
    b"-",
    b".",
    b"\r",
    b"\x85",
    b"\xe2\x80\xa8",
    b'"',
]


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.one_of(st.binary(max_size=200), st.lists(st.sampled_from(PIECES), max_size=60).map(b"".join)))
@example(b"\xff\xfe1")
@example("[P:１,２,３,４:1]".encode())
def test_any_bytes_are_read_or_refused(data):
    with suppress(BlankError):
        told = read_log(data, profile=Profile(), tip_radius_mm=1.0, unit="mm")
        assert len(told.centres) and (told.centres.radius_mm > 1.0).all()


@settings(derandomize=True, deadline=None, max_examples=150)
@given(st.data())
def test_a_log_that_is_damaged_never_gives_a_point_of_another_place(data):
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 3))):
        k = data.draw(st.integers(0, len(lines) - 1))
        kind = data.draw(st.sampled_from(["drop", "double", "swap", "cut", "garble"]))
        if kind == "drop" and len(lines) > 1:
            lines.pop(k)
        elif kind == "double":
            lines.insert(k, lines[k])
        elif kind == "swap":
            j = data.draw(st.integers(0, len(lines) - 1))
            lines[k], lines[j] = lines[j], lines[k]
        elif kind == "cut":
            lines[k] = lines[k][: data.draw(st.integers(0, len(lines[k])))]
        else:
            at = data.draw(st.integers(0, max(len(lines[k]) - 1, 0)))
            lines[k] = lines[k][:at] + data.draw(st.sampled_from("x:,]0\t")) + lines[k][at + 1 :]
    with suppress(BlankError):
        told = log(lines)
        for point, x, theta in zip(told.point, told.centres.x_mm, told.centres.theta_rad, strict=True):
            assert abs(x - POINTS[0][point]) <= 0.1 and abs(np.degrees(theta) - POINTS[1][point]) <= 0.2


@pytest.mark.parametrize(
    ("factor", "zero_r_mm", "doubted"), [(1, 0, 0), (1 / 25.4, 0, 1), (25.4, 0, 1), (1 / 25.4, 20, 1)]
)
def test_a_log_without_its_program_that_is_no_blanks_size_has_its_unit_doubted(factor, zero_r_mm, doubted):
    lines = [report(x * factor, a, (r - zero_r_mm) * factor) for x, a, r in zip(*POINTS, RADII, strict=True)]
    told = log(lines, points=None, zero_r_mm=zero_r_mm)
    assert [f.code for f in told.findings] == ["unit"] * doubted
    assert all(f.where.pointer == "/unit" and "of the log" in f.advice for f in told.findings)
    assert not log().findings
