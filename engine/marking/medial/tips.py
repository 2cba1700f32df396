"""The tips of an axis cut back to where the shape stops widening: a stroke ends where a round pen would end."""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.medial.axis import Medial
from engine.marking.medial.trails import branches

__all__ = ["blunted"]

# Sine of half the angle of a corner: under 2 asin(0.30) = 35 degrees it is a stroke that tapers, and stays.
TAPER = 0.30
LOOK = 0.15  # of the branch's greatest radius: long enough to see past the facets of a flattened curve


def blunted(axis: Medial, spur: float) -> Bools:
    """(m,) the links that stay. A branch that is left with less than `spur` of the radius at its foot goes whole."""
    if not len(axis.links):
        return np.zeros(0, np.bool_)
    nodes, offsets = branches(axis)
    gone = _gone(axis.nodes, axis.radius, axis.degree, nodes, offsets, spur)
    return np.asarray(~gone[axis.links].any(axis=1))


@compiled
def _gone(places: Floats, radius: Floats, degree: Ints, nodes: Ints, offsets: Ints, spur: float) -> Bools:
    gone = np.zeros(len(places), np.bool_)
    for b in range(len(offsets) - 1):
        first, last = offsets[b], offsets[b + 1] - 1
        count = last - first + 1
        for side in range(2):
            tip, foot = (nodes[first], nodes[last]) if side == 0 else (nodes[last], nodes[first])
            if degree[tip] != 1:
                continue
            at, r = np.zeros(count), np.zeros(count)
            for k in range(count):
                v = nodes[first + k] if side == 0 else nodes[last - k]
                r[k] = radius[v]
                if k:
                    w = nodes[first + k - 1] if side == 0 else nodes[last - k + 1]
                    at[k] = at[k - 1] + np.hypot(places[v, 0] - places[w, 0], places[v, 1] - places[w, 1])
            k = _level(at, r)
            if degree[foot] > 2 and at[-1] - at[k] + r[k] - r[-1] < spur * r[-1]:
                k = count - 1
            for i in range(k):
                gone[nodes[first + i] if side == 0 else nodes[last - i]] = True
    return gone


@compiled
def _level(at: Floats, r: Floats) -> int:
    """The first node from the tip (0) at which the radius, looking ahead, grows no faster than TAPER."""
    look = LOOK * r.max()
    k, ahead = 0, 0
    while k < len(at) - 1:
        goal = min(at[k] + look, at[-1])
        while at[ahead] < goal and ahead < len(at) - 1:
            ahead += 1
        run = goal - at[k]
        back = at[ahead] - at[ahead - 1] if ahead else 0.0
        share = (goal - at[ahead - 1]) / back if back > 0 else 1.0
        there = r[ahead - 1] + share * (r[ahead] - r[ahead - 1]) if ahead else r[0]
        if run <= 1e-9 or there - r[k] <= TAPER * run:
            break
        k += 1
    return k
