"""A profile refuses what would make its controller misread a program."""

import pytest

from engine.kernel.errors import ProgramError
from engine.machine import Axis, FeedRule, Profile


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"axial": Axis(letter="Z")}, "share a letter"),
        ({"axial": Axis(letter="B")}, "take X, Y or Z"),
        ({"rotary": Axis(letter="Y"), "feed_rule": FeedRule.LINEAR_AXES_ONLY}, "count the degrees as mm"),
        ({"mm_per_turn": float("nan")}, "mm_per_turn"),
        ({"decimals": 0}, "decimals"),
        ({"approach_mm": 3.0}, "approach"),
        ({"approach_mm": float("nan")}, "approach"),
        ({"axis_error_mm": -0.1}, "axis_error_mm"),
        ({"axis_error_mm": float("nan")}, "axis_error_mm"),
        ({"nose_mm": 0.0}, "spindle"),
        ({"collet_mm": float("nan")}, "spindle"),
        ({"collet_length_mm": -1.0}, "collet's length"),
    ],
)
def test_a_profile_refuses(words, says):
    with pytest.raises(ProgramError, match=says):
        Profile(**words)


@pytest.mark.parametrize(
    "words", [{"letter": "U"}, {"least": 5.0, "greatest": 5.0}, {"rapid_per_min": 0.0}, {"backlash": float("nan")}]
)
def test_an_axis_refuses(words):
    with pytest.raises(ProgramError):
        Axis(**({"letter": "X"} | words))


def test_the_default_is_what_scripts_rely_on():
    p = Profile()
    assert p.letters == ("X", "A", "Z")
    assert (p.axial.rapid_per_min, p.rotary.rapid_per_min, p.radial.rapid_per_min) == (1500, 3600, 600)
    assert (p.axial.accel_per_s2, p.rotary.accel_per_s2, p.radial.accel_per_s2) == (200, 720, 100)
    assert p.feed_rule is FeedRule.INVERSE_TIME
    assert (p.clearance_mm, p.approach_mm, p.decimals) == (2, 0.3, 4)
