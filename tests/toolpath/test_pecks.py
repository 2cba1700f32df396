"""Strokes of one point: the tool goes straight down to its depth and straight up again, and cuts nothing else."""

import math

import numpy as np
import pytest

from engine.kernel.ragged import Ragged
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Kind, Tool
from engine.layout import Placement, lay_out
from engine.machine import Axis, Profile
from engine.marking import Strokes
from engine.program import write
from engine.proof import prove
from engine.toolpath import climb, cut, lay, link, order
from engine.toolpath.ordering import Axes
from engine.toolpath.ordering import order as ordering
from tests.blank.skins import SKINS
from tests.toolpath.analytic import deepest_under

TOLERANCE = Tolerance()
TOOL = Tool(tip_mm=0.1)
DEPTH, FEED, PLUNGE = 0.15, 240.0, 80.0


def dots(n=40, seed=3, lines=()):
    """Pecks scattered over the sheet, each at a share of its own; and lines among them."""
    rng = np.random.default_rng(seed)
    places = [rng.uniform(-8, 8, (1, 2)) for _ in range(n)]
    share = [np.array([s]) for s in rng.uniform(0.4, 1.0, n)]
    for line in lines:
        places.insert(n // 2, np.asarray(line, float))
        share.insert(n // 2, np.ones(len(line)))
    line = Ragged.of(places)
    return Strokes(line=line, share=np.concatenate(share), reversible=np.ones(len(line), bool))


def made(strokes, skin, *, machine=None, passes=1, step_mm=None):
    """(laid, runs in order, path) of strokes at the middle of a skin."""
    layout = lay_out(skin, Placement(x_mm=0.5 * sum(skin.x_range_mm), angle_deg=175.0))
    laid = lay(strokes, layout, depth_mm=DEPTH, tolerance=TOLERANCE)
    runs = cut(
        climb(laid, skin, tolerance=TOLERANCE),
        skin,
        TOOL,
        depth_mm=DEPTH,
        passes=passes,
        step_mm=step_mm,
        feed_mm_min=FEED,
        plunge_mm_min=PLUNGE,
        art=0,
        tolerance=TOLERANCE,
    )
    machine = machine or Profile()
    runs = order(runs, machine)
    return laid, runs, link(runs, skin, TOOL, machine)


@pytest.mark.parametrize("name", ["cylinder", "ovoid", "grid"])
def test_a_program_of_pecks_read_back_makes_every_dot_at_its_depth_and_nothing_else(name):
    skin = SKINS[name]
    strokes = dots()
    laid, runs, path = made(strokes, skin)
    assert len(runs) == len(laid) == 40
    program = write(path, Profile(), rpm=9000.0)
    proof = prove(program.text, skin=skin, tools=[TOOL], machine=Profile())
    assert [f for f in proof.findings if f.severity.value == "error"] == []
    told = proof.replay
    downs = told.kind == Kind.PLUNGE
    assert int(downs.sum()) == 40
    assert not (told.kind == Kind.CUT).any()
    # each dot in its place, whatever the order and the turns
    place = np.stack([told.x_mm[downs], np.mod(told.theta_rad[downs], 2 * np.pi)], 1)
    asked = np.stack([laid.x_mm, np.mod(laid.theta_rad, 2 * np.pi)], 1)
    first, second = np.lexsort(np.round(place, 3).T), np.lexsort(np.round(asked, 3).T)
    assert np.allclose(place[first], asked[second], atol=2e-4)
    # as deep as it was asked, by a referee in space; the words are rounded to 0.1 um
    for k, j in list(zip(first, second, strict=True))[::4]:
        x, theta, r = told.end[downs][k]
        assert deepest_under(skin, TOOL, x, theta, r) == pytest.approx(DEPTH * strokes.share[j], abs=1.5e-3)
    # and every cell that is carved lies under one of the dots
    cells_x, cells_t = np.nonzero(proof.carved.depth_mm > 1e-3)
    assert len(cells_x) > 40
    x, theta = proof.carved.x_mm[cells_x], proof.carved.theta_rad[cells_t]
    r = skin.radius(x, theta)
    around = np.abs(np.mod(theta[:, None] - asked[:, 1] + np.pi, 2 * np.pi) - np.pi) * r[:, None]
    far = np.hypot(x[:, None] - asked[:, 0], around).min(axis=1)
    assert far.max() < 1.3 * TOOL.width_mm(DEPTH)  # on a slope the cone's upper flank reaches further


def test_pecks_go_down_in_steps_and_come_down_again_for_each_pass():
    _, runs, path = made(dots(6), SKINS["cylinder"], passes=2, step_mm=0.06)
    levels = np.ceil(np.array(sorted(np.diff(runs.run_offsets)))).tolist()
    assert set(levels) == {1}
    r = path.r_mm[path.kind == Kind.PLUNGE]
    stroke = path.stroke[path.kind == Kind.PLUNGE]
    for k in range(1, 7):
        own = r[stroke == k]
        assert (np.diff(own) <= 1e-12).all()
        assert np.abs(np.diff(np.concatenate([[20.0], own]))).max() <= 0.06 * 1.01


def test_pecks_and_lines_are_one_job():
    laid, runs, path = made(dots(9, lines=[[(-5.0, -3.0), (5.0, 4.0)]]), SKINS["grid"])
    assert len(laid) == 10
    single = np.diff(runs.run_offsets) == 1
    assert int(single.sum()) == 9
    assert (path.kind == Kind.CUT).sum() >= 1
    plunge = path.feed_mm_min[path.kind == Kind.PLUNGE]
    assert set(plunge.tolist()) == {PLUNGE}


def test_play_is_taken_up_before_a_peck_always_from_the_same_side():
    """An axis that the peck does not move is come to from below, by more than its play."""
    machine = Profile(rotary=Axis(letter="A", rapid_per_min=3600.0, backlash=0.5))
    _, runs, path = made(dots(12), SKINS["cylinder"], machine=machine)
    at = np.flatnonzero(path.kind == Kind.PLUNGE)
    for k in at:
        here = path.theta_rad[k]
        before = path.theta_rad[:k][path.theta_rad[:k] != here]
        if len(before):
            assert here - before[-1] >= math.radians(0.5)
    assert len(runs) == 12


def test_dots_are_ordered_with_half_the_moves_and_the_way_is_hardly_longer():
    """Counted, not timed."""
    places = np.random.default_rng(7).uniform(0, 1, (2500, 2)) * [30.0, 150.0]
    ends = np.repeat(places[:, None], 2, axis=1)
    axes = Axes(x_speed_mm_s=25.0, theta_speed_deg_s=60.0)
    found = ordering(ends, np.ones(len(ends), bool), axes)
    full = ordering(ends, np.ones(len(ends), bool), axes, effort=16_000)
    assert 2 * found.kicks <= 1.1 * full.kicks
    assert found.travel_s <= 1.01 * full.travel_s
    assert sorted(found.order.tolist()) == list(range(2500))
