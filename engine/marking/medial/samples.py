"""Samples of an outline, closer together where the shape is narrow: what the axis is found from.

The half-width at a place is the radius of the greatest disc inside that touches the outline there, found by shrinking
a disc to the nearest edge until nothing is in it (J. Ma, S. Bae, S. Choi, "3D medial axis point approximation using
nearest neighbors and the normal field", 2012; title from memory). Both flanks of a corner are sampled alike, counted
from the corner, so that the axis runs into it.
"""

import math
from typing import NamedTuple

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import spread
from engine.marking.medial.edges import Edges, nearest

__all__ = ["Samples", "sampled"]

CLOSENESS = 0.35  # of the half-width from sample to sample
LEAST_MM = 0.01  # and never closer than this
PIECE_MM = 1.0  # the half-width is asked once a piece of an edge
AGAIN = 0.3  # of the half-width: as far along a curve the same is taken
SHRINKS = 12


class Samples(NamedTuple):
    """place : (k, 2). edge : (k,) on which each lies. after : (k,) the next in its ring."""

    place: Floats
    edge: Ints
    after: Ints


def sampled(edges: Edges) -> Samples:
    """Samples in ring order; one at every corner that the outline turns right at, for it is a source of its own."""
    length = np.hypot(edges.way[:, 0], edges.way[:, 1])
    count = np.ceil(length / PIECE_MM).astype(np.int64)
    first = np.cumsum(count) - count
    owner = np.repeat(np.arange(len(count)), count)
    size = (length / count)[owner]
    step = np.clip(CLOSENESS * _half_widths(edges, first, count, length), LEAST_MM, 0.5 * PIECE_MM)
    tail, head = first + count - 1, first[edges.after]  # the pieces that meet at the end of each edge
    sharp = edges.corner > 0
    low = np.minimum(step[tail[sharp]], step[head[sharp]])
    np.minimum.at(step, tail[sharp], low)
    np.minimum.at(step, head[sharp], low)
    weight = np.concatenate([np.zeros(1), np.cumsum(size / step)])  # steps from the beginning of all
    at = _steps(edges, weight[tail + 1])
    piece = np.clip(np.searchsorted(weight, at, side="right") - 1, 0, len(size) - 1)
    share = (at - weight[piece]) / (weight[piece + 1] - weight[piece])
    edge = owner[piece]
    t = np.clip((piece - first[edge] + share) / count[edge], 0.0, 1.0)
    place = edges.a[edge] + t[:, None] * edges.way[edge]
    reflex = np.flatnonzero(edges.corner < 0)
    at = np.concatenate([at, weight[tail[reflex] + 1]])
    order = np.argsort(at, kind="stable")
    place = np.concatenate([place, edges.a[edges.after[reflex]]])[order]
    edge = np.concatenate([edge, reflex])[order]
    begins = np.flatnonzero(np.diff(edges.ring[edge], prepend=-1))
    after = np.arange(1, len(edge) + 1)
    after[np.append(begins[1:], len(edge)) - 1] = begins
    return Samples(place, edge, after)


def _steps(edges: Edges, end: Floats) -> Floats:
    """Where the samples lie, counted in steps; `end` (n,) is where each edge ends. From corner to corner of a ring they
    stand half a step, one and a half .. from both, and the rest is in the middle.
    """
    last = np.flatnonzero(np.diff(edges.ring, append=len(edges.a)))  # the last edge of each ring bounds a span, too
    bound = edges.corner != 0
    bound[last] = True
    stop = end[bound]
    start = np.concatenate([np.zeros(1), stop[:-1]])
    total = stop - start
    half = np.floor(0.5 * total).astype(np.int64)
    k = spread(0, half) + 0.5
    middle = (total - 2 * half > 0.3) | (half == 0)
    return np.concatenate([np.repeat(start, half) + k, np.repeat(stop, half) - k, 0.5 * (start + stop)[middle]])


@compiled
def _half_widths(edges: Edges, first: Ints, count: Ints, length: Floats) -> Floats:
    """(pieces,) half-width at the middle of each piece, and no more than where a disc from elsewhere touches it: one
    from the point of a needle among them.
    """
    line, beside, ring, box, leaf = edges.line, edges.beside, edges.ring, edges.box, edges.leaf
    most = PIECE_MM / CLOSENESS
    out = np.full(first[-1] + count[-1], most)
    for_ring, gone, r = -1, 0.0, 0.0
    for i in range(len(first)):
        nx, ny = -line[i, 3] / length[i], line[i, 2] / length[i]
        after = beside[i, 0]
        ahead = line[i, 2] * line[after, 2] + line[i, 3] * line[after, 3]
        needle = beside[i, 2] < 0 and ahead < 0.0  # its point faces what no flank faces
        if ring[i] != for_ring or beside[beside[i, 1], 2] != 0:
            gone, for_ring = np.inf, ring[i]
        for k in range(count[i] + needle):
            piece = first[i] + min(k, count[i] - 1)
            gone += length[i] / count[i]
            if k == count[i]:
                nx = line[i, 2] / length[i] - line[after, 2] / length[after]
                ny = line[i, 3] / length[i] - line[after, 3] / length[after]
                size = math.hypot(nx, ny)
                nx, ny, gone, r = nx / size, ny / size, np.inf, 0.0
            if gone > AGAIN * r:
                t = min((k + 0.5) / count[i], 1.0)
                x, y = line[i, 0] + t * line[i, 2], line[i, 1] + t * line[i, 3]
                gone, other = 0.0, piece
                r = min(most, 2.0 * r) if r > 0 else most
                for turn in range(SHRINKS):
                    reach, j = nearest(line, box, leaf, x + r * nx, y + r * ny, 1.0, 0.0, 1.0, 0.999 * r)
                    if j < 0 and turn == 0 and r < most:  # wider than twice what was here before
                        r = most
                        continue
                    if j < 0:
                        break
                    px, py = x + r * nx - line[j, 0], y + r * ny - line[j, 1]
                    s = (px * line[j, 2] + py * line[j, 3]) / length[j] ** 2
                    s = min(1.0, max(0.0, s))
                    qx, qy = line[j, 0] + s * line[j, 2] - x, line[j, 1] + s * line[j, 3] - y
                    rise = nx * qx + ny * qy
                    if rise <= 1e-9:
                        break
                    less = 0.5 * (qx * qx + qy * qy) / rise
                    other = first[j] + min(int(s * count[j]), count[j] - 1)
                    out[other] = min(out[other], max(less, reach))
                    if less > 0.98 * r:
                        r = min(r, less)
                        break
                    r = less
                if k == count[i]:
                    out[other] = min(out[other], r)
            out[piece] = min(out[piece], r)
    return out
