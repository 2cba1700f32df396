"""F words against the reference rows, a fine sum, and what the words themselves say."""

import math

import numpy as np
import pytest
from hypothesis import given, settings

from engine.machine import Axis, FeedRule, Profile
from engine.program import tip_length_mm, write
from engine.program.feeds import counted_length
from tests.program.paths import FREE, back, body_moves, linked, on_blank, paths, profiles, straight
from tests.program.words_back import way_mm

# Worked by hand: dX, dZ, dA, r, v, F in G93, F in G94 by NISTIR 6556 2.1.2.5, F with degrees as mm.
FW = [
    (10, 0, 90, 25, 600, 14.80635142, 148.0635142, 1340.772146),
    (0, 0, 90, 25, 600, 15.27887454, 1375.098708, 1375.098708),
    (10, 0, 0, 25, 600, 60, 600, 600),
    (1, 0, 1, 180 / np.pi, 1, 0.7071067812, 0.7071067812, 1.0),
    (2, 0, 30, 10, 300, 53.52402910, 107.0480582, 1609.285186),
    (5, -0.5, 45, 20, 400, 24.25400345, 121.8748590, 1098.213670),
    (3, 0, -120, 22, 500, 10.82854569, 32.48563707, 1299.831490),
    (0.001, 0, 10, 25, 600, 137.5098672, 0.1375098672, 1375.098679),
]
each_row = pytest.mark.parametrize("row", FW, ids=[f"FW{k}" for k in range(1, 9)])
each_rule = pytest.mark.parametrize("rule", list(FeedRule))


@each_row
def test_the_worked_feeds(row):
    dx, dz, da, r, v, f93, f94, f_all = (np.array([c], float) for c in row)
    minutes = tip_length_mm(dx, dz, np.radians(da), r, r) / v
    assert 1 / minutes == pytest.approx(f93, rel=1e-9)
    for rule, f in ((FeedRule.LINEAR_AXES_ONLY, f94), (FeedRule.ALL_AXES, f_all)):
        assert counted_length(rule, dx, da, dz, rotary_is_mm=False) / minutes == pytest.approx(f, rel=1e-9)


@each_row
@each_rule
def test_the_written_f_word_is_the_worked_one(row, rule):
    profile = Profile(feed_rule=rule, decimals=6, **FREE)
    last = back(write(straight(*row[:5]), profile), profile).moves[-1]
    assert last.feed == pytest.approx(row[5 + list(FeedRule).index(rule)], rel=1e-5)


@pytest.mark.parametrize(
    ("rule", "f"), [(FeedRule.INVERSE_TIME, 40.0), (FeedRule.LINEAR_AXES_ONLY, 0.04), (FeedRule.ALL_AXES, 400.0)]
)
def test_a_hair_along_x_never_drives_the_rotary_beyond_its_limit(rule, f):
    """Under a limit of 400 deg/min: a fortieth of a minute for ten degrees, whatever the rule makes of F."""
    profile = Profile(feed_rule=rule, decimals=6, **FREE | {"rotary": Axis(letter="A", rapid_per_min=400.0)})
    program = write(straight(*FW[7][:5]), profile)
    last = back(program, profile).moves[-1]
    assert last.feed == pytest.approx(f, rel=2e-5)
    assert last.minutes >= 1 / 40 and last.minutes == pytest.approx(1 / 40, rel=2e-5)
    assert program.slowed == 1 and program.slowest == pytest.approx((25 * math.radians(10) / 600) * 40, rel=1e-6)


@each_rule
def test_a_slowly_changing_feed_is_said_again(rule):
    """F may be left out only where it is the same to its last digit."""
    t = np.linspace(0, 1, 300)
    path = linked([np.stack([40 * t, 2 * t + 0.3 * t**2, np.full(300, 20.0)], 1)], feed=300)
    profile = Profile(feed_rule=rule)
    program = write(path, profile)
    for move, row in body_moves(program, back(program, profile)):
        if not move.rapid:
            way = way_mm(on_blank(move.start, profile), on_blank(move.end, profile))
            assert way / move.minutes == pytest.approx(path.feed_mm_min[row], rel=1e-5)


@pytest.mark.parametrize(
    ("r0", "r1", "turn", "rel"), [(0, 2, np.pi / 2, 6.5e-4), (10, 11, np.pi / 2, 1e-6), (25, 24.9, 0.1, 1e-11)]
)
def test_the_tips_way_against_a_fine_sum_of_chords(r0, r1, turn, rel):
    t = np.linspace(0, 1, 200_001)
    r, angle = r0 + (r1 - r0) * t, turn * t
    fine = np.linalg.norm(np.diff(np.stack([r * np.cos(angle), r * np.sin(angle)], 1), axis=0), axis=1).sum()
    one = [np.array([float(v)]) for v in (0.0, r1 - r0, turn, r0, r1)]
    assert tip_length_mm(*one)[0] == pytest.approx(fine, rel=rel)


@given(paths(), profiles())
@settings(derandomize=True, deadline=None, max_examples=40)
def test_the_tip_keeps_the_asked_feed_and_no_axis_is_asked_too_much(path, profile):
    program = write(path, profile)
    held = 0
    for move, row in body_moves(program, back(program, profile)):
        if move.rapid:
            continue
        a, b = on_blank(move.start, profile), on_blank(move.end, profile)
        gone = [abs(q - p) for p, q in zip(a, b, strict=True)]
        least = max(gone[0] / 1500, gone[1] / 3600, gone[2] / 600)
        assert move.minutes >= least * (1 - 1e-9)
        asked = way_mm(a, b) / path.feed_mm_min[row]
        # The written way is exact where the radius stands still; elsewhere within the two-point rule's own error.
        rel = 1e-5 if abs(gone[2]) < 1e-12 else 1e-3
        assert move.minutes == pytest.approx(max(asked, least), rel=rel)
        held += least > asked * (1 + 1e-3)
        assert least <= asked * (1 + 1e-3) or program.slowest < 1
    assert program.slowed >= held


@given(paths(), profiles())
@settings(derandomize=True, deadline=None, max_examples=25)
def test_f_carries_five_significant_digits(path, profile):
    for line in write(path, profile).text.decode().splitlines():
        for word in [] if line.startswith("(") else line.split():
            if word[0] == "F":
                assert len(word[1:].replace(".", "").lstrip("0")) >= 5
