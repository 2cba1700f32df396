"""The reader against NISTIR 6556 row by row: feeds, lines, modal groups, codes (2.1.2.5, 3.3, 3.5 to 3.8, table 4).

What the standard defines and changes nothing of where the tool goes is read; what does and is not followed is refused.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.machine import FeedRule, Profile
from engine.proof.replay import replay
from engine.proof.rs274_lines import G_GROUP, M_GROUP, ReadError, parse
from engine.proof.rs274_reader import read
from tests.proof.programs import HEAD, done, refused


def minutes(body):
    """What each move lasts, by the standard's own rule of G94 or under G93."""
    machine = Profile(feed_rule=FeedRule.LINEAR_AXES_ONLY)
    return (replay(done(body), machine, zero_r_mm=20.0).seconds / 60.0)[1:]


# Rows of G and M codes that leave the tool's way alone, each with what could be mistaken for a move beside it.
STILL = [f"G{g}" for g in (17, 18, 19, 40, 49, 54, 61, 61.1, 64, 98, 99)] + [
    f"M{m}" for m in (7, 8, 9, 48, 49, 0, 1, 60)
]
STILL += [
    "T0",
    "T12",
    "F5",
    "(note)",
    "(MSG, look)",
    "N5",
    "N5 (note)",
    "",
    " \t",
    "S5",
    "M3 S5",
    "M4 S0",
    "M5",
    "G4 P0.5",
]
STILL += ["G17 G40 G49 G54 G61 G94 G90 G21 T1 S1 F1 M5 M9 M48", "G80"]
UNFOLLOWED = "G2 X1 I1|G3 X1 R2|G10 L2 P1 X1|G28 X1|G30 X1|G41 D1|G42 D1|G43 H1|G53 G0 X1|G55|G56|G57|G58|G59"
UNFOLLOWED += "|G59.1|G59.2|G59.3|G81 X1 Z0 R1|G82 X1|G83 X1|G84 X1|G85 X1|G86 X1|G87 X1|G88 X1|G89 X1"
UNFOLLOWED += "|G92 X1|G92.1|G92.2|G92.3|#1=5|X#1|X[1+1]|O100 sub"


@pytest.mark.parametrize("line", STILL)
def test_what_leaves_the_tools_way_alone_is_read(line):
    told = done(f"G1 X1 F5\n{line}\nG1 X2 F6")
    assert told.end.tolist() == [[0, 0, 1], [1, 0, 1], [2, 0, 1]]
    assert told.feed[1:].tolist() == [5, 6]
    assert told.motion.tolist() == [0, 1, 1]


@pytest.mark.parametrize("line", UNFOLLOWED.split("|"))
def test_what_changes_it_and_is_not_followed_is_refused_where_it_stands_with_what_to_do(line):
    assert refused(f"G1 X1 F5\nG17 {line}\nX2")[:2] == (2, 5)
    assert ";" in refused(line)[2]


def test_every_code_of_table_4_is_read_or_refused_as_not_followed():
    unfollowed = {float(line[1:].split()[0]) for line in UNFOLLOWED.split("|") if line[0] == "G"}
    words = {0: "X9", 1: "X9 F9", 4: "P1", 38.2: "X9 F9", 93: "F9"}
    for code in G_GROUP:
        told = read(f"{HEAD}G{code:g} {words.get(code, '')}\nM2\n".encode()).fault
        assert (told is not None) == (code in unfollowed), code
    for code in M_GROUP:
        told = read(f"{HEAD}S1 M{code}\n{'' if code in (2, 30) else 'M2'}".encode())
        assert told.fault is None, code


# NISTIR 6556, appendix C.1: a public report's own sample program, words without their line numbers and comments.
HELLO = """g21 g0 x0 y0 z50
t1 m6 m3 f20 s4000|g0 x0 y0 z2|g1 z-0.5|y10|g0 z2|y5|g1 z-0.5|x 7|g0 z2|y0|g1 z-0.5|y10|g0 z2
x11 y2.5|g1 z-0.5|x16|g3 x13.5 y0 i-2.5|g1 x16|g0 z2|x20 y0|g1 z-0.5|y9|g0 z2|x26|g1 z-0.5|y0|g0 z2|x32.5|g1 z-0.5
g2 x32.5 j2.5|g0 z2|x45 y5|g1 z-0.5|x47 y0|x48.5 y3|x50 y0|x52 y5|g0 z2|x57.5 y0|g1 z-0.5|g2 x57.5 j2.5|g0 z2|x64
g1 z-0.5|y5|y4|g2 x69 r4|g0 z2|x73 y0|g1 z-0.5|y9|g0 z2|x81|g1 z-0.5|y0|x79.5|g2 j2.5 y5|g1 x81|g0 z50|m2"""
MODES = "g90 g94"  # what the report's interpreter begins with, and this reader wants said


