"""The joining of runs, row by row on a cylinder, where every height is known."""

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.errors import ReachError
from engine.kernel.values import Kind, Tool
from engine.machine import Park, Profile
from engine.toolpath.link import link, margin_mm
from tests.toolpath.runs_made import runs_of

SKIN = Cylinder(diameter_mm=40, length_mm=60)
PROFILE = Profile()
MARGIN = margin_mm(PROFILE)
HIGH, NEAR, DEEP = 22 + MARGIN, 20.3 + MARGIN, 19.8
TWO = [[[(10, 0.1, DEEP), (12, 0.1, DEEP), (13, 0.2, DEEP)]], [[(20, 1.0, DEEP), (21, 1.0, DEEP)]]]


def rows(path):
    named = [Kind(kind).name for kind in path.kind]
    return list(zip(named, path.x_mm, path.theta_rad, path.r_mm, path.stroke.tolist(), strict=True))


def same(path, wanted):
    assert [row[0] for row in rows(path)] == [row[0] for row in wanted]
    assert [row[4] for row in rows(path)] == [row[4] for row in wanted]
    assert np.array([row[1:4] for row in rows(path)]) == pytest.approx(np.array([row[1:4] for row in wanted]), abs=1e-5)


def test_two_strokes_move_by_move():
    path = link(runs_of(TWO), SKIN, Tool(), PROFILE)
    same(
        path,
        [
            ("TRAVEL", 10, 0.1, HIGH, 1),
            ("TRAVEL", 10, 0.1, NEAR, 1),
            ("PLUNGE", 10, 0.1, DEEP, 1),
            ("CUT", 12, 0.1, DEEP, 1),
            ("CUT", 13, 0.2, DEEP, 1),
            ("LIFT", 13, 0.2, NEAR, 1),
            ("TRAVEL", 13, 0.2, HIGH, 1),
            ("TRAVEL", 20, 1.0, HIGH, 2),
            ("TRAVEL", 20, 1.0, NEAR, 2),
            ("PLUNGE", 20, 1.0, DEEP, 2),
            ("CUT", 21, 1.0, DEEP, 2),
            ("LIFT", 21, 1.0, NEAR, 2),
            ("TRAVEL", 21, 1.0, HIGH, 0),
        ],
    )
    assert (path.feed_mm_min[path.kind == Kind.CUT] == 200).all()
    assert (path.feed_mm_min[path.kind == Kind.PLUNGE] == 60).all()


def test_a_run_that_starts_where_the_last_ended_is_plunged_into_without_a_lift():
    there, back = [(10, 0.1, 19.9), (12, 0.3, 19.9)], [(12, 0.3, DEEP), (10, 0.1, DEEP)]
    path = link(runs_of([[there, back]]), SKIN, Tool(), PROFILE)
    kinds = [Kind(kind).name for kind in path.kind]
    assert kinds == ["TRAVEL", "TRAVEL", "PLUNGE", "CUT", "PLUNGE", "CUT", "LIFT", "TRAVEL"]


def test_a_repeat_at_the_same_depth_takes_no_row_of_its_own():
    there, back = [(10, 0.1, DEEP), (12, 0.3, DEEP)], [(12, 0.3, DEEP), (10, 0.1, DEEP)]
    kinds = [Kind(kind).name for kind in link(runs_of([[there, back]]), SKIN, Tool(), PROFILE).kind]
    assert kinds == ["TRAVEL", "TRAVEL", "PLUNGE", "CUT", "CUT", "LIFT", "TRAVEL"]


def test_a_run_elsewhere_in_the_same_stroke_is_hopped_to_under_the_same_number():
    first, second = [(10, 0.1, 19.9), (12, 0.3, 19.9)], [(10, 0.1, DEEP), (12, 0.3, DEEP)]
    path = link(runs_of([[first, second]]), SKIN, Tool(), PROFILE)
    assert path.stroke[:-1].tolist() == [1] * (len(path) - 1)
    assert (path.kind == Kind.LIFT).sum() == 2
    assert (path.kind == Kind.PLUNGE).sum() == 2


def test_the_same_place_in_the_next_stroke_is_lifted_to():
    strokes = [[[(10, 0.1, DEEP), (12, 0.1, DEEP)]], [[(12, 0.1, DEEP), (14, 0.1, DEEP)]]]
    path = link(runs_of(strokes), SKIN, Tool(), PROFILE)
    assert (path.kind == Kind.LIFT).sum() == 2


def test_a_dot_is_a_plunge_and_a_lift():
    path = link(runs_of([[[(10, 0.1, DEEP)]], [[(11, 0.1, DEEP)]]]), SKIN, Tool(), PROFILE)
    assert (path.kind == Kind.CUT).sum() == 0
    assert (path.kind == Kind.PLUNGE).sum() == 2
    assert (path.kind == Kind.LIFT).sum() == 2


@pytest.mark.parametrize("decimals", [1, 2, 4])
def test_heights_stand_what_rounding_takes(decimals):
    machine = Profile(decimals=decimals)
    path = link(runs_of(TWO), Cylinder(diameter_mm=40.08, length_mm=60), Tool(), machine)
    r = np.round(path.r_mm, decimals)
    assert (r[path.kind == Kind.LIFT] >= 20.34).all()
    sideways = np.flatnonzero((path.kind[1:] == Kind.TRAVEL) & (np.diff(path.x_mm) != 0)) + 1
    assert (r[sideways] >= 22.04).all()


def test_it_waits_where_the_profile_says_and_above_everything():
    machine = Profile(park=Park(x_mm=50, angle_deg=90, lift_mm=5))
    path = link(runs_of(TWO), SKIN, Tool(), machine)
    assert rows(path)[-2][1:4] == pytest.approx((21, 1.0, HIGH + 5))
    assert rows(path)[-1][1:4] == pytest.approx((50, np.pi / 2, HIGH + 5))


def test_nothing_to_cut_is_refused():
    with pytest.raises(ReachError):
        link(runs_of([]), SKIN, Tool(), PROFILE)
    with pytest.raises(ReachError):
        link(runs_of([[]]), SKIN, Tool(), PROFILE)
