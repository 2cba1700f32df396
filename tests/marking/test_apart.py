"""Unions and differences group by group, beside the library's own of all at once."""

import numpy as np
import pytest
import shapely

from engine.marking.apart import groups, less, united

RNG = np.random.default_rng(3)
PLACES = shapely.points(RNG.uniform(0, 40, (120, 2)))
SOME, OTHERS = (
    shapely.get_parts(shapely.union_all(shapely.buffer(PLACES[k], RNG.uniform(0.2, 1.6, 60))))
    for k in (slice(60), slice(60, 120))
)


def test_boxes_that_touch_by_way_of_others_are_one_group():
    boxes = np.array([[0, 0, 1, 1], [5, 5, 6, 6], [1, 1, 2, 2], [2, 0, 3, 1.5], [6, 7, 7, 8]], float)
    assert groups(boxes).tolist() == [0, 1, 0, 0, 2]


def test_a_difference_and_a_union_are_the_librarys():
    assert len(SOME) > 20
    both = np.concatenate([SOME, OTHERS])
    for mine, true in (
        (less(SOME, OTHERS), shapely.difference(shapely.union_all(SOME), shapely.union_all(OTHERS))),
        (united(both), shapely.union_all(both)),
    ):
        assert shapely.symmetric_difference(shapely.union_all(mine), true).area < 1e-9
        assert shapely.area(mine).sum() == pytest.approx(true.area, rel=1e-12)
        assert (shapely.get_type_id(mine) == 3).all()


def test_of_nothing_there_is_nothing():
    none = np.zeros(0, object)
    assert len(united(none)) == len(less(none, SOME)) == 0
    assert len(less(SOME, none)) == len(SOME)
