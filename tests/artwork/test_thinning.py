"""Thinned rings: fewer points, nothing shifted beyond the tolerance, no ring meeting another."""

import itertools

import numpy as np
import pytest
import shapely
from contourpy import FillType, contour_generator

from engine.artwork.thinning import thin
from engine.kernel.ragged import Ragged

TOLERANCE = 0.05


def traced(seed: int, size: int = 50) -> Ragged:
    """Rings of a picture of noise, as the tracer gives them: crowded, with specks."""
    z = np.pad(np.random.default_rng(seed).integers(0, 256, (size, size)).astype(float), 1, constant_values=255.0)
    points, offsets = contour_generator(z=z, fill_type=FillType.OuterOffset).filled(-np.inf, 128.5)
    return Ragged.of([p[a:b] for p, o in zip(points, offsets, strict=True) for a, b in itertools.pairwise(o)])


@pytest.mark.parametrize("seed", range(8))
def test_rings_of_noise_stay_simple_and_apart(seed: int) -> None:
    before = traced(seed)
    after = thin(before, TOLERANCE)
    assert len(after.points) < len(before.points)
    rings = np.array([shapely.LinearRing(after[i]) for i in range(len(after))], object)
    assert shapely.is_simple(rings).all()
    assert (np.arange(len(rings))[:, None] == shapely.STRtree(rings).query(rings, predicate="intersects").T).all()
    large = [i for i in range(len(before)) if np.ptp(before[i], axis=0).max() > 2 * TOLERANCE]
    assert len(large) == len(rings)
    for ring, i in zip(rings, large, strict=True):
        assert shapely.distance(shapely.points(before[i]), ring).max() <= TOLERANCE + 1e-12


def test_a_ring_that_would_cut_across_its_neighbour_keeps_its_points() -> None:
    # a bump of 0.04 is left out where there is room, and kept where a second ring's tip stands in it
    bump = np.array([[0, 0], [10, 0], [10, 5], [5, 5.04], [0, 5], [0, 0]])
    tip = np.array([[5, 5.02], [8, 9], [2, 9], [5, 5.02]])
    tip_over = np.array([[5, 5.2], [8, 9], [2, 9], [5, 5.2]])
    below = np.array([[0, 0], [10, 0], [10, 5], [5, 4.96], [0, 5], [0, 0]])
    in_the_dip = np.array([[5, 4.98], [8, 9], [2, 9], [5, 4.98]])
    assert thin(Ragged.of([bump, tip_over]), TOLERANCE).sizes.tolist() == [5, 4]
    assert thin(Ragged.of([below, tip_over]), TOLERANCE).sizes.tolist() == [5, 4]
    assert thin(Ragged.of([below, in_the_dip]), TOLERANCE).sizes.tolist() == [6, 4]
    assert not shapely.LinearRing(below).intersects(shapely.LinearRing(in_the_dip))
    assert shapely.LinearRing(bump).intersects(shapely.LinearRing(tip))  # rings as traced never do


def test_a_ring_does_not_jump_over_a_small_one() -> None:
    below = np.array([[0, 0], [10, 0], [10, 5], [5, 4.96], [0, 5], [0, 0]])
    sliver = np.array([[4.8, 4.97], [5.2, 4.97], [5.2, 4.98], [4.8, 4.97]])
    assert thin(Ragged.of([below, sliver]), TOLERANCE).sizes.tolist() == [6, 4]


def test_specks_are_left_out_and_nothing_gives_nothing() -> None:
    speck = np.array([[0, 0], [0.09, 0], [0, 0.09], [0, 0]])
    square = np.array([[1, 0], [2, 0], [2, 1], [1, 1], [1, 0.0]])
    out = thin(Ragged.of([speck, square]), TOLERANCE)
    assert len(out) == 1
    np.testing.assert_array_equal(out[0], square)
    assert len(thin(Ragged.of([speck]), TOLERANCE)) == 0
    assert len(thin(Ragged.of([]), TOLERANCE)) == 0
