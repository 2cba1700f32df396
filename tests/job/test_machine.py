"""A machine is its own words over a stored profile's over the default; what does not fit together is refused."""

import pytest

from engine.job import DEFAULT_MACHINE, MachineDocument, profile_of, read
from engine.kernel.errors import JobError
from engine.machine import Axis, FeedRule, Park, Profile, ZZero

STORED = {
    "name": "Bench by the window",
    "axes": {
        "axial": {"letter": "Y", "rapid_mm_min": 900, "max_mm": 200, "accel_mm_s2": 50},
        "rotary": {"reversed": True, "min_deg": -720, "rapid_deg_min": 1800},
    },
    "feed_rule": "linear-axes-only",
    "z_zero": "surface",
    "touch_off": {"x_mm": 20, "angle_deg": 90},
    "park": {"x_mm": 5},
    "header": ["G54", "M8"],
    "decimals": 3,
}


def made(own, stored=None, at="/machine"):
    return profile_of(read(MachineDocument, own), stored or {}, at=at)


def told(own, stored=None, at="/machine"):
    with pytest.raises(JobError) as caught:
        made(own, stored, at)
    (problem,) = caught.value.problems
    return problem.pointer, problem.allowed


def test_nothing_said_is_the_default_machine():
    assert made({}) == Profile()
    assert read(MachineDocument, DEFAULT_MACHINE).axes.rotary.accel_deg_s2 == Profile().rotary.accel_per_s2


def test_a_stored_profile_lies_over_the_default():
    m = made({}, STORED)
    assert m.name == "Bench by the window" and m.feed_rule is FeedRule.LINEAR_AXES_ONLY and m.decimals == 3
    assert m.axial == Axis(letter="Y", greatest=200, rapid_per_min=900, accel_per_s2=50)
    assert m.rotary == Axis(letter="A", reversed=True, least=-720, rapid_per_min=1800, accel_per_s2=720)
    assert m.radial == Profile().radial
    assert (m.z_zero, m.touch_off) == (ZZero.SURFACE, (20, 90)) and m.park == Park(x_mm=5, angle_deg=0, lift_mm=10)


def test_own_words_lie_over_the_stored_ones_field_by_field():
    own = {
        "axes": {"axial": {"letter": "X", "max_mm": None}, "rotary": {"reversed": False}},
        "feed_rule": "all-axes",
        "touch_off": {"angle_deg": 45, "x_mm": 1},
        "park": None,
        "header": ["G55"],
    }
    m = made(own, STORED)
    assert m.axial == Axis(letter="X", greatest=None, rapid_per_min=900, accel_per_s2=50)  # null: no limit
    assert (m.rotary.reversed, m.rotary.least, m.rotary.rapid_per_min) == (False, -720, 1800)
    assert m.feed_rule is FeedRule.ALL_AXES and m.touch_off == (1, 45) and m.park is None
    assert m.header == ("G55",)  # a list replaces the whole list
    assert m.z_zero is ZZero.SURFACE and m.decimals == 3


def test_null_is_no_limit_over_the_default_too():
    m = made({"axes": {"axial": {"rapid_mm_min": None, "accel_mm_s2": None}}})
    assert m.axial == Axis(letter="X")