def hello(arc):
    """The program as bytes, its arcs (to their ends) written otherwise."""
    lines = [MODES, *HELLO.replace("\n", "|").split("|")]
    ends = {"g3 x13.5 y0 i-2.5": "x13.5 y0", "g2 x69 r4": "x69", "g2 j2.5 y5": "y5"}
    ends |= {"g2 x32.5 j2.5": "x32.5", "g2 x57.5 j2.5": "x57.5"}
    return [arc(line, ends[line]) if line in ends else line for line in lines]


def test_the_reports_sample_program_is_read_as_far_as_its_first_arc_and_refused_there():
    program = hello(lambda line, end: line)
    assert len(program) == 1 + 61 and max(map(len, program)) < 70
    told = read("\n".join(program).encode(), axes="XYZ")
    first = program.index("g3 x13.5 y0 i-2.5") + 1
    assert (told.fault.line, told.fault.column) == (first, 1) and "arcs" in told.fault.message
    assert told.end[-1].tolist() == [16, 2.5, -0.5] and len(told) == first - 3  # but the modes' line and the tool's


def test_the_reports_sample_program_goes_where_it_says_with_its_arcs_left_out():
    told = read("\n".join(hello(lambda line, end: f"g0 {end}")).encode(), axes="XYZ")
    assert told.fault is None and told.end[-1].tolist() == [81, 5, 50]
    fed = told.motion == 1
    length = np.linalg.norm(told.end[fed] - told.start[fed], axis=1)
    assert length.sum() == pytest.approx(126.97853355, abs=5e-9)  # of the program of appendix C.1, by hand
    assert set(told.feed[fed]) == {20.0} and (told.spindle[told.end[:, 2] < 0] == 1).all()
    assert told.line[-1] == 61  # before M2


@pytest.mark.parametrize("line", ["x [1 + 2]", "x sin[30]", "#3=5.0 x #3", "g43 h1", "g81 x3 y4 r0.2 z-1.1"])
def test_what_the_reports_other_sample_programs_try_is_refused_where_it_stands(line):
    told = read(f"{MODES} g21 g1 x3 f20\n{line}\nm2\n".encode(), axes="XYZ")
    assert told.fault.line == 2 and len(told) == 1


# 1.1: what F means.


def test_f1_f2_the_linear_way_counts_and_the_rotarys_only_alone():
    assert minutes("G1 X10 A90 F5\nG1 A0 F5").tolist() == [2.0, 18.0]


def test_f3_two_rotaries_together_count_by_their_root():
    told = read(b"G21 G90 G94\nG0 A0 B0\nG1 A3 B4 F5\nM2\n", axes="AB")
    assert np.hypot(*(told.end - told.start)[1]) / told.feed[1] == 1.0


def test_f4_under_inverse_time_a_move_lasts_one_fth_of_a_minute():
    assert minutes("G93 G1 X10 A90 F2").tolist() == [0.5]  # 30 s


def test_f5_every_feeding_line_under_inverse_time_has_an_f_of_its_own():
    assert refused("G93\nG1 X1 F2\nX2")[:2] == (3, 1)  # implied by the mode in force
    told = done("G93\nG0 X1 F7\nG0 X2\nF9\nG1 X3 F2")  # on other lines it is let be
    assert told.feed[-1] == 2.0
    assert refused("G93 F9\nG1 X3")[0] == 2


def test_f6_no_probing_under_inverse_time():
    assert refused("G93\nG38.2 Z0 F2")[:2] == (2, 7)
    assert done("G93\nG94\nG38.2 Z0 F2").motion[-1] == 2


def test_f10_no_feeding_at_nothing():
    assert refused("G1 X1")[:2] == (1, 4)
    assert refused("G1 X1 F0")[:2] == (1, 4)


def test_a_feed_holds_while_its_unit_and_mode_do():  # 3.5.19, 3.5.7
    assert done("F5\nG94 G21\nG1 X1").feed[-1] == 5.0  # said again, nothing changed
    assert refused("F5\nG20\nG1 X1")[0] == 3
    assert refused("G93\nG1 X1 F5\nG94\nG1 X2")[0] == 4


# 1.2: lines and numbers. What one line may say is in test_rs274_lines.


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_l1_lines_end_with_cr_lf_or_both(end):
    text = (HEAD + "G1 X1 F5\nhello\n").replace("\n", end).encode()
    told = read(text)
    assert told.end[-1].tolist() == [1, 0, 1]
    if end != "\r\n":
        assert told.fault.line == 4
    assert read(text.replace(b"hello", b"M2")).fault is None


