"""What the search keeps beside the tour is what the tour itself says; a kick and all after it can be taken back."""

import numpy as np
import pytest

from engine.toolpath.ordering import Axes
from engine.toolpath.ordering.candidates import nearest, time_scale
from engine.toolpath.ordering.costs import hop, hops, places, tour_ticks
from engine.toolpath.ordering.search import JOURNAL, _kick, _meet, _settle, _undo, search

AXES = Axes(x_speed_mm_s=25, theta_speed_deg_s=60, x_accel_mm_s2=200, theta_accel_deg_s2=720)
N = 90


def ring(free, seed):
    """A tour in no good order, all that the search keeps of it, and the depot, which has no place, last."""
    rng = np.random.default_rng(seed)
    ends = np.stack([rng.uniform(0, 80, (N, 2)), rng.uniform(-180, 180, (N, 2))], axis=-1)
    place, law = places(ends, AXES), AXES.constants()
    kind = np.zeros(2 * N + 2, np.int8)
    kind[:-2].reshape(N, 2)[~free] = (1, 2)
    asked = np.arange(2 * N)
    found, ticks = nearest(place, law, time_scale(place, law), asked, kind, np.arange(2 * N + 2) ^ 1, 8)
    near = np.concatenate([found, np.full((2, 8), -1, np.int32)])
    cost = np.concatenate([ticks, np.zeros((2, 8), np.int64)])
    tour = (2 * np.append(rng.permutation(N), N)).astype(np.int32)
    at = np.zeros(N + 1, np.int32)
    at[tour >> 1] = np.arange(N + 1)
    link, took = np.full(2 * N + 2, -1, np.int32), np.zeros(2 * N + 2, np.int64)
    _meet(place, law, tour, at, link, took, tour, N + 1)
    return place, law, near, cost, np.append(free, False), tour, at, link, took


def kept_anew(place, law, tour):
    """Where each stroke stands, which end each end meets, and the ticks of that hop, by one pass over the tour."""
    link, took, at = np.zeros(2 * len(tour), int), np.zeros(2 * len(tour), int), np.zeros(len(tour), int)
    for k, end in enumerate(tour):
        at[end >> 1] = k
        left = tour[k - 1] ^ 1
        link[end], link[left] = left, end
        took[end] = took[left] = hop(place, law, left, end)
    return at, link, took


def settled(kept, ends, log, spare):
    """The gain of the search from the strokes of some ends on."""
    place, law, near, cost, free, tour, at, link, took = kept
    queue, queued = np.zeros(N + 1, np.int32), np.zeros(N + 1, bool)
    first = np.unique(ends >> 1)
    queue[: len(first)], queued[first] = first, True
    all_free = bool(free[:-1].all())
    move = np.zeros(10, np.int64)
    return _settle(
        place, law, near, cost, free, all_free, tour, at, link, took, queue, queued, len(first), log, spare, move
    )


@pytest.mark.parametrize("free", [np.ones(N, bool), np.zeros(N, bool), np.arange(N) % 3 > 0])
def test_gains_add_up_and_what_is_kept_is_what_the_tour_says(free):
    kept = ring(free, 3)
    place, law, _, _, _, tour, *beside = kept
    log, spare = np.zeros((JOURNAL + 1, 3), np.int32), np.zeros(N, np.int32)
    log[0, 0] = -1
    before = tour_ticks(place, law, tour)
    gain = settled(kept, tour, log, spare)
    assert gain == before - tour_ticks(place, law, tour) > 0
    assert sorted(tour >> 1) == list(range(N + 1))
    fixed = ~np.append(free, False)[tour >> 1]
    assert len(set((tour[fixed] & 1).tolist())) == 1  # the ring may be read either way, but all of it one way
    for held, anew in zip(beside, kept_anew(place, law, tour), strict=True):
        assert np.array_equal(held, anew)


@pytest.mark.parametrize("free", [np.ones(N, bool), np.zeros(N, bool), np.arange(N) % 3 > 0])
def test_a_kick_and_what_followed_it_are_taken_back_to_the_last_end(free):
    kept = ring(free, 5)
    place, law, _, _, _, tour, at, link, took = kept
    log, spare, cuts = np.zeros((JOURNAL + 1, 3), np.int32), np.zeros(N, np.int32), np.zeros(8, np.int64)
    log[0, 0] = -1
    settled(kept, tour, log, spare)
    state, moved = np.array([7], np.uint64), np.zeros(3 * JOURNAL, np.int32)
    changes = 0
    for made in range(40):
        was = [v.copy() for v in (tour, at, link, took)]
        before = tour_ticks(place, law, tour)
        _kick(tour, at, cuts, made, state, log, spare)
        _meet(place, law, tour, at, link, took, cuts, 8)
        kicked = tour_ticks(place, law, tour)
        assert kicked - before == took[cuts[::2]].sum() - was[3][cuts[::2]].sum()
        assert settled(kept, cuts, log, spare) == kicked - tour_ticks(place, law, tour)
        for held, anew in zip((at, link, took), kept_anew(place, law, tour), strict=True):
            assert np.array_equal(held, anew)
        changes += log[0, 0]
        count = _undo(tour, at, log, spare, moved)
        _meet(place, law, tour, at, link, took, moved, count)
        for held, old in zip((tour, at, link, took), was, strict=True):
            assert np.array_equal(held, old)
    assert changes > 2 * 40  # the kicks' own, and moves after them


def test_no_kick_leaves_a_longer_tour():
    """The same kicks and one more, again and again."""
    place, law, near, cost, loose, tour, *_ = ring(np.arange(N) % 2 > 0, 8)
    lengths = [tour_ticks(place, law, tour)]
    for kicks in range(40):
        mine = tour.copy()
        search(place, law, near, cost, loose, mine, kicks, np.array([7], np.uint64))
        lengths.append(tour_ticks(place, law, mine))
    assert (np.diff(lengths) <= 0).all()
    assert lengths[-1] < lengths[1] < lengths[0]


def test_a_hop_to_where_the_depot_has_no_place_takes_nothing():
    place, law, *_ = ring(np.ones(N, bool), 2)
    depot, stroke = np.repeat([2 * N, 2 * N + 1], 2 * N), np.tile(np.arange(2 * N), 2)
    assert not hops(place, law, depot, stroke).any()
    assert not hops(place, law, stroke, depot).any()
    assert hops(place, law, stroke, np.roll(stroke, 1)).all()
