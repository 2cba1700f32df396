"""The tip's runs: within the chord, hardly below the asked depth between their points; levels, refusals."""

import numpy as np
import pytest

from engine.blank import Cylinder, Ovoid, tilt_cos
from engine.kernel.errors import ReachError
from engine.kernel.ragged import parts_of
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Tool
from engine.toolpath import climb, cut, join_runs, tip_radius
from tests.blank.skins import SKINS
from tests.toolpath.analytic import GENTLE, ROUGH, Formula, ball, cone, flat
from tests.toolpath.test_climb import ALONG, AROUND, laid_of

TOLERANCE = Tolerance()
CYLINDER = Cylinder(diameter_mm=30, length_mm=40)


def runs_of(laid, skin, tool=None, *, depth=0.2, passes=1, step=None, tolerance=TOLERANCE):
    return cut(
        laid,
        skin,
        tool or Tool(),
        depth_mm=depth,
        passes=passes,
        step_mm=step,
        feed_mm_min=400.0,
        plunge_mm_min=120.0,
        art=3,
        tolerance=tolerance,
    )


def run(runs, number):
    at = slice(runs.run_offsets[number], runs.run_offsets[number + 1])
    return np.stack([runs.x_mm[at], runs.theta_rad[at], runs.r_mm[at]], 1)


def flat_laid(*lines, depth=0.2, reversible=True):
    laid = laid_of(*lines, reversible=reversible)
    return type(laid)(
        x_mm=laid.x_mm,
        theta_rad=laid.theta_rad,
        depth_mm=np.full(len(laid.x_mm), depth),
        offsets=laid.offsets,
        reversible=laid.reversible,
    )


@pytest.mark.parametrize("tool", [cone(60), ball(0.25), ball(1.0), flat(1.0)], ids=["cone", "ball", "big ball", "flat"])
def test_moves_keep_to_the_tip_curve_and_hardly_dip_below_it(tool):
    runs = runs_of(flat_laid(ALONG, AROUND), GENTLE, tool)
    moves = np.concatenate([run(runs, i) for i in range(2)])
    a, b = moves[:-1], moves[1:]
    inside = np.arange(len(a)) != runs.run_offsets[1] - 1
    share = np.linspace(0, 1, 13)[1:-1]
    rows = (a[inside, None] + share[:, None] * (b - a)[inside, None]).reshape(-1, 3)
    true = tip_radius(GENTLE, tool, rows[:, 0], rows[:, 1], np.full(len(rows), 0.2))
    over = rows[:, 2] - true
    assert over.min() >= -1.05 * TOLERANCE.deeper_mm
    assert over.max() <= 0.6 * TOLERANCE.chord_mm * 1.05
    np.testing.assert_allclose(
        moves[:, 2], tip_radius(GENTLE, tool, moves[:, 0], moves[:, 1], np.full(len(moves), 0.2)), atol=1e-5
    )


@pytest.mark.parametrize("tool", [cone(60), ball(1.0)], ids=["cone", "ball"])
def test_on_a_rough_skin_no_move_is_deeper_by_two_micrometres(tool):
    runs = runs_of(flat_laid([[5.0, 0.2], [8.0, 0.35]]), ROUGH, tool)
    moves = run(runs, 0)
    share = np.linspace(0, 1, 8)[1:-1]
    rows = (moves[:-1, None] + share[:, None] * np.diff(moves, axis=0)[:, None]).reshape(-1, 3)
    true = tip_radius(ROUGH, tool, rows[:, 0], rows[:, 1], np.full(len(rows), 0.2))
    assert (rows[:, 2] - true).min() > -2e-3


def test_the_ends_are_the_strokes_own():
    runs = runs_of(flat_laid(ALONG, AROUND), GENTLE)
    np.testing.assert_allclose(run(runs, 0)[[0, -1], :2], [ALONG[0], ALONG[-1]], atol=1e-12)
    np.testing.assert_allclose(run(runs, 1)[[0, -1], :2], AROUND[[0, -1]], atol=1e-12)


