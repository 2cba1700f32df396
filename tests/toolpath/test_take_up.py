"""Play taken up in the air: a model of an axis with play must arrive with none left."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.blank import Cylinder
from engine.kernel.values import Kind, Tool
from engine.machine import Axis, Profile, room_of
from engine.toolpath.link import link
from engine.toolpath.take_up import take_up
from tests.toolpath.runs_made import runs_of

PLAY = Profile(
    axial=Axis(letter="X", rapid_per_min=1500.0, backlash=0.2),
    rotary=Axis(letter="A", rapid_per_min=3600.0, backlash=0.5),
)
places = st.tuples(st.integers(50, 550), st.integers(-30, 30)).map(lambda p: (p[0] / 10, p[1] / 10, 19.8))
lines = st.lists(st.lists(places, min_size=2, max_size=4, unique=True), min_size=1, max_size=6)


def table_behind(word, play):
    """Where an axis with play stands for each word: the drive moves through the play before the table follows."""
    table = [word[0]]
    for target in word[1:]:
        table.append(min(max(table[-1], target - play), target))
    return np.array(table)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(lines)
def test_no_stroke_sets_off_with_play_left(strokes):
    path = link(runs_of([[line] for line in strokes]), Cylinder(diameter_mm=40, length_mm=60), Tool(), PLAY)
    for word, play in ((path.x_mm, 0.2), (path.theta_rad, np.radians(0.5))):
        table = table_behind(word, play)
        starts = np.flatnonzero(path.kind == Kind.PLUNGE)
        for k, end in pairwise([*starts, len(path)]):
            moves = [word[j] - word[k] for j in range(k + 1, end) if path.kind[j] == Kind.CUT]
            first = next((move for move in moves if move != 0), 0.0)
            # The play lies at 0 (pushed onwards) or at `play` behind the word: onwards means none is left.
            if first != 0:
                left = word[k] - table[k] if first < 0 else play - (word[k] - table[k])
                assert left == pytest.approx(0, abs=1e-9)


def test_without_play_nothing_is_passed():
    runs = runs_of([[[(10, 0.1, 19.8), (12, 0.3, 19.8)]], [[(20, 0.4, 19.8), (18, 0.2, 19.8)]]])
    x, theta = take_up(runs, Profile())
    assert x.tolist() == [10, 20]
    assert theta.tolist() == [0.1, 0.4]


def test_an_axis_that_comes_the_right_way_is_left_alone_and_one_that_stays_comes_from_below():
    runs = runs_of([[[(10, 0.1, 19.8), (12, 0.1, 19.8)]], [[(20, 0.1, 19.8), (22, 0.1, 19.8)]]])
    x, theta = take_up(runs, PLAY)
    assert x.tolist() == [9.75, 20]
    assert np.degrees(theta - 0.1).tolist() == pytest.approx([-0.625, -0.625])  # 1.25 times the play


def test_the_room_of_the_axis_is_kept_also_when_reversed():
    runs = runs_of([[[(10, 0.1, 19.8), (12, 0.3, 19.8)]]])
    near = replace(PLAY, axial=Axis(letter="X", least=9.9, greatest=60.0, backlash=0.2))
    assert take_up(runs, near)[0].tolist() == [9.9]
    turned = replace(PLAY, axial=Axis(letter="X", least=-60.0, greatest=-9.9, reversed=True, backlash=0.2))
    assert room_of(turned.axial) == (9.9, 60.0)
    assert take_up(runs, turned)[0].tolist() == [9.9]