def test_l1_a_block_delete_stands_first_and_is_told():
    assert (3, "block delete") in done("/N5 X9").events
    assert refused("N5 /X9")[:2] == (1, 4)


def test_l2_a_line_has_256_characters():
    assert done("X1" + " " * 254).end[-1, 0] == 1.0
    assert refused("X1" + " " * 255)[1] == 257
    assert refused(" " * 257)[1] == 257
    assert refused("(" + "x" * 255 + ")")[1] == 257


def test_l3_l4_white_space_and_case():
    assert done("g0x +0. 12 34a 7\n\n \t \nG1\tX 1 0 F\t5").end[1:].tolist() == [[0.1234, 7, 1], [10, 7, 1]]


def test_l5_line_numbers_mean_nothing():
    assert done("N99999 X1\nN5 X2\nN5 X3\nN00000 X4").end[1:, 0].tolist() == [1, 2, 3, 4]
    for bad in ("N100000 X1", "N000009 X1", "N-1 X1", "N+1 X1", "N X1"):
        assert refused(bad)[:2] == (1, 1)


@pytest.mark.parametrize("letter", "DHIJKLPQR")
def test_l6_a_letter_of_the_standard_without_use_here_is_refused(letter):
    assert refused(f"G0 X1 {letter}1")[1] == 7


@pytest.mark.parametrize("letter", "EUVW")
def test_l6_a_letter_that_is_none_of_the_standards_is_refused(letter):
    assert refused(f"G0 X1 {letter}1")[1] == 7


def test_l7_numbers_keep_seventeen_figures():
    assert done("X0.12345678901234567").end[-1, 0] == 0.12345678901234567
    assert done("X+1.\nX-.5\nX007").end[1:, 0].tolist() == [1, -0.5, 7]


def test_l8_whole_numbers_within_a_ten_thousandth():
    assert done("G0.99995 X1 F5\nT1.0001\nM5.00009").motion[-1] == 1
    assert refused("G1.0002 X1 F5")[1] == 1
    assert refused("T1.001")[1] == 1
    assert refused("M5.0002")[1] == 1


def test_l9_of_several_comments_on_a_line_the_last_counts():
    assert done("(stroke 3) X1 (stroke 4)\nX2").stroke.tolist() == [0, 4, 4]
    assert done("(stroke 3)\n(stroke 5) (note) X1").stroke.tolist() == [0, 3]


def test_l10_many_g_words_and_four_m_words_none_twice():
    assert done("G1 G17 G21 G40 G49 G54 G61 G90 G94 G98 X1 F5")
    assert parse("M3 M6 M8 M48", 1).m == (3, 6, 8, 48)
    assert refused("M0 M3 M6 M8 M48")[1] == 13


@pytest.mark.parametrize(("letter", "groups"), [("G", G_GROUP), ("M", M_GROUP)])
def test_l10_no_two_words_of_one_modal_group(letter, groups):  # every pair of table 4
    for a in groups:
        for b in groups:
            text = f"{letter}{a:g} {letter}{b:g}"
            if groups[a] == groups[b]:
                with pytest.raises(ReadError) as caught:
                    parse(text, 1)
                assert caught.value.column == text.index(" ") + 2
            else:
                parse(text, 1)


@given(st.permutations(["G1", "X1", "A2", "Z3", "F4", "S5", "M3", "T6", "M8"]))
@settings(derandomize=True, deadline=None, max_examples=30)
def test_l11_the_order_of_words_means_nothing(words):
    told = done(" ".join(words))
    assert told.end[-1].tolist() == [1, 2, 3]
    assert (told.motion[-1], told.feed[-1], told.spindle[-1]) == (1, 4, 1)


def test_l12_percents_and_ends():
    assert read(b"\n \t\n %\t\nG21 G90\nG0 X1\n%\n((((\n").fault is None
    assert read(b"G21\n%\nM2\n").fault.line == 2
    assert read(b"%\nG21 G90\nG0 X1\nM2\n").fault.code == "no-end"
    assert read(b"%\nM2\n%\n").fault is None
    assert read(b"M2\nG0 X1\n").fault.line == 2  # stricter: nothing may stand behind the end
    assert read(b"M2\n\n(done)\n").fault is None
    for odd in (b"\x0c%\nM2\n%\n", b"\xa0%\nM2\n%\n"):  # white space is blanks and tabs
        assert read(odd).fault.line == 1


def test_l13_l14_no_semicolons_expressions_parameters():
    assert refused("X1 ; more")[1:] == (4, "';' begins no word; the standard's comments stand in ( )")
    assert refused("X[1 + 2 * 3 - 4 / 5]")[1] == 1
    assert done("(a; b) X1").end[-1, 0] == 1.0


# 1.4: the order of table 8, one neighbour after the other.