def test_as_few_moves_as_the_curve_needs():
    """A cone's tip curve along its own line is straight: one move; a circle on a cylinder too, for r is the same."""
    runs = runs_of(flat_laid([[5.0, 0.0], [50.0, 0.0]]), SKINS["cone"])
    assert len(runs.x_mm) == 2
    runs = runs_of(flat_laid([[20.0, 0.0], [20.0, 6.0]]), CYLINDER)
    assert len(runs.x_mm) == 2
    np.testing.assert_allclose(runs.r_mm, 14.8, atol=1e-9)
    sag = 40.0**2 / (8.0 * 200.0)  # a barrel of radius 200: k moves dip by sag / k**2, which may be 1 um
    barrel = Formula(lambda x, t: 15 + np.sqrt(200.0**2 - (x - 20) ** 2) - 200.0 + 0 * t, (0.0, 40.0), is_round=True)
    moves = len(runs_of(flat_laid([[0.0, 0.0], [40.0, 0.0]]), barrel).x_mm) - 1
    least = np.sqrt(sag / TOLERANCE.deeper_mm)
    assert least <= moves <= 1.3 * least


def test_no_corner_is_cut_short():
    runs = runs_of(flat_laid(ALONG, AROUND), CYLINDER)
    np.testing.assert_allclose(run(runs, 0)[:, :2], ALONG, atol=1e-12)
    np.testing.assert_allclose(run(runs, 1)[:, :2], AROUND, atol=1e-12)


def test_levels_are_even_and_no_infeed_passes_the_step():
    runs = runs_of(flat_laid([[5.0, 0.0], [9.0, 0.2]], depth=0.5), CYLINDER, depth=0.5, step=0.2)
    np.testing.assert_array_equal(runs.stroke_offsets, [0, 3])
    levels = [15 - run(runs, i)[:, 2].max() for i in range(3)]
    np.testing.assert_allclose(levels, [0.5 / 3, 1.0 / 3, 0.5], atol=1e-9)


def test_the_step_is_radial_on_a_lean():
    """At 45 degrees the radial infeed is 1.414 of the depth: 0.2 mm take two steps of 0.15, not 0.2 / 0.15 = 1.33."""
    lean = Formula(lambda x, t: 10 + x + 0 * t, (0.0, 40.0), is_round=True)
    runs = runs_of(flat_laid([[5.0, 0.0], [9.0, 0.0]], depth=0.3), lean, depth=0.3, step=0.15)
    assert runs.stroke_offsets[-1] == 3
    tips = np.array([run(runs, i)[run(runs, i)[:, 0].argmin(), 2] for i in range(3)])
    assert np.abs(np.diff(tips)).max() <= 0.15 * 1.01


def test_repeats_run_at_full_depth_and_go_back_the_way_they_came():
    runs = runs_of(flat_laid(ALONG), GENTLE, passes=2, step=0.15)
    np.testing.assert_array_equal(runs.stroke_offsets, [0, 3])
    first, second, third = (run(runs, i) for i in range(3))
    np.testing.assert_allclose(first[-1, :2], second[0, :2], atol=1e-12)
    np.testing.assert_allclose(second[-1, :2], third[0, :2], atol=1e-12)
    np.testing.assert_array_equal(second[::-1], third)
    assert first[0, 2] > second[-1, 2] + 0.05


def test_a_stroke_that_may_not_be_turned_runs_the_same_way_every_time():
    laid = climb(flat_laid(ALONG), GENTLE, tolerance=TOLERANCE)
    runs = runs_of(laid, GENTLE, passes=3)
    for stroke in range(len(runs)):
        a = runs.stroke_offsets[stroke]
        np.testing.assert_array_equal(run(runs, a), run(runs, a + 1))
        np.testing.assert_array_equal(run(runs, a), run(runs, a + 2))
        assert run(runs, a)[-1, 2] > run(runs, a)[0, 2]
    assert not runs.reversible.any()


def test_depth_follows_the_share_along_a_stroke():
    laid = laid_of([[5.0, 0.0], [15.0, 0.0]])
    rising = type(laid)(
        x_mm=laid.x_mm,
        theta_rad=laid.theta_rad,
        depth_mm=np.array([0.1, 0.3]),
        offsets=laid.offsets,
        reversible=laid.reversible,
    )
    np.testing.assert_allclose(runs_of(rising, CYLINDER, depth=0.3).r_mm, [14.9, 14.7], atol=1e-9)


