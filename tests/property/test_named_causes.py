"""Each finding names the cause that is the true one, where it stands in the document, and the cure that fits it."""

import numpy as np
import pytest

from tests.property.whole_jobs import TOOLS, art, document, picture, planned

OUTLINE = {"style": "outline"}
SEEDS = b"""<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" viewBox="0 0 10 10">
<circle cx="1" cy="1" r=".8"/><circle cx="9" cy="9" r=".8"/></svg>"""


def plan_of(style, *, depth=0.2, width=8, source="leaf", blank="cylinder", tool=None, more=(), x=40, **pictures):
    told = document(blank, art(source, style, depth_mm=depth, width_mm=width, x_mm=x)) | dict(more)
    if tool:
        told["tools"] = [TOOLS[0] | tool]
    return planned(told, **pictures)[1]


def one(plan, code):
    (found,) = [f for f in plan.findings if f.code == code]
    return found


@pytest.mark.parametrize(
    ("style", "words", "cause", "cure"),
    [
        ({"style": "outline", "side": "inside"}, {"depth": 5, "width": 2}, "twice the inset", "larger art"),
        ({"style": "hatch", "inset_mm": 9}, {}, "twice the inset", "smaller inset"),
        ({"style": "rings", "inset_mm": 9}, {}, "twice the inset", "smaller inset"),
        ({"style": "hatch", "pitch_mm": 50}, {"source": "seeds"}, "between the lines", "narrower pitch"),
        ({"style": "halftone"}, {"source": "bare"}, "dark enough", "darker"),
        ({"style": "stipple"}, {"source": "bare"}, "dark enough", "darker"),
        ({"style": "relief"}, {"source": "bare"}, "dark enough", "darker"),
    ],
)
def test_art_that_leaves_nothing_to_cut_says_why(style, words, cause, cure):
    found = one(plan_of(style, **words, bare=picture(np.zeros((20, 20))), seeds=SEEDS), "no-strokes")
    assert cause in found.message
    assert cure in found.advice


@pytest.mark.parametrize(("swing", "told"), [(5.0, True), (0.26, True), (0.25, False), (0.02, False)])
def test_a_runout_wider_than_the_cut_is_told_at_its_field(swing, told):
    """A cone of 60 degrees with a tip of 0.02 mm cuts 0.02 + 2 0.2 tan 30 = 0.2509 mm wide, 0.2 mm deep."""
    plan = plan_of(OUTLINE, tool={"runout_mm": swing})
    assert any(f.code == "runout-wide" for f in plan.findings) == told
    if told:
        found = one(plan, "runout-wide")
        assert found.where.pointer == "/tools/0/runout_mm"
        assert f"{swing:g} mm" in found.message and "0.251 mm" in found.message


@pytest.mark.parametrize("rule", ["inverse-time", "all-axes"])
def test_coarse_words_are_blamed_for_what_they_do_and_not_the_feed_rule(rule):
    """With a decimal the radius strays half a step: 0.05 mm of the 0.2 mm asked."""
    machine = {"decimals": 1, "feed_rule": rule}
    plan = plan_of(OUTLINE, blank="ovoid", x=30, more={"machine": machine})
    for code in ("plunge-too-fast", "deeper-than-asked"):
        found = one(plan, code)
        assert "0.1 mm: more decimals" in found.advice
        assert "feed rule" not in found.advice
    plan = plan_of(OUTLINE, blank="ovoid", x=30, more={"machine": machine | {"decimals": 4}})
    assert "engrave" in plan.programs


def test_less_depth_than_a_step_of_the_words_is_told_as_that():
    found = one(plan_of(OUTLINE, depth=1e-6), "nothing-cut")
    assert "1e-06 mm are asked" in found.message and "0.0001 mm" in found.message
    assert found.advice == "more depth"


def test_an_art_too_deep_for_its_blank_names_its_place_once():
    found = one(plan_of(OUTLINE, depth=30), "reach-fault")
    assert found.message.count("x 3") == 1


def test_an_eye_past_the_end_that_is_nearer_than_the_blank_is_wide_is_not_said_to_stand_in_it():
    eye = {"projection": "from-view", "eye": {"x_mm": 900, "angle_deg": 30, "distance_mm": 20}}
    told = document("cylinder", art("leaf", OUTLINE, depth_mm=0.2, width_mm=8, x_mm=40, placement=eye))
    found = one(planned(told)[1], "layout-fault")
    assert "stands in" not in found.message and "no further out than the blank" in found.message
    assert found.where.pointer == "/artwork/0/placement/eye/distance_mm"
