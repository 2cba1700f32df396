"""Splines as cubics: exact and one a span where they are cubics, few and near where they are not."""

import numpy as np
import pytest
from scipy.interpolate import BSpline

from engine.artwork.dxf_spline import fit_cubics, spline_cubics
from engine.kernel.errors import ArtworkError

HALF = np.sqrt(0.5)


def along(cubics, t):
    """(n * k, 2) points of each cubic at t (k,)."""
    share = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
    return np.einsum("jk,njd->nkd", share, cubics).reshape(-1, 2)


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_a_spline_of_low_degree_is_one_cubic_a_span_to_the_last_digit(degree):
    control = np.random.default_rng(degree).uniform(0, 50, (8, 2))
    knots = np.concatenate([np.zeros(degree + 1), np.arange(1, 8 - degree), np.full(degree + 1, 8.0 - degree)])
    cubics = spline_cubics(degree, knots, control, None, "")
    assert len(cubics) == 8 - degree
    t = np.linspace(0, 1, 9)
    true = BSpline(knots, control, degree)((np.arange(8 - degree)[:, None] + t).ravel() - 1e-13)
    np.testing.assert_allclose(along(cubics, t), true, atol=1e-9)


def test_a_circle_of_weights_is_round_in_few_pieces():
    """The circle of nine points, weights 1 and cos 45 degrees (The NURBS Book, section 7.5)."""
    control = 40.0 * np.array([[1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1], [0, -1], [1, -1], [1, 0]])
    knots = np.repeat([0.0, 0.25, 0.5, 0.75, 1.0], [3, 2, 2, 2, 3])
    weights = np.where(np.arange(9) % 2, HALF, 1.0)
    cubics = spline_cubics(2, knots, control, weights, "")
    assert np.abs(np.hypot(*along(cubics, np.linspace(0, 1, 17)).T) - 40.0).max() < 2e-4
    assert len(cubics) <= 64
    np.testing.assert_allclose(cubics[1:, 0], cubics[:-1, 3], atol=1e-12)


def test_tangents_at_the_ends_are_kept_where_they_are_given():
    points = np.array([[0.0, 0], [10, 0], [20, 5]])
    cubics = fit_cubics(points, np.array([0.0, 3.0]), None, "")
    start = cubics[0, 1] - cubics[0, 0]
    assert abs(start[0]) < 1e-12 and start[1] > 0
    np.testing.assert_allclose(cubics[:, [0, 3]].reshape(-1, 2), points[[0, 1, 1, 2]], atol=1e-12)


def test_points_that_are_all_one_make_no_spline():
    with pytest.raises(ArtworkError):
        fit_cubics(np.ones((4, 2)), None, None, "line 3")
    with pytest.raises(ArtworkError, match="weight"):
        spline_cubics(1, np.array([0.0, 0, 1, 1]), np.eye(2), np.array([1.0, 0.0]), "")
    with pytest.raises(ArtworkError, match="rise"):
        spline_cubics(1, np.array([0.0, 1, 0, 1]), np.eye(2), None, "")
