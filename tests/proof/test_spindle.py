"""The spindle while the tool cuts: by its S word, the tool's limit and the speed that is asked."""

from dataclasses import replace

import pytest

from engine.kernel.values import Tool
from tests.proof.programs import codes, lines, proof_of, wanted

GOOD = lines()
ASKED = replace(wanted(), rpms=(9000.0,))


def at(word):
    return [line.replace("S9000", word) for line in GOOD]


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("S9000", set()),
        ("S9100", set()),
        ("S9500", {("warning", "spindle-speed")}),
        ("S5000", {("warning", "spindle-speed")}),
        ("S90000", {("error", "spindle-speed")}),
        ("S900", {("error", "spindle-speed")}),
        ("S9", {("error", "spindle-speed")}),
    ],
)
def test_a_speed_is_told_by_how_far_it_is_from_what_is_asked(word, told):
    assert codes(proof_of(at(word), wanted=ASKED)) == told
    assert codes(proof_of(at(word))) == set()  # nothing is asked


def test_a_speed_changed_on_the_way_is_told_at_its_stroke():
    k = GOOD.index("(stroke 5)")
    found = proof_of([*GOOD[:k], "S100", *GOOD[k:]], wanted=ASKED).findings
    assert [(f.code, f.where.stroke) for f in found] == [("spindle-speed", 5)]


def test_a_tool_is_not_turned_faster_than_it_stands():
    assert codes(proof_of(GOOD, tool=Tool(rpm_max=9000))) == set()
    assert codes(proof_of(GOOD, tool=Tool(rpm_max=8000))) == {("error", "spindle-speed")}