def test_figures_that_go_with_every_stroke():
    runs = runs_of(flat_laid(ALONG, AROUND), CYLINDER)
    assert set(runs.feed_mm_min) == {400.0} and set(runs.plunge_mm_min) == {120.0} and set(runs.art) == {3}


@pytest.mark.parametrize("name", sorted(SKINS))
def test_every_blank_can_be_followed(name):
    skin = SKINS[name]
    low, high = skin.x_range_mm
    laid = flat_laid([[low + 0.3 * (high - low), 0.0], [low + 0.6 * (high - low), 2.0]])
    runs = runs_of(laid, skin, cone(60, 0.0))
    infeed = skin.radius(runs.x_mm, runs.theta_rad) - runs.r_mm
    want = 0.2 / tilt_cos(skin.radius(runs.x_mm, runs.theta_rad), *skin.slopes(runs.x_mm, runs.theta_rad))
    np.testing.assert_allclose(infeed, want, atol=1e-3)  # the skin's own bend over 0.2 mm sideways


def test_too_near_a_pole_is_refused_with_place_and_figure():
    egg = Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5)
    with pytest.raises(ReachError, match=r"x 56\.50 mm, 0\.0 deg.* leans \d+ deg"):
        runs_of(flat_laid([[30.0, 0.0], [56.5, 0.0]]), egg)
    with pytest.raises(ReachError, match="too thin"):
        runs_of(flat_laid([[30.0, 0.0], [57.0, 0.0]]), egg)


def test_what_is_too_deep_is_told_by_the_depth_of_the_stroke_not_by_the_most_the_job_allows():
    shallow = flat_laid(ALONG, depth=0.5)
    np.testing.assert_allclose(runs_of(shallow, CYLINDER, depth=12.0).r_mm, 14.5, atol=1e-5)
    with pytest.raises(ReachError, match=r"radius is 15\.00 mm, too thin for 7\.5 mm depth"):
        runs_of(flat_laid(ALONG, depth=7.5), CYLINDER, depth=7.5)


def test_a_stroke_up_to_where_the_egg_leans_seventy_degrees_is_followed():
    egg = Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5)
    laid = climb(flat_laid([[30.0, 0.0], [54.0, 0.0]]), egg, tolerance=TOLERANCE)
    runs = runs_of(laid, egg)
    assert (runs.r_mm < egg.radius(runs.x_mm, runs.theta_rad)).all()


def test_joined_runs_keep_their_strokes_in_order():
    a, b = runs_of(flat_laid(ALONG), CYLINDER, passes=2), runs_of(flat_laid(AROUND, ALONG), GENTLE)
    both = join_runs([a, b])
    assert len(both) == 3
    np.testing.assert_array_equal(both.stroke_offsets, [0, 2, 3, 4])
    np.testing.assert_array_equal(run(both, 2), run(b, 0))
    np.testing.assert_array_equal(run(both, 1), run(a, 1))


def test_nothing_asked_nothing_cut():
    none = join_runs([])
    assert len(none) == 0 and len(join_runs([none, none])) == 0
    assert len(runs_of(none_laid(), CYLINDER)) == 0


def none_laid():
    laid = laid_of(ALONG)
    return type(laid)(
        x_mm=laid.x_mm[:0],
        theta_rad=laid.theta_rad[:0],
        depth_mm=laid.depth_mm[:0],
        offsets=laid.offsets[:1],
        reversible=laid.reversible[:0],
    )


def test_the_tip_s_way_does_not_hang_on_how_many_strokes_are_followed_at_a_time(monkeypatch):
    laid = flat_laid(ALONG, AROUND, AROUND, ALONG)
    once = runs_of(laid, GENTLE)
    taken = []
    monkeypatch.setattr("engine.toolpath.resample.parts_of", lambda size: taken.append(parts_of(size, 1)) or taken[-1])
    again = runs_of(laid, GENTLE)
    assert len(taken[0]) == 4
    for name in ("x_mm", "theta_rad", "r_mm", "run_offsets"):
        assert np.array_equal(getattr(again, name), getattr(once, name))
