"""Laid strokes against the layout's own curve, told in space: 3-D distances to a dense cloud of wrapped points."""

from importlib import import_module
from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial import cKDTree

from engine.kernel.errors import LayoutError
from engine.kernel.tolerance import Tolerance
from engine.layout import Placement, Projection, lay_out
from engine.toolpath import lay
from engine.toolpath.lay import LAY_SHARE
from tests.blank.skins import SKINS
from tests.toolpath.analytic import strokes

TOLERANCE = Tolerance()
ART = strokes([[-9, -7], [8, 6]], [[-6, 8], [-6, -8], [7, -8]], [[3, 0], [3 + 1e-5, 0]])


def layout_of(name, projection):
    skin = SKINS[name]
    middle = 0.5 * sum(skin.x_range_mm)
    return lay_out(skin, Placement(x_mm=middle, angle_deg=170.0, width_mm=20.0, projection=projection))


def in_space(skin, x, theta):
    r = skin.radius(x, theta)
    return np.stack([x, r * np.cos(theta), r * np.sin(theta)], 1)


def between(laid, stroke, parts):
    """(x, theta, depth) at `parts` places in every straight move of a stroke."""
    at = slice(laid.offsets[stroke], laid.offsets[stroke + 1])
    rows = np.stack([laid.x_mm, laid.theta_rad, laid.depth_mm], 1)[at]
    t = np.linspace(0, 1, parts)
    return (rows[:-1, None] + t[:, None] * np.diff(rows, axis=0)[:, None]).reshape(-1, 3)


@pytest.mark.parametrize("projection", [Projection.EQUIDISTANT, Projection.CONFORMAL, Projection.FROM_VIEW])
@pytest.mark.parametrize("name", ["cone", "ovoid", "grid"])
def test_straight_moves_keep_to_the_laid_curve_within_their_share_of_the_chord(name, projection):
    layout = layout_of(name, projection)
    laid = lay(ART, layout, depth_mm=0.2, tolerance=TOLERANCE)
    for stroke in range(len(ART)):
        line = ART.line[stroke]
        t = np.linspace(0, 1, 20001)[:, None]
        dense = np.concatenate([a + t * (b - a) for a, b in pairwise(line)])
        cloud = cKDTree(in_space(layout.skin, *layout.wrap(dense)))
        moves = in_space(layout.skin, *between(laid, stroke, 30)[:, :2].T)
        assert cloud.query(moves)[0].max() <= LAY_SHARE * TOLERANCE.chord_mm + 2e-4  # the cloud's own spacing


def test_a_tighter_chord_takes_more_points_and_a_wider_one_fewer():
    layout = layout_of("ovoid", Projection.CONFORMAL)
    sizes = [len(lay(ART, layout, depth_mm=1, tolerance=Tolerance(chord_mm=c)).x_mm) for c in (0.001, 0.01, 0.1)]
    assert sizes[0] > 2 * sizes[1] > 3 * sizes[2] / 2


def test_a_stroke_that_is_straight_on_the_skin_s_chart_stays_one_move():
    laid = lay(ART, layout_of("cylinder", Projection.EQUIDISTANT), depth_mm=0.2, tolerance=TOLERANCE)
    np.testing.assert_array_equal(laid.offsets, ART.line.offsets)


def test_the_given_points_are_kept_and_the_ends_are_theirs():
    layout = layout_of("ovoid", Projection.FROM_VIEW)
    laid = lay(ART, layout, depth_mm=0.2, tolerance=TOLERANCE)
    x, theta = layout.wrap(ART.line.points)
    laid_points = set(zip(laid.x_mm.tolist(), laid.theta_rad.tolist(), strict=True))
    given = zip(x, theta, strict=True)
    assert all(min(abs(a - p) + abs(b - q) for p, q in laid_points) < 1e-12 for a, b in given)
    np.testing.assert_allclose(laid.x_mm[laid.offsets[:-1]], x[ART.line.offsets[:-1]], atol=1e-12)
    np.testing.assert_allclose(laid.theta_rad[laid.offsets[1:] - 1], theta[ART.line.offsets[1:] - 1], atol=1e-12)


def test_depth_runs_straight_along_the_sheet():
    art = strokes([[-9, -7], [8, 6]], share=[0.25, 1.0], reversible=False)
    layout = layout_of("ovoid", Projection.CONFORMAL)
    laid = lay(art, layout, depth_mm=0.4, tolerance=TOLERANCE)
    uv = layout.unwrap(laid.x_mm, laid.theta_rad)
    np.testing.assert_allclose(laid.depth_mm, 0.1 + 0.3 * (uv[:, 0] + 9) / 17, atol=1e-7)
    assert not laid.reversible.any()


def test_art_off_the_blank_is_refused():
    with pytest.raises(LayoutError):
        lay(strokes([[0, 0], [0, 60]]), layout_of("ovoid", Projection.EQUIDISTANT), depth_mm=0.2, tolerance=TOLERANCE)


def test_no_strokes_no_laid_strokes():
    laid = lay(strokes(), layout_of("ovoid", Projection.EQUIDISTANT), depth_mm=0.2, tolerance=TOLERANCE)
    assert len(laid) == 0 and len(laid.x_mm) == 0


def test_some_of_the_strokes_are_those_strokes():
    laid = lay(ART, layout_of("cone", Projection.EQUIDISTANT), depth_mm=0.2, tolerance=TOLERANCE)
    chosen = np.array([True, False, True])
    some, rest = laid.only(chosen), laid.only(~chosen)
    assert (len(some), len(rest)) == (2, 1) and laid.only(np.ones(3, bool)) is laid
    for name in ("x_mm", "theta_rad", "depth_mm"):
        whole = [getattr(laid, name)[a:b] for a, b in pairwise(laid.offsets)]
        parts = [getattr(part, name)[a:b] for part in (some, rest) for a, b in pairwise(part.offsets)]
        assert all(np.array_equal(a, b) for a, b in zip(parts, [whole[0], whole[2], whole[1]], strict=True))
    assert len(laid.only(np.zeros(3, bool))) == 0


@pytest.mark.parametrize("part", [1, 2])
def test_what_is_laid_does_not_hang_on_how_many_segments_are_laid_at_a_time(part, monkeypatch):
    layout = layout_of("ovoid", Projection.CONFORMAL)
    once = lay(ART, layout, depth_mm=0.2, tolerance=TOLERANCE)
    assert len(once.x_mm) > 2 * len(ART.line.points)
    monkeypatch.setattr(import_module("engine.toolpath.lay"), "PART", part)  # the package has a function of that name
    again = lay(ART, layout, depth_mm=0.2, tolerance=TOLERANCE)
    for name in ("x_mm", "theta_rad", "depth_mm", "offsets"):
        assert np.array_equal(getattr(again, name), getattr(once, name))
