"""The tool in the spindle at every move: two patches on a bar cut with two tools, the program written by hand, and all
that can go wrong where the tools are changed.
"""

from dataclasses import replace

import numpy as np
import pytest

from engine.kernel.values import Form, Tool, Wanted
from engine.proof.rs274_reader import read
from tests.proof import programs
from tests.proof.programs import DEPTH, FEED, PLUNGE, TOOL, R, codes, proof_of

WIDE = Tool(id="wide", form=Form.FLAT, diameter_mm=1.0, rpm_max=10_000)
TOOLS = (WIDE, TOOL)
FROM_DEG, TO_DEG = 20.0, 40.0


def strokes(stations, first):
    """Lines of strokes round the bar at the stations, numbered from `first`, under G93."""
    way = np.radians(TO_DEG - FROM_DEG) * (R - DEPTH)
    return programs.strokes(stations, first, TO_DEG, down=PLUNGE / (DEPTH + 0.3), around=FEED / way)


WIDE_X, FINE_X = np.arange(30, 34.001, 0.8), np.arange(50, 53.001, 0.3)
HEAD = ["G21 G90 G93", "G17 G40 G49 G80"]
FIRST = [*HEAD, "G0 Z25", "G0 X30 A20", "S9000 M3", *strokes(WIDE_X, 1)]
LATER = [*HEAD, "G0 Z25", "G0 X50 A20", "S12000 M3", *strokes(FINE_X, len(WIDE_X) + 1), "G0 Z25", "M5", "M2"]
CHANGE = ["G0 Z35", "G0 X20 A0", "M5", "(tool 2 of 2)", "T2", "M0"]
GOOD = [*FIRST, *CHANGE, *LATER]


def wanted(tools=True):
    """The two patches, each with its tool."""
    cell = 0.05
    x = np.arange(28.0, 55.0, cell)
    theta = np.arange(np.radians(FROM_DEG) - 0.1, np.radians(TO_DEG) + 0.1, cell / R)
    bits = np.zeros((len(x), len(theta)), np.uint8)
    for k, (stations, width) in enumerate(((WIDE_X, 1.0), (FINE_X, TOOL.width_mm(DEPTH)))):
        half = 0.5 * width
        on_x = (x > stations[0] - half) & (x < stations[-1] + half)
        on_t = (theta > np.radians(FROM_DEG) - half / R) & (theta < np.radians(TO_DEG) + half / R)
        bits[on_x[:, None] & on_t[None, :]] = 1 << k
    depth = np.where(bits > 0, DEPTH, 0.0)
    rpms = (9000.0, 12_000.0)
    return Wanted(
        x_mm=x, theta_rad=theta, depth_mm=depth, feed_mm_min=FEED, plunge_mm_min=PLUNGE, rpms=rpms,
        tools=bits if tools else None,
    )  # fmt: skip


FIELD = wanted()


def found(program, **changed):
    return codes(proof_of(program, **{"tools": TOOLS, "wanted": FIELD, **changed}))


def changed(old, new):
    """The good program with the lines `old` of its change in place of which `new` stand."""
    at = GOOD.index(old[0], len(FIRST))
    assert GOOD[at : at + len(old)] == old
    return [*GOOD[:at], *new, *GOOD[at + len(old) :]]


def test_a_good_program_with_two_tools_is_good_and_both_fields_are_carved():
    proof = proof_of(GOOD, tools=TOOLS, wanted=FIELD)
    assert codes(proof) == set()
    assert proof.fidelity.art_cut > 0.99 and proof.fidelity.cut_on_art > 0.99
    way = np.radians(TO_DEG - FROM_DEG) * (R - DEPTH)
    assert proof.cut_by_tool_mm == pytest.approx((len(WIDE_X) * way, len(FINE_X) * way))
    assert proof.cut_mm == pytest.approx(sum(proof.cut_by_tool_mm))
    for x, half in ((WIDE_X[2], 0.5), (FINE_X[3], 0.5 * TOOL.width_mm(DEPTH))):  # a groove as wide as its own tool
        row = np.abs(proof.carved.theta_rad - np.radians(30)).argmin()
        line = proof.carved.depth_mm[:, row]
        reach = np.abs(proof.carved.x_mm - x) < half - 0.03
        assert line[reach].min() > 0


def test_the_whole_is_what_each_part_carves_alone():
    proof = proof_of(GOOD, tools=TOOLS, wanted=FIELD)
    alone = [proof_of([*FIRST, "M5", "M2"], tool=WIDE, wanted=None), proof_of(LATER, tool=TOOL, wanted=None)]
    assert proof.made.removed_mm3 == pytest.approx(sum(one.made.removed_mm3 for one in alone), rel=2e-3)
    assert proof.depth_mm[1] == pytest.approx(max(one.depth_mm[1] for one in alone), abs=1e-6)


