"""From the graph of an axis to runs of nodes: its branches, and strokes that go through the forks straightest first."""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.medial.axis import Medial
from engine.marking.medial.burn import around

__all__ = ["branches", "trails"]

AWAY = 1.5  # radii from a fork at which the way of a branch is looked at
LOOKS = 200  # nodes along a branch, at most, for that


def branches(axis: Medial, stops: Bools | None = None) -> tuple[Ints, Ints]:
    """(nodes, offsets): the chains between nodes that are no mere joints, then the loops, whose ends are one node.

    stops : (n,) joints that end a chain all the same.
    """
    if not len(axis.links):
        return np.zeros(0, np.int64), np.zeros(1, np.int64)
    joint = axis.degree == 2 if stops is None else (axis.degree == 2) & ~stops
    return _branches(joint, axis.links, *around(axis))


def trails(axis: Medial) -> tuple[Ints, Ints]:
    """(nodes, offsets): branches joined through their forks, straightest first; a fork of d branches leaves d mod 2
    ends. As few strokes as those ends allow.
    """
    nodes, offsets = branches(axis)
    if len(offsets) < 2:
        return nodes, offsets
    ends = np.stack([nodes[offsets[:-1]], nodes[offsets[1:] - 1]], axis=1).ravel()
    way = _ways(axis.nodes, axis.radius, nodes, offsets)
    order = np.argsort(ends, kind="stable")
    return _runs(nodes, offsets, _mates(ends, order, np.round(way, 9)))


@compiled
def _branches(joint: Bools, links: Ints, start: Ints, link: Ints) -> tuple[Ints, Ints]:
    done = np.zeros(len(links), np.bool_)
    out = np.zeros(2 * len(links), np.int64)
    offsets = np.zeros(len(links) + 1, np.int64)
    held = runs = 0
    for loops in range(2):  # first the chains, from every node that is an end or a fork
        for v in range(len(joint)):
            if joint[v] != (loops == 1):
                continue
            for k in range(start[v], start[v + 1]):
                e, at = link[k], v
                if done[e]:
                    continue
                out[held] = v
                held += 1
                while True:
                    done[e] = True
                    at = links[e, 0] + links[e, 1] - at
                    out[held] = at
                    held += 1
                    if not joint[at]:
                        break
                    e = link[start[at]] + link[start[at] + 1] - e
                    if done[e]:
                        break
                runs += 1
                offsets[runs] = held
    return out[:held], offsets[: runs + 1]


@compiled
def _ways(places: Floats, radius: Floats, nodes: Ints, offsets: Ints) -> Floats:
    """(2 k, 2) unit way out of each end of each branch, seen from the end to AWAY radii from it."""
    out = np.zeros((2 * (len(offsets) - 1), 2))
    for end in range(len(out)):
        first, last = offsets[end // 2], offsets[end // 2 + 1] - 1
        begin, step = (first, 1) if end % 2 == 0 else (last, -1)
        v, size = nodes[begin], 0.0
        dx = dy = 0.0
        for k in range(1, min(last - first + 1, LOOKS)):
            w = nodes[begin + step * k]
            dx, dy = places[w, 0] - places[v, 0], places[w, 1] - places[v, 1]
            size = np.sqrt(dx * dx + dy * dy)
            if size > AWAY * radius[v]:
                break
        out[end, 0], out[end, 1] = dx / max(size, 1e-12), dy / max(size, 1e-12)
    return out


@compiled
def _mates(ends: Ints, order: Ints, way: Floats) -> Ints:
    """(2 k,) the branch end that each goes on with at its node, -1 for none: most opposite pairs first."""
    mate = np.full(len(ends), -1, np.int64)
    first = 0
    while first < len(order):
        last = first
        while last < len(order) and ends[order[last]] == ends[order[first]]:
            last += 1
        while True:
            best, one, two = 2.0, -1, -1
            for i in range(first, last):
                for j in range(i + 1, last):
                    a, b = order[i], order[j]
                    if mate[a] < 0 and mate[b] < 0:
                        dot = way[a, 0] * way[b, 0] + way[a, 1] * way[b, 1]
                        if dot < best:
                            best, one, two = dot, a, b
            if one < 0:
                break
            mate[one], mate[two] = two, one
        first = last
    return mate


@compiled
def _runs(nodes: Ints, offsets: Ints, mate: Ints) -> tuple[Ints, Ints]:
    count = len(offsets) - 1
    out, cut = np.zeros(len(nodes), np.int64), np.zeros(count + 1, np.int64)
    used = np.zeros(count, np.bool_)
    held = runs = 0
    for loops in range(2):  # first from free ends, then what closes on itself
        for begin in range(2 * count):
            if used[begin // 2] or (loops == 0 and mate[begin] >= 0):
                continue
            end, fresh = begin, True
            while end >= 0 and not used[end // 2]:
                branch = end // 2
                used[branch] = True
                first, last = offsets[branch], offsets[branch + 1] - 1
                for k in range(0 if fresh else 1, last - first + 1):
                    out[held] = nodes[first + k] if end % 2 == 0 else nodes[last - k]
                    held += 1
                fresh = False
                end = mate[end + 1 - 2 * (end % 2)]
            runs += 1
            cut[runs] = held
    return out[:held], cut[: runs + 1]
