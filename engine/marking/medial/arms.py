"""The arms of an axis's forks: how each branch would run on into the fork if nothing met it there.

Near a fork the axis dips towards whatever joins it. Farther from the fork than its radius nothing of that is felt, and
a branch's place, way and bend there say how the stroke that it stands for goes on.
"""

from typing import NamedTuple

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.medial.axis import Medial

__all__ = ["Arms", "ahead", "arms_of", "place_at", "radius_at"]

CUT = 1.1  # radii of the fork: a T's dip reaches one, an acute meeting next to one
LOOK = 0.6  # radii from one place to the next of the three that tell way and bend
HALF, FREE = 0.45, 0.6  # the most of a branch that is cut off where both ends are forks, and where one is free
BEND = 0.5  # a stroke bends no tighter than a circle of two of its radii


class Arms(NamedTuple):
    """Branches and their ends; end 2 b is the beginning of branch b, 2 b + 1 its end.

    place, radius : of the axis's nodes. node, offset : of the branches. at : (n,) mm along its branch of each of their
    nodes. fork : (2 b,) the node at each end, free : whether it is no fork. cut : (2 b,) mm cut off there, spot :
    (2 b, 2) where, way : (2 b, 2) on into the fork, bend : (2 b,) 1/mm, to the left of it.
    """

    place: Floats
    radius: Floats
    node: Ints
    offset: Ints
    at: Floats
    fork: Ints
    free: Bools
    cut: Floats
    spot: Floats
    way: Floats
    bend: Floats


def arms_of(axis: Medial, node: Ints, offset: Ints) -> Arms:
    """The arms of an axis's branches."""
    step = np.hypot(*np.diff(axis.nodes[node], axis=0, prepend=axis.nodes[node[:1]]).T)
    step[offset[:-1]] = 0.0
    at = np.cumsum(step)
    at -= np.repeat(at[offset[:-1]], np.diff(offset))
    fork = np.stack([node[offset[:-1]], node[offset[1:] - 1]], axis=1).ravel()
    free = np.bincount(fork, minlength=len(axis.nodes))[fork] < 2
    count = len(fork)
    cut, blank = np.zeros(count), np.zeros((count, 2))
    arms = Arms(axis.nodes, axis.radius, node, offset, at, fork, free, cut, blank, blank.copy(), cut.copy())
    cut, spot, way, bend = _looked(arms)
    return arms._replace(cut=cut, spot=spot, way=way, bend=bend)


@compiled
def place_at(arms: Arms, end: int, mm: float) -> tuple[float, float]:
    """The place on a branch at `mm` from one of its ends."""
    first, last = arms.offset[end // 2], arms.offset[end // 2 + 1] - 1
    if end % 2:
        mm = arms.at[last] - mm
    k = first + np.searchsorted(arms.at[first : last + 1], mm)
    k = min(max(k, first + 1), last)
    gap = arms.at[k] - arms.at[k - 1]
    share = min(1.0, max(0.0, (mm - arms.at[k - 1]) / gap)) if gap > 0 else 0.0
    v, w = arms.node[k - 1], arms.node[k]
    x = arms.place[v, 0] + share * (arms.place[w, 0] - arms.place[v, 0])
    y = arms.place[v, 1] + share * (arms.place[w, 1] - arms.place[v, 1])
    return x, y


@compiled
def radius_at(arms: Arms, end: int) -> float:
    """The radius where an arm was cut."""
    first, last = arms.offset[end // 2], arms.offset[end // 2 + 1] - 1
    mm = arms.at[last] - arms.cut[end] if end % 2 else arms.cut[end]
    k = min(first + np.searchsorted(arms.at[first : last + 1], mm), last)
    return float(arms.radius[arms.node[k]])


@compiled
def ahead(arms: Arms, end: int, mm: float) -> tuple[float, float]:
    """Where the stroke would be `mm` on from where it was cut, towards the fork and beyond."""
    wx, wy, turn = arms.way[end, 0], arms.way[end, 1], arms.bend[end] * mm
    on, side = mm, 0.5 * turn * mm
    if abs(turn) > 1e-4:
        on, side = mm * np.sin(turn) / turn, mm * (1.0 - np.cos(turn)) / turn
    return arms.spot[end, 0] + on * wx - side * wy, arms.spot[end, 1] + on * wy + side * wx


@compiled
def _looked(arms: Arms) -> tuple[Floats, Floats, Floats, Floats]:
    count = len(arms.fork)
    cut, spot, way, bend = np.zeros(count), np.zeros((count, 2)), np.zeros((count, 2)), np.zeros(count)
    for end in range(count):
        length = arms.at[arms.offset[end // 2 + 1] - 1]
        if not arms.free[end]:
            most = FREE if arms.free[end ^ 1] else HALF
            cut[end] = min(CUT * arms.radius[arms.fork[end]], most * length)
    for end in range(count):
        length = arms.at[arms.offset[end // 2 + 1] - 1]
        r = arms.radius[arms.fork[end]]
        look = min(LOOK * r, 0.5 * (length - cut[end] - cut[end ^ 1]))
        x, y = place_at(arms, end, cut[end])
        spot[end, 0], spot[end, 1] = x, y
        x1, y1 = place_at(arms, end, cut[end] + look)
        x2, y2 = place_at(arms, end, cut[end] + 2.0 * look)
        dx, dy = x - x1, y - y1
        turn = np.arctan2((x1 - x2) * dy - (y1 - y2) * dx, (x1 - x2) * dx + (y1 - y2) * dy)
        if look < 0.1 * r:
            dx, dy, turn = arms.place[arms.fork[end], 0] - x, arms.place[arms.fork[end], 1] - y, 0.0
        c, s = np.cos(0.5 * turn), np.sin(0.5 * turn)
        size = max(np.sqrt(dx * dx + dy * dy), 1e-12)
        way[end, 0], way[end, 1] = (c * dx - s * dy) / size, (s * dx + c * dy) / size
        bend[end] = min(BEND / r, max(-BEND / r, turn / max(look, 1e-9)))
    return cut, spot, way, bend