def test_the_steps_of_table_8_come_in_order():
    told = done("F5\nG93 G1 X1 F2")
    assert (told.inverse[-1], told.feed[-1]) == (True, 2.0)  # 2, 3 before 20
    assert done("M3 S1\nM6 M4 T1 X1").spindle[-1] == -1  # 6 before 7
    assert done("M3 S0\nS5 X1").spindle[-1] == 1  # 4 before 20
    assert done("G4 P1 G1 X1 F5").end[-1, 0] == 1.0  # 10 takes no axis word from 20
    assert done("X1\nG91 X1").end[-1, 0] == 2.0  # 17 before 20
    assert done("G20 X1").end[-1, 0] == 25.4  # 12 before 20
    assert done("X1 M0").events[0] == (3, "stop M0")  # 21 after 20
    last = read(b"G21 G90 G94\nG0 X0\nG1 X1 F100 M3 S5000 M2\n")  # table 8: the order of execution
    assert (last.fault, last.spindle[-1], last.end[-1, 0]) == (None, 1, 1.0)


# 1.5: codes.


def test_g0_and_g1_want_an_axis_word():
    for code in ("G0", "G1", "G38.2"):
        assert refused(f"G17 {code} F5")[:2] == (1, 5)


def test_g4_waits_for_seconds_that_are_not_negative():
    assert refused("G4 P-1")[1] == 4
    assert refused("G17 G4")[1] == 5
    assert refused("P1 X1")[1] == 1
    assert (3, "dwell") in done("G4 P0").events


def test_g20_changes_no_degrees():
    assert done("G20\nG0 X1 A1 Z1").end[-1].tolist() == [25.4, 1, 25.4]


def test_a_rotary_feed_is_of_degrees_though_the_other_axes_are_not_stated_yet():
    text = b"G20 G90 G94\nG1 A90 F10\n" + b"".join(b"A%d\n" % k for k in range(60)) + b"M2\n"
    for exact in (False, True):
        assert set(read(text, exact=exact).feed.tolist()) == {10.0}


def test_g38_2():  # 3.5.9
    assert done("G38.2 Z0 A0 F5").end[-1].tolist() == [0, 0, 0]  # a rotary word of where it is
    assert done("G91\nG38.2 Z-1 A0 F5").end[-1].tolist() == [0, 0, 0]
    assert refused("G38.2 Z0 A1 F5")[1] == 10
    assert refused("G38.2 A0 F5")[1] == 7
    assert refused("G38.2 Z0.747 F5")[1] == 7
    assert done("G38.2 Z0.745 F5").motion[-1] == 2
    assert refused("G20\nG38.2 Z0.0295 F5")[0] == 2  # 0.25 mm
    assert refused("G38.2 Z0", head=HEAD)[1] == 7  # HEAD sets no feed
    assert refused("G38.2 Z0 F5", head="G21 G90 G94\n")[1] == 7  # how far off is not known
    assert refused("G38.2 Z" + "9" * 200 + ".5.5 F5")[0] == 1
    assert done("G38.2 Z" + "9" * 200 + " F5").motion[-1] == 2


def test_where_a_probe_stops_is_not_known():
    told = done("G38.2 Z0 F5\nG0 Z5\nG0 X3")
    assert np.isnan(told.start[2, 2]) and told.start[2, :2].tolist() == [0, 0]
    assert told.end[-1].tolist() == [3, 0, 5]
    assert refused("G38.2 Z0 F5\nG91 G0 Z5")[:2] == (2, 8)
    assert done("G38.2 Z0 F5\nG91 G0 X5").end[-1, 0] == 5.0


def test_g80_ends_the_motion_mode():
    assert refused("G80 X1")[1] == 5
    assert refused("G1 X1 F5\nG80\nX2")[:2] == (3, 1)


def test_g90_g91():
    assert done("G91 X1 A400\nX1 A400\nG90 X1").end[1:].tolist() == [[1, 400, 1], [2, 800, 1], [1, 800, 1]]


def test_the_rotary_is_unbounded():  # 2.1.1.2
    assert done("A720\nA-720").end[1:, 1].tolist() == [720, -720]


def test_m2_and_m30_end():
    for end in ("M2", "M30"):
        told = read(f"{HEAD}G0 X5 {end}\n".encode())
        assert told.fault is None and told.events[-1] == (3, "end")
        assert read(f"{HEAD}{end}\nX1\n".encode()).fault.line == 4


def test_spindle_and_tool_words():  # 3.6.2, 3.6.3, 3.7.2, 3.7.3
    assert done("M3 S0\nX1").spindle[-1] == 0
    assert done("S5 M3\nM6 T2\nX1").spindle[-1] == 0
    for bad in ("S-1", "T-1", "T1.5", "F-1"):
        assert refused(f"X1 {bad}")[1] == 4
