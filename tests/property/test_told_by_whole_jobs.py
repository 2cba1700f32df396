"""What a whole job tells of its artwork: each finding is met once by a job that earns it, and its program comes all
the same where it is no error; the same job mended tells nothing of it.
"""

import numpy as np
import pytest

from tests.property.whole_jobs import art, codes, document, picture, planned

DARK = picture(np.full((40, 40), 0.9))
TEXT = {"text": {"string": "Quince", "font": "sans", "size_mm": 5, "true_size": False}}
HATCH, OUTLINE = {"style": "hatch"}, {"style": "outline"}


def dark(pitch_mm):
    return document(
        "cylinder", art("dark", {"style": "halftone", "pitch_mm": pitch_mm}, depth_mm=0.25, width_mm=8, x_mm=40)
    )


def bar(projection):
    placed = {"projection": projection}
    return document("ovoid", art("bar", OUTLINE, depth_mm=0.1, width_mm=26, x_mm=16, placement=placed))


def two(second, *, x_mm):
    first = art("leaf", HATCH, depth_mm=0.2, width_mm=8, x_mm=40)
    return document("cylinder", first, art("leaf", second, depth_mm=0.2, width_mm=8, x_mm=x_mm))


def letters(**placed):
    return document("ovoid", art(TEXT, OUTLINE, depth_mm=0.1, x_mm=12, placement=placed))


def seed(style, depth_mm=0.2):
    return document("cylinder", art("seed", style, depth_mm=depth_mm, width_mm=12, x_mm=40))


def once_round(projection):
    placed = {"projection": projection}
    return document(
        "cone", art("leaf", OUTLINE, depth_mm=0.1, x_mm=40, repeat={"times": 8, "fit": True}, placement=placed)
    )


def wreath(style):
    return document("cylinder", art("wreath", style, depth_mm=0.1, x_mm=40))


INSIDE = {"style": "outline", "side": "inside"}
TOLD = {
    "a tone that no depth reaches": (dark(0.8), ("warning", "tone-held"), dark(0.3)),
    "light and dark beside what was asked": (dark(0.8), ("warning", "tone-off"), dark(0.3)),
    "a straight line that will look bent": (bar("equidistant"), ("warning", "looks-bent"), bar("from-view")),
    "art on other art": (two(OUTLINE, x_mm=44), ("warning", "art-overlaps"), two(OUTLINE, x_mm=60)),
    "one art marked in two ways": (two(OUTLINE, x_mm=40), ("note", "art-overlaps"), two(OUTLINE, x_mm=60)),
    "letters of another height": (
        letters(projection="equal-area"),
        ("note", "letters-off-size"),
        letters(),
    ),
    "a stem too narrow for the tool": (seed(INSIDE), ("warning", "too-narrow"), seed(INSIDE, 0.05)),
    "a disc beside a stem": (
        seed({"style": "centreline"}),
        ("note", "too-wide-for-a-stroke"),
        seed({"style": "v-depth"}),
    ),
    "a line that is not filled": (wreath(HATCH), ("note", "lines-cut-along"), wreath(OUTLINE)),
    "copies that meet": (once_round("equidistant"), ("note", "copies-meet"), once_round("true-width")),
    "copies that part": (once_round("true-width"), ("warning", "copies-part"), once_round("equidistant")),
}


@pytest.mark.parametrize("name", TOLD)
def test_a_job_that_earns_a_finding_is_told_it_and_one_that_does_not_is_not(name):
    earns, told, mended = TOLD[name]
    _, plan = planned(earns, dark=DARK)
    assert told in codes(plan)
    assert "engrave" in plan.programs
    found = next(f for f in plan.report["findings"] if (f["severity"], f["code"]) == told)
    assert found["message"] and (found["where"] or found["advice"])
    _, plan = planned(mended, dark=DARK)
    assert told not in codes(plan)
    assert "engrave" in plan.programs
