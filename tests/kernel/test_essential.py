"""What must stay of a run, beside shapely's simplification by the same source, and its promise in three dimensions."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from engine.kernel.essential import essential, essential_between


def walk(seed, n, width):
    return np.cumsum(np.random.default_rng(seed).normal(size=(n, width)), axis=0)


@pytest.mark.parametrize("tolerance", [0.3, 1.0, 4.0])
@pytest.mark.parametrize("seed", range(4))
def test_what_stays_is_what_shapely_leaves(seed, tolerance):
    runs = [walk(seed, n, 2) for n in (200, 2, 57)]
    points, offsets = np.concatenate(runs), np.cumsum([0, 200, 2, 57])
    keep = essential(points, offsets, tolerance)
    for run, first, after in zip(runs, offsets[:-1], offsets[1:], strict=True):
        left = shapely.simplify(shapely.linestrings(run), tolerance, preserve_topology=False)
        assert np.array_equal(points[first:after][keep[first:after]], shapely.get_coordinates(left))


def test_no_point_is_shifted_off_by_more_than_the_tolerance_in_any_dimension():
    points = walk(9, 300, 3)
    kept = np.flatnonzero(essential(points, np.array([0, 300]), 2.0))
    assert kept[0] == 0 and kept[-1] == 299 and len(kept) < 150
    for a, b in pairwise(kept):
        way = points[b] - points[a]
        share = np.clip((points[a:b] - points[a]) @ way / (way @ way), 0, 1)
        assert np.linalg.norm(points[a:b] - points[a] - share[:, None] * way, axis=1).max() <= 2.0


def test_runs_may_share_their_ends_and_one_of_no_points_keeps_none():
    points = np.array([[0.0, 0.0], [1.0, 0.1], [2.0, 0.0], [1.0, -0.1], [0.0, 0.0], [5.0, 5.0]])
    keep = essential_between(points, np.array([0, 2, 5]), np.array([2, 4, 4]), 0.2)
    assert keep.tolist() == [True, False, True, False, True, False]
