"""Ordering of runs: the same cuts, fewer hops, no wind-up, inside the rotary's range."""

import numpy as np
import pytest

from engine.kernel.errors import ReachError
from engine.machine import Axis, Profile
from engine.toolpath.order import order, stroke_ends
from tests.toolpath.runs_made import runs_of

PROFILE = Profile()


def random_runs(n, seed, *, levels=1):
    rng = np.random.default_rng(seed)
    made = []
    for x, theta in zip(rng.uniform(5, 60, n), rng.uniform(-3, 3, n), strict=True):
        line = [(x + 0.5 * k, theta + 0.02 * k, 20.0) for k in range(4)]
        made.append([line[:: (-1) ** level] for level in range(levels)])
    return runs_of(made)


def cuts(runs):
    """Every straight cut as its two ends, whichever way and on whichever turn."""
    inside = np.ones(len(runs.x_mm) - 1, bool)
    inside[runs.run_offsets[1:-1] - 1] = False
    place = np.stack([runs.x_mm, np.round(np.mod(runs.theta_rad, 2 * np.pi), 9), runs.r_mm], 1)
    pairs = np.stack([place[:-1], place[1:]], 1)[inside]
    return sorted(tuple(sorted(map(tuple, np.round(pair, 6).tolist()))) for pair in pairs)


def travel(runs, machine=PROFILE):
    """Seconds of all hops without ramps, by the slower axis."""
    ends = stroke_ends(runs)
    d = np.abs(ends[1:, 0] - ends[:-1, 1])
    around = np.degrees(d[:, 1])
    return np.maximum(d[:, 0] * 60 / machine.axial.rapid_per_min, around * 60 / machine.rotary.rapid_per_min).sum()


@pytest.mark.parametrize("levels", [1, 2, 3])
def test_the_same_is_cut_in_less_time(levels):
    runs = random_runs(60, 4, levels=levels)
    found = order(runs, PROFILE)
    assert cuts(found) == cuts(runs)
    assert travel(found) < 0.5 * travel(runs)
    ends = stroke_ends(found)
    assert np.abs(ends[1:, 0, 1] - ends[:-1, 1, 1]).max() <= np.pi + 1e-9


def test_the_same_runs_give_the_same_order():
    a, b = (order(random_runs(40, 8), PROFILE) for _ in range(2))
    assert a.x_mm.tobytes() == b.x_mm.tobytes()
    assert a.theta_rad.tobytes() == b.theta_rad.tobytes()


@pytest.mark.parametrize(
    ("least", "greatest", "turned"),
    [(-200.0, 200.0, False), (0.0, None, False), (None, 0.0, False), (None, 0.0, True), (10.0, 400.0, True)],
)
def test_every_stroke_stands_inside_the_rotarys_range(least, greatest, turned):
    axis = Axis(letter="A", rapid_per_min=3600.0, least=least, greatest=greatest, reversed=turned)
    found = order(random_runs(200, 2), Profile(rotary=axis))
    word = np.degrees(found.theta_rad) * (-1 if turned else 1)
    assert word.min() >= (-np.inf if least is None else least)
    assert word.max() <= (np.inf if greatest is None else greatest)


def test_a_stroke_that_no_turn_brings_into_range_is_refused():
    axis = Axis(letter="A", rapid_per_min=3600.0, least=0.0, greatest=1.0)
    with pytest.raises(ReachError):
        order(random_runs(20, 2), Profile(rotary=axis))


@pytest.mark.parametrize("n", [0, 1, 2])
def test_few_strokes(n):
    runs = random_runs(n, 1) if n else runs_of([])
    assert len(order(runs, PROFILE)) == n
