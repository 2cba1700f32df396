"""Ragged data behaves as the list of arrays that it stands for."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.ragged import Ragged, offsets_of, parts_of, spread

SIZES = st.lists(st.integers(0, 6), max_size=12)
some = settings(derandomize=True, deadline=None, max_examples=60)


def runs_of(sizes, width=2):
    at = np.cumsum([0, *sizes])
    return [np.arange(at[k] * width, at[k + 1] * width, dtype=float).reshape(-1, width) for k in range(len(sizes))]


@given(SIZES, st.sampled_from([1, 2, 3]))
@some
def test_it_holds_what_it_was_made_of(sizes, width):
    runs = runs_of(sizes, width)
    held = Ragged.of(runs, width)
    assert len(held) == len(runs) and held.sizes.tolist() == sizes
    assert held.points.shape == (sum(sizes), width)
    assert all(np.array_equal(held[k], run) for k, run in enumerate(runs))
    assert held.owner.tolist() == [k for k, n in enumerate(sizes) for _ in range(n)]


@given(SIZES.filter(len), st.data())
@some
def test_taking_runs_is_taking_from_the_list(sizes, data):
    runs = runs_of(sizes)
    order = data.draw(st.lists(st.integers(0, len(sizes) - 1), max_size=20))  # leaves some out, takes some twice
    taken = Ragged.of(runs).take(np.array(order, np.int64))
    assert len(taken) == len(order)
    assert all(np.array_equal(taken[k], runs[i]) for k, i in enumerate(order))


@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(0, 9)), max_size=12))
@some
def test_spread_is_the_ranges_one_after_the_other(ranges):
    first, size = (np.array([r[k] for r in ranges], np.int64) for k in (0, 1))
    assert spread(first, size).tolist() == [i for a, n in ranges for i in range(a, a + n)]


@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(0, 9), st.booleans()), max_size=12))
@some
def test_spread_goes_through_the_ranges_marked_backwards_from_their_ends(ranges):
    first, size = (np.array([r[k] for r in ranges], np.int64) for k in (0, 1))
    back = np.array([r[2] for r in ranges], np.bool_)
    wanted = [i for a, n, b in ranges for i in (range(a + n - 1, a - 1, -1) if b else range(a, a + n))]
    assert spread(first, size, back=back).tolist() == wanted


@given(SIZES, st.integers(-3, 3))
@some
def test_one_beginning_for_all_numbers_the_points_of_each_run(sizes, first):
    held = Ragged.of(runs_of(sizes))
    assert spread(first, held.sizes).tolist() == [first + i for n in sizes for i in range(n)]


@given(SIZES)
@some
def test_offsets_of_sizes_are_where_the_runs_begin_and_end(sizes):
    found = offsets_of(np.array(sizes, np.int64))
    assert found.tolist() == [sum(sizes[:k]) for k in range(len(sizes) + 1)]
    kept = np.array(sizes, np.int64) > 0
    assert offsets_of(kept).tolist() == [int(kept[:k].sum()) for k in range(len(sizes) + 1)]
    assert found.dtype == offsets_of(kept).dtype == np.int64


def test_the_callers_arrays_are_neither_held_nor_changed():
    points, offsets = np.zeros((3, 2)), np.array([0, 1, 3])
    held = Ragged(points=points, offsets=offsets)
    points[0], offsets[1] = 9, 2
    assert held.points.max() == 0 and held.sizes.tolist() == [1, 2]
    for array in (held.points, held.offsets):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


@pytest.mark.parametrize(
    ("points", "offsets"),
    [
        (np.zeros(4), [0, 4]),
        (np.zeros((4, 2)), []),
        (np.zeros((4, 2)), [[0, 4]]),
        (np.zeros((4, 2)), [1, 4]),
        (np.zeros((4, 2)), [0, 3]),
        (np.zeros((4, 2)), [0, 3, 2, 4]),
        (np.zeros((4, 2)), [0, 5, 4]),
    ],
)
def test_what_is_no_ragged_array_is_refused(points, offsets):
    with pytest.raises(ValueError, match="offsets"):
        Ragged(points=points, offsets=np.array(offsets))


def test_nothing_is_ragged_too():
    none = Ragged.of([], 3)
    assert len(none) == 0 and none.points.shape == (0, 3) and none.owner.shape == (0,)
    assert len(none.take(np.zeros(0, np.int64))) == 0


@given(st.lists(st.integers(0, 9), max_size=30), st.integers(1, 12))
def test_parts_are_all_runs_in_order_and_begin_within_the_points_asked_for(sizes, most):
    parts = parts_of(np.array(sizes, np.int64), most)
    assert [k for part in parts for k in range(part.start, part.stop)] == list(range(len(sizes)))
    assert all(sum(sizes[part.start : part.stop - 1]) < most for part in parts)
    assert len(parts) >= 1
