"""Even-odd scanning beside shapely's own answer, and its half-open rule on rings that share their edges."""

import numpy as np
import pytest
import shapely

from engine.kernel.scan import cells_inside, crossings, lines_met


def edges_of(*rings):
    closed = [np.vstack([ring, ring[:1]]) for ring in rings]
    return np.concatenate([ring[:-1] for ring in closed]), np.concatenate([ring[1:] for ring in closed])


def star(rng, corners, middle, reach):
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    return middle + (rng.uniform(0.4, 1.0, corners) * reach)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)


@pytest.mark.parametrize("seed", range(8))
def test_cells_inside_are_those_whose_middle_a_polygon_with_a_hole_holds(seed):
    rng = np.random.default_rng(seed)
    outer, hole = star(rng, 23, (30.0, 22.0), 26.0), star(rng, 9, (30.0, 22.0), 5.0)
    inside = cells_inside(*edges_of(outer, hole), (40, 50))
    column, row = np.meshgrid(np.arange(50.0), np.arange(40.0))
    ring = shapely.Polygon(outer).symmetric_difference(shapely.Polygon(hole))  # part of the star lies off the raster
    assert (inside == shapely.contains_xy(ring, column, row)).all()
    assert 0 < inside.sum() < inside.size


def test_cells_on_an_edge_that_two_rings_share_are_in_one_of_them():
    corner = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]])
    tiles = [corner + (4.0 * i, 3.0 * j) for i in range(3) for j in range(4)]
    times = sum(cells_inside(*edges_of(tile), (12, 12)).astype(int) for tile in tiles)
    assert (times == 1).all()
    assert cells_inside(*edges_of(*tiles), (12, 12)).all()  # even-odd: what is shared by two is crossed twice


def test_an_edge_is_met_by_each_line_from_its_lower_end_to_before_its_upper_one():
    across = np.array([0.0, 2.0, -0.5, 1.0]), np.array([2.0, 0.0, 0.5, 1.0])
    along = np.array([10.0, 10.0, 0.0, 5.0]), np.array([14.0, 10.0, 8.0, 9.0])
    first, count = lines_met(across)
    assert first.tolist() == [0, 0, 0, 1]
    assert count.tolist() == [2, 2, 1, 0]
    line, at = crossings(across, along, first, count)
    assert line.tolist() == [0, 1, 0, 1, 0]
    assert at.tolist() == [10.0, 12.0, 10.0, 10.0, 4.0]
    assert lines_met(across, 1, 2)[1].tolist() == [1, 1, 0, 0]