def test_every_word_reaches_the_profile():
    linear = {"reversed": True, "rapid_mm_min": 11, "accel_mm_s2": 12, "backlash_mm": 0.1, "steps_per_mm": 13}
    own = {
        "name": "all",
        "axes": {
            "axial": {"letter": "Z", "min_mm": 1, "max_mm": 2} | linear,
            "radial": {"letter": "X", "min_mm": 3, "max_mm": 4} | linear,
            "rotary": {
                "letter": "C", "reversed": True, "min_deg": -5, "max_deg": 6, "rapid_deg_min": 7, "accel_deg_s2": 8,
                "backlash_deg": 9, "steps_per_deg": 10, "mm_per_turn": 50,
            },
        },
        "rotary_unit": "mm-per-turn", "feed_rule": "all-axes", "z_zero": "surface",
        "touch_off": {"x_mm": 1, "angle_deg": 2}, "clearance_mm": 4, "approach_mm": 1,
        "park": {"x_mm": 1, "angle_deg": 2, "lift_mm": 3}, "decimals": 5, "header": ["G54"], "footer": ["M9"],
        "dwell_s": 0, "spindle": {"collet_mm": 8, "collet_length_mm": 12, "nose_mm": 33}, "axis_error_mm": 0.2,
    }  # fmt: skip
    rates = {"rapid_per_min": 11, "accel_per_s2": 12, "backlash": 0.1, "steps_per_unit": 13}
    assert made(own) == Profile(
        name="all",
        axial=Axis(letter="Z", reversed=True, least=1, greatest=2, **rates),
        radial=Axis(letter="X", reversed=True, least=3, greatest=4, **rates),
        rotary=Axis(
            letter="C",
            reversed=True,
            least=-5,
            greatest=6,
            rapid_per_min=7,
            accel_per_s2=8,
            backlash=9,
            steps_per_unit=10,
        ),
        feed_rule=FeedRule.ALL_AXES,
        mm_per_turn=50,
        z_zero=ZZero.SURFACE,
        touch_off=(1, 2),
        clearance_mm=4,
        approach_mm=1,
        park=Park(x_mm=1, angle_deg=2, lift_mm=3),
        decimals=5,
        header=("G54",),
        footer=("M9",),
        dwell_s=0,
        collet_mm=8,
        collet_length_mm=12,
        nose_mm=33,
        axis_error_mm=0.2,
    )


def test_what_is_known_of_a_spindle_lies_over_the_stored_one_measure_by_measure():
    stored = {"spindle": {"collet_mm": 8, "nose_mm": 33}, "axis_error_mm": 0.2}
    m = made({"spindle": {"collet_mm": 10, "collet_length_mm": 5}}, stored)
    assert (m.collet_mm, m.collet_length_mm, m.nose_mm, m.axis_error_mm) == (10, 5, 33, 0.2)
    m = made({"spindle": {"nose_mm": None}}, stored)
    assert (m.collet_mm, m.nose_mm) == (8, None)
    m = made({"spindle": None, "axis_error_mm": None}, stored)
    assert (m.collet_mm, m.collet_length_mm, m.nose_mm, m.axis_error_mm) == (None, 0, None, None)


def test_mm_per_turn_counts_only_where_the_unit_says_so():
    own = {"axes": {"rotary": {"mm_per_turn": 100}}}
    assert made(own).mm_per_turn is None
    assert made(own | {"rotary_unit": "mm-per-turn"}).mm_per_turn == 100


@pytest.mark.parametrize(
    ("own", "place", "says"),
    [
        ({"axes": {"axial": {"letter": "Z"}}}, "/axes", "share a letter"),
        ({"axes": {"axial": {"letter": "B"}}}, "/axes", "X, Y or Z"),
        ({"axes": {"axial": {"min_mm": 5, "max_mm": 5}}}, "/axes", "no room between"),
        (
            {"axes": {"rotary": {"letter": "Y"}}, "feed_rule": "linear-axes-only"},
            "/axes/rotary/letter",
            "degrees as mm",
        ),
        ({"rotary_unit": "mm-per-turn"}, "/axes/rotary/mm_per_turn", "is needed"),
        ({"approach_mm": 2}, "/approach_mm", "below the clearance"),
        ({"clearance_mm": 0.2}, "/approach_mm", "below the clearance"),
    ],
)
@pytest.mark.parametrize("at", ["/machine", "", "/under/0"])
def test_words_that_do_not_fit_together_are_told_by_their_place(own, place, says, at):
    pointer, allowed = told(own, at=at)
    assert pointer == at + place and says in allowed


def test_words_that_only_clash_with_the_stored_ones_are_told_too():
    assert told({"axes": {"radial": {"letter": "Y"}}}, STORED)[0] == "/machine/axes"
    assert told({"axes": {"rotary": {"max_deg": -800}}}, STORED)[0] == "/machine/axes"