FAULTS = {
    "no change": (changed(["T2", "M0"], []), {"tool-changes"}),
    "no stop, a tool called": (changed(["T2", "M0"], ["T2"]), {"tool-changes"}),
    "no tool called": (changed(["T2"], []), {"tool-changes"}),
    "changed twice": (changed(["T2", "M0"], ["T2", "M0", *HEAD, "G0 Z25", "G0 X0 A0", "T3", "M0"]), {"tool-changes"}),
    "a changer that does not wait": (changed(["T2", "M0"], ["T2 M6"]), {"changed-without-stop"}),
    "a stop that a switch turns off": (changed(["T2", "M0"], ["T2 M6", "M1"]), {"changed-without-stop"}),
    "a stop only after it has moved": (
        changed(["T2", "M0", *HEAD, "G0 Z25"], ["T2 M6", *HEAD, "G0 Z25", "M0"]),
        {"changed-without-stop"},
    ),
    "it moves where the changer is called": (changed(["T2", "M0"], ["T2 M6 G0 Z35", "M0"]), {"changed-without-stop"}),
    "the spindle turns": (changed(["M5"], []), {"changed-turning"}),
    "the spindle turns at a changer": (changed(["M5", "(tool 2 of 2)", "T2"], ["T2 M6"]), {"changed-turning"}),
    "changed in the work": (
        changed(CHANGE, ["G0 Z20.1", "M5", "T2", "M0"]),
        {"spindle-in-work"},
    ),
    "goes on where it stood": (changed(["M0", *HEAD, "G0 Z25"], ["M0", *HEAD]), {"rapid-too-low"}),
    "goes on too low": (changed(["M0", *HEAD, "G0 Z25"], ["M0", *HEAD, "G0 Z21"]), {"rapid-too-low"}),
    "goes on sideways first": (
        changed(["M0", *HEAD, "G0 Z25", "G0 X50 A20"], ["M0", *HEAD, "G0 X50 A20", "G0 Z25"]),
        {"rapid-too-low"},
    ),
    "goes on by as much": (changed(["M0", *HEAD], ["M0", *HEAD, "G91"]), {"unreadable-line"}),
    "the spindle is not started again": (changed(["S12000 M3"], []), {"spindle-off"}),
    "turns as the first tool did": (changed(["S12000 M3"], ["S4000 M3"]), {"spindle-speed"}),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_at_the_change_is_an_error(name):
    program, expected = FAULTS[name]
    assert expected <= {code for severity, code in found(program) if severity == "error"}


@pytest.mark.parametrize("change", [["T2 M6", "M0"], ["T2 M6 M0"], ["T2 M0"], ["T7", "M60"], ["M6 T2", "T3", "M0"]])
def test_other_words_for_a_good_change_are_as_good(change):
    assert found(changed(["T2", "M0"], change)) <= {("warning", "waits-in-work")}


def test_a_stop_without_another_tool_is_no_change():
    stop = ["G0 Z25", "M5", "M0", "S9000 M3"]
    assert found([*FIRST, *stop, *CHANGE, *LATER]) == set()
    said = ["T1", *GOOD]
    assert found([*HEAD, "T1", *FIRST, *stop, *CHANGE, *LATER]) == found(said) == set()


def test_the_first_tool_may_be_fetched_and_is_told():
    fetched = [*HEAD, "T1 M6", *GOOD]
    assert found(fetched) == {("warning", "tool-change")}


def test_tools_in_another_order_than_the_jobs_are_told():
    """The text looks the same: what each tool would do does not."""
    assert ("warning", "uncut") in found(
        GOOD, tools=TOOLS[::-1]
    )  # the fine tool leaves ridges where the wide one was to be
    swapped = [*HEAD, "G0 Z25", "G0 X50 A20", "S9000 M3", *strokes(FINE_X, 1), *CHANGE]
    swapped += [*HEAD, "G0 Z25", "G0 X30 A20", "S12000 M3", *strokes(WIDE_X, 99), "G0 Z25", "M5", "M2"]
    told = {code for severity, code in found(swapped) if severity == "error"}
    assert {"deeper-than-asked", "off-art"} <= told


def test_each_move_is_judged_with_the_tool_that_makes_it():
    """At 10,000 the wide tool's limit is kept while the fine one turns faster; each tool's own limit counts."""
    assert found(GOOD) == set()
    fast = [line.replace("S9000", "S11000") for line in GOOD]
    assert ("error", "spindle-speed") in found(fast)
    limited = (WIDE, replace(TOOL, rpm_max=11_000))
    assert ("error", "spindle-speed") in found(GOOD, tools=limited)
    short = (WIDE, replace(TOOL, stick_out_mm=10.0, flute_mm=0.1, shank_mm=30.0))  # the fine tool's own shank
    (told,) = [f for f in proof_of(GOOD, tools=short, wanted=FIELD).findings if f.code == "holder-touches"]
    assert told.where.stroke > len(WIDE_X)


def test_going_on_with_a_later_tool_needs_no_change():
    assert found(LATER, first_tool=1) == {("warning", "uncut")}
    assert ("error", "tool-changes") in found(LATER)
    assert ("error", "tool-changes") in found(GOOD, first_tool=1)


@pytest.mark.parametrize("program", [GOOD, changed(["T2", "M0"], ["T2 M6", "M0"]), FAULTS["changed twice"][0]])
def test_both_paths_of_the_reader_count_changes_alike(program):
    text = ("\n".join(program) + "\n").encode()
    quick, exact = read(text), read(text, exact=True)
    assert quick.tool.tolist() == exact.tool.tolist() and quick.events == exact.events
    assert np.array_equal(quick.start, exact.start, equal_nan=True) and quick.tool.max() > 0
    first = int(np.searchsorted(quick.tool, 1))
    assert np.isnan(quick.start[first]).all()  # where the axes were moved by hand is not known


def test_a_field_that_names_no_tools_is_open_to_all():
    assert found(GOOD, wanted=wanted(tools=False)) == set()


def test_many_changes_are_looked_through_in_time():
    body = ["G0 Z25", "G0 X1 A0"] * 1
    for k in range(4000):
        body += [f"T{k + 2}", "M0", "G0 Z25", f"G0 X{k % 50} A0"]
    told = proof_of([*HEAD, *body, "M2"], tools=(WIDE,) * 3, wanted=None)
    assert ("error", "tool-changes") in codes(told)
    assert np.bincount(told.replay.tool).tolist() == [2] * 4001
