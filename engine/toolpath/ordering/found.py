"""Which stroke next, from which end: candidates, a greedy start, and the search that improves it.

Takes the strokes' two ends; gives the order. End 2 i is stroke i's entry, 2 i + 1 its exit; the last two are the
depot's, where the tool ends and begins: it has no place, and what leads to it takes no time.
"""

from dataclasses import dataclass

import numpy as np

from engine.toolpath.ordering.blocks import search_blocks
from engine.toolpath.ordering.candidates import nearest, time_scale
from engine.toolpath.ordering.costs import Axes, places, tour_ticks
from engine.toolpath.ordering.greedy import greedy_tour
from engine.toolpath.ordering.types import Array, Law

__all__ = ["Found", "are_points", "found_order"]

FEW = 200  # strokes up to which the start and the end are candidates of every end
NEIGHBOURS = 8  # candidates of an end; more gain nothing (measured)
SEED = 0x9E3779B97F4A7C15  # of the kicks' chance: any number but 0; this is the golden section's 64 bits
NEVER = np.iinfo(np.int64).max  # ticks of a hop that there is not


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """entry : (n,) the end at which each stroke is entered, in order. ticks : of all hops, start_ticks : of the greedy
    start's. kicks : moves spent.
    """

    entry: Array
    ticks: int
    start_ticks: int
    kicks: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Graph:
    """Ends and the hops that are looked at. place : (2 n + 2, 2); near, cost : (2 n + 2, k) candidates, nearest first,
    and their ticks, -1 and NEVER where there is none. free : (n + 1,) whether a stroke may be turned round.
    """

    place: Array
    near: Array
    cost: Array
    free: Array


def are_points(ends: Array) -> bool:
    """Whether most strokes are entered and left in one place."""
    return bool((ends[:, 0] == ends[:, 1]).all(axis=1).mean() > 0.5)


def found_order(ends: Array, reversible: Array, axes: Axes, *, kicks: int) -> Found:
    """The order of one stroke or more. Parameters as of `order`; kicks : how many at the most."""
    law = axes.constants()
    place = places(ends, axes)
    if len(ends) == 1:
        return _alone(place, law, may_turn=bool(reversible[0]))
    kind = _kinds(reversible)
    scale = time_scale(place, law)
    ids = np.arange(len(place) - 2)
    count = 2 * NEIGHBOURS if are_points(ends) else NEIGHBOURS  # both ends in one place: twice as many needed
    found, ticks = nearest(place, law, scale, ids, kind, np.arange(len(place)) ^ 1, count)
    near = np.full((len(place), count), -1, np.int32)
    cost = np.full((len(place), count), NEVER, np.int64)
    near[ids], cost[ids] = found, ticks
    if len(ends) <= FEW:
        near, cost = _with_depot(near, cost, kind)
    tour = greedy_tour(place, law, scale, kind, ids, found, ticks)
    start_ticks = tour_ticks(place, law, tour)
    graph, tour, old_end = _along(tour, _Graph(place=place, near=near, cost=cost, free=np.append(reversible, False)))
    state = np.array([SEED], np.uint64)
    tour, made = search_blocks(graph.place, law, scale, graph.near, graph.cost, graph.free, tour, kicks, state)
    length = tour_ticks(graph.place, law, tour)
    return Found(entry=old_end[tour[:-1]], ticks=length, start_ticks=start_ticks, kicks=made)


def _alone(place: Array, law: Law, *, may_turn: bool) -> Found:
    """One stroke: from whichever end is the nearer."""
    ticks = [tour_ticks(place, law, np.array([entry, 2], np.int32)) for entry in range(1 + may_turn)]
    return Found(entry=np.array([int(np.argmin(ticks))]), ticks=min(ticks), start_ticks=ticks[0], kicks=0)


def _kinds(reversible: Array) -> Array:
    """(2 n + 2,) of each end 0 where it may be entry and exit, 1 an entry alone, 2 an exit: like does not meet like."""
    n = len(reversible)
    kind = np.zeros(2 * n + 2, np.int8)
    if not reversible.all():
        kind[:-2].reshape(n, 2)[~reversible] = (1, 2)
        kind[-2:] = (1, 2)
    return kind


def _with_depot(near: Array, cost: Array, kind: Array) -> tuple[Array, Array]:
    """Candidates with the depot's ends among them, for nothing: where one hop counts, every end may be the job's first
    or last.
    """
    for depot_end in (len(kind) - 2, len(kind) - 1):
        may = (kind == 0) | (kind != kind[depot_end])
        may[-2:] = False
        near = np.column_stack([np.where(may, depot_end, near[:, -1]), near]).astype(np.int32)
        cost = np.column_stack([np.where(may, 0, cost[:, -1]), cost])
        rising = np.argsort(np.where(near < 0, NEVER, cost), axis=1, kind="stable")
        near, cost = np.take_along_axis(near, rising, 1), np.take_along_axis(cost, rising, 1)
    return near, cost


def _along(tour: Array, graph: _Graph) -> tuple[_Graph, Array, Array]:
    """The graph renumbered along the tour, so that neighbours lie together in memory: stroke tour[i] >> 1 becomes i,
    the depot stays last. With it the tour in the new numbers, and (2 n + 2,) the old number of each new end.
    """
    n = len(tour) - 1
    old = np.concatenate([(tour[:-1] >> 1), [n]]).astype(np.int64)
    new = np.zeros(n + 1, np.int64)
    new[old] = np.arange(n + 1)
    old_end = np.stack([2 * old, 2 * old + 1], axis=1).ravel()
    new_end = np.stack([2 * new, 2 * new + 1], axis=1).ravel()
    near = graph.near[old_end]
    renumbered = _Graph(
        place=graph.place[old_end],
        near=np.where(near >= 0, new_end[near], -1).astype(np.int32),
        cost=graph.cost[old_end],
        free=graph.free[old],
    )
    return renumbered, new_end[tour].astype(np.int32), old_end
