"""The first graph of the axis: the ridges between samples that face each other, as neighbours of Delaunay triangles.

A ridge between two samples that follow each other along a smooth stretch of outline is none; one that leaves through a
corner ends in it. Source: N. Amenta, M. Bern, D. Eppstein, "The crust and the beta-skeleton", 1998, for Voronoi
vertices of samples as places of the axis (title from memory).
"""

from typing import NamedTuple

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.apart import groups
from engine.marking.medial.edges import Edges, foot, is_inside, walk
from engine.marking.medial.mesh import meshed
from engine.marking.medial.samples import Samples

__all__ = ["Ridges", "ridges_of"]

ROUND_RAD = 0.5  # turning so much from sample to sample, a curve is a corner as far as samples can tell
AHEAD = 8  # samples round a corner of which the ridge may still leave through it
FAR = 1e3  # of the art's extent: a triangle's circle beyond that is none of the axis


class Ridges(NamedTuple):
    """place : (n, 2) and radius : (n,) first guesses at each node and at its distance from the outline. sides : (n, 3)
    the edges it lies between; tip : (n,) whether it is a corner of the outline and stays. link : (m, 2) nodes. pair :
    (m, 2) the two edges each link lies between.
    """

    place: Floats
    radius: Floats
    sides: Ints
    tip: Bools
    link: Ints
    pair: Ints

    def wider(self, radius_mm: float) -> "Ridges":
        """The graph without the links whose ends are both nearer to the outline; nodes without a link are gone."""
        wide = (self.radius[self.link] >= radius_mm).any(axis=1)
        used, link = np.unique(self.link[wide], return_inverse=True)
        place, radius, sides, tip = self.place[used], self.radius[used], self.sides[used], self.tip[used]
        return Ridges(place, radius, sides, tip, link.reshape(-1, 2), self.pair[wide])


def ridges_of(edges: Edges, samples: Samples) -> Ridges:
    """The graph; every node of it but the tips lies inside the outline."""
    corners, beside = meshed(samples.place, _parts(edges)[samples.edge])
    centre = _circles(samples.place, corners)
    inside = _inside(edges, samples.edge, corners, centre)
    t, k = np.divmod(np.arange(3 * len(corners)), 3)
    n = beside[t, k]
    within = n >= 0
    beyond = within & inside[n]
    once = ((t < n) | ~within) & (inside[t] | beyond)
    t, k, n, beyond = t[once], k[once], n[once], beyond[once]
    one, two = corners[t, (k + 1) % 3], corners[t, (k + 2) % 3]
    both = inside[t] & beyond
    corner = np.full(len(t), -1, np.int64)
    follow = (samples.after[one] == two) | (samples.after[two] == one)
    asked = follow | ~both
    corner[asked] = _corners(edges, samples, one[asked], two[asked])
    link = both & (~follow | (corner >= 0))
    tip = ~both & (corner >= 0)
    inner = np.where(inside[t[tip]], t[tip], n[tip])
    ends = np.concatenate([np.stack([t[link], n[link]], 1), np.stack([inner, len(corners) + np.arange(tip.sum())], 1)])
    pair = np.concatenate([np.stack([one[link], two[link]], 1), np.stack([one[tip], two[tip]], 1)])
    used, ends = np.unique(ends, return_inverse=True)
    vertex = corner[tip]
    place = np.concatenate([centre, edges.a[edges.after[vertex]]])[used]
    radius = np.concatenate([np.hypot(*(centre - samples.place[corners[:, 0]]).T), np.zeros(len(vertex))])[used]
    sides = np.concatenate([samples.edge[corners], np.repeat(vertex[:, None], 3, axis=1)])[used]
    return Ridges(place, radius, sides, used >= len(corners), ends.reshape(-1, 2), samples.edge[pair])


def _parts(edges: Edges) -> Ints:
    """(n,) the part of the art that each edge is of: rings whose boxes do not meet hold no place in common."""
    first = np.flatnonzero(np.diff(edges.ring, prepend=-1))
    low, high = np.minimum.reduceat(edges.a, first), np.maximum.reduceat(edges.a, first)
    return groups(np.concatenate([low, high], axis=1))[edges.ring]


def _circles(p: Floats, corners: Ints) -> Floats:
    """(n, 2) centres of the circles through the triangles' corners; far away where a triangle has no area."""
    a, b, c = p[corners[:, 0]], p[corners[:, 1]], p[corners[:, 2]]
    u, v = b - a, c - a
    det = 2.0 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    uu, vv = (u * u).sum(axis=1), (v * v).sum(axis=1)
    top = np.stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu], axis=1)
    far = FAR * (1.0 + np.abs(p).max())
    off = np.divide(top, det[:, None], out=np.full(top.shape, far), where=np.abs(det)[:, None] > 0)
    return np.asarray(a + np.clip(off, -far, far))


@compiled
def _inside(edges: Edges, on: Ints, corners: Ints, centre: Floats) -> Bools:
    """(n,) whether each centre lies inside, told by the nearest of the edges that its own three samples lie on."""
    out = np.zeros(len(corners), np.bool_)
    line, beside, turn, box = edges.line, edges.beside, edges.turn, edges.box[1]
    for n in range(len(corners)):
        x, y = centre[n, 0], centre[n, 1]
        if not (box[0] < x < box[2] and box[1] < y < box[3]):
            continue
        least, near = np.inf, 0
        for k in range(3):
            i = walk(line, beside, on[corners[n, k]], x, y, 1.0, 0.0, 1.0)
            r = foot(line, i, x, y, 1.0, 0.0, 1.0)[0]
            if r < least:
                least, near = r, i
        out[n] = is_inside(line, beside, turn, near, x, y)
    return out


@compiled
def _corners(edges: Edges, samples: Samples, one: Ints, two: Ints) -> Ints:
    """(n,) the edge that ends in the corner between two samples that stand few samples apart; -1: there is none."""
    out = np.full(len(one), -1, np.int64)
    for n in range(len(one)):
        for turn in range(2):
            begin, end = (one[n], two[n]) if turn == 0 else (two[n], one[n])
            s = begin
            for _ in range(AHEAD):
                s = samples.after[s]
                if s == end:
                    break
            if s != end:
                continue
            i, total, most, at, sharp = samples.edge[begin], 0.0, 0.0, -1, False
            while i != samples.edge[end]:
                total += edges.turn[i]
                sharp = sharp or edges.beside[i, 2] > 0
                if edges.turn[i] > most:
                    most, at = edges.turn[i], i
                i = edges.beside[i, 0]
            if sharp or total >= ROUND_RAD:
                out[n] = at
                break
    return out
