"""The air run takes the real run's time with the tool clear; going on from a stroke runs exactly the rest."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine import Axis, Profile
from engine.program import air, resume, write
from tests.program.paths import COLUMNS, back, body_moves, linked, on_blank, paths, profiles

few = settings(derandomize=True, deadline=None, max_examples=30)
TWO = linked([np.array([[0, 0, 20], [5, 0, 20.0]]), np.array([[9, 1, 21], [9, 2, 21.0]])])


@given(paths(), profiles())
@few
def test_the_air_run_takes_the_same_time_move_by_move(path, profile):
    profile = replace(profile, decimals=6)
    real, lifted = write(path, profile), write(air(path, lift_mm=3), profile, spindle=False)
    low = {row: move for move, row in body_moves(real, back(real, profile))}
    high = {row: move for move, row in body_moves(lifted, back(lifted, profile))}
    for row in low.keys() & high.keys():
        a, b = low[row], high[row]
        assert (a.rapid, a.stroke) == (b.rapid, b.stroke) and b.spindle == 0
        p, q = on_blank(a.end, profile), on_blank(b.end, profile)
        assert q[:2] == p[:2] and q[2] - p[2] == pytest.approx(3, abs=2e-6)
        if not a.rapid:  # the radial words of the two round apart by a step each end, and that takes a moment
            slack = 5e-6 / path.feed_mm_min[row] + 4e-6 / 600
            assert b.minutes == pytest.approx(a.minutes, rel=1.2e-5, abs=slack)
    alone = low.keys() ^ high.keys()  # rows that round to nothing in one of the two
    assert all(
        not m.minutes > 1e-5 / path.feed_mm_min[r] for r, m in (low | high).items() if r in alone and not m.rapid
    )


@given(paths())
@few
def test_the_air_run_lifts_every_row_and_changes_nothing_else(path):
    up = air(path, lift_mm=2.5)
    assert np.array_equal(up.r_mm, path.r_mm + 2.5)
    for name in ("x_mm", "theta_rad", "kind", "stroke"):
        assert np.array_equal(getattr(up, name), getattr(path, name))


@pytest.mark.parametrize("lift_mm", [0.0, -1.0, float("nan")])
def test_an_air_run_needs_a_lift(lift_mm):
    with pytest.raises(ProgramError):
        air(TWO, lift_mm=lift_mm)


@given(paths())
@few
def test_going_on_starts_at_the_greatest_height_and_runs_exactly_the_rest(path):
    for n in range(1, int(path.stroke.max()) + 1):
        rest = resume(path, n, Profile())
        left = (path.stroke >= n) & (path.kind != Kind.TRAVEL)
        cut = rest.kind != Kind.TRAVEL
        for name in COLUMNS:
            assert np.array_equal(getattr(path, name)[left], getattr(rest, name)[cut])
        plunge = int(np.flatnonzero(left)[0])
        assert rest.r_mm[0] == path.r_mm.max()
        # straight down over the place where the stroke's own plunge begins, no further
        for name in ("x_mm", "theta_rad"):
            assert getattr(rest, name)[0] == getattr(rest, name)[1] == getattr(path, name)[plunge - 1]
        assert rest.r_mm[1] == path.r_mm[plunge - 1] and (rest.kind[:2] == Kind.TRAVEL).all()
        program = write(rest, Profile())
        assert back(program, Profile()).strokes == list(range(n, int(path.stroke.max()) + 1))


def test_the_whole_from_its_first_stroke_cuts_the_same_words():
    whole, again = (back(write(p, Profile()), Profile()) for p in (TWO, resume(TWO, 1, Profile())))
    cuts = [[(m.end, m.feed, m.stroke) for m in r.moves if not m.rapid] for r in (whole, again)]
    assert cuts[0] == cuts[1]


@pytest.mark.parametrize("stroke", [0, -1, 3, 10**9])
def test_a_stroke_that_is_not_there_is_refused(stroke):
    with pytest.raises(ProgramError, match="no stroke") as caught:
        resume(TWO, stroke, Profile())
    assert caught.value.where == "from_stroke" and "1 to 2" in caught.value.hint


def test_a_stroke_that_no_travel_leads_to_is_refused():
    """A rapid down to where the last stroke ended would run through the blank."""
    path = Path(
        x_mm=[0, 0, 5, 9], theta_rad=[0, 0, 0, 0], r_mm=[25, 19, 19, 19], kind=[3, 1, 0, 0], stroke=[1, 1, 1, 2],
        feed_mm_min=[1, 60, 60, 60],
    )  # fmt: skip
    assert len(resume(path, 1, Profile())) == 5
    with pytest.raises(ProgramError, match="no travel leads to stroke 2"):
        resume(path, 2, Profile())


PLAY = Profile(axial=Axis(letter="X", backlash=0.4, greatest=9.1), rotary=Axis(letter="A", backlash=2.0))


def test_going_on_comes_back_the_way_the_stroke_sets_off():
    """The carriage rises, so it comes from below; the rotary falls, so it comes from above: 1.25 times the play."""
    path = linked([np.array([[0, 0, 20], [5, 0, 20.0]]), np.array([[9, 1, 21], [9.1, 1, 21], [9.1, 0.5, 21.0]])])
    rest = resume(path, 2, PLAY)
    assert rest.x_mm[:3].tolist() == pytest.approx([8.5, 9, 9])
    assert np.degrees(rest.theta_rad[:3] - 1).tolist() == pytest.approx([2.5, 0, 0])
    assert rest.r_mm[:2].tolist() == [path.r_mm.max()] * 2 and rest.r_mm[2] == pytest.approx(21.3)
    back = resume(linked([np.array([[9, 0, 20], [5, 0, 20.0]])]), 1, PLAY)
    assert np.degrees(back.theta_rad[0]) == pytest.approx(-2.5)  # the rotary stays, so it comes from below
    assert back.x_mm[0] == pytest.approx(9.1)  # the axis reaches no further
