"""Rings that lie in each other, strung to one stroke from the outside in, with short ways aside to what lies between.

A ring is closed where it began; from there a step leads to the nearest place of the ring inside, so each begins where
the ring inside it wants. Only lines of the same stroke meet.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from engine.artwork.regions import Objects
from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import Ragged, offsets_of, spread

__all__ = ["strung"]

PIECE = 8  # steps of a line that the search takes as one: fewer shapes to be made, and few steps to be looked at again


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rings:
    """All rings, level by level: lines (n,), the level of each (n,), where along it each begins, mm (n,), and the ring
    that it follows (n,), -1 where it is the first of its stroke.
    """

    lines: Objects
    level: Ints
    begin: Floats
    before: Ints


def strung(levels: Sequence[Objects], asides: Objects, *, joined: bool) -> Ragged:
    """The strokes, closed rings but for the steps between them.

    levels : of each level its rings (linear rings or closed lines), outermost first. asides : points and lines, each of
    them gone to and back from the nearest place of a ring. joined : string the rings; else one stroke a ring.
    """
    rings = _ordered([_lines(level) for level in levels], joined=joined)
    n = len(rings.lines)
    chain = np.arange(n)
    for i in np.flatnonzero(rings.before >= 0):  # a ring comes after the one outside it
        chain[i] = chain[rings.before[i]]
    place = np.argsort(np.lexsort((rings.level, chain)))
    points, owner, along, turn = _round(rings)
    if len(asides):
        more = _aside(rings, asides)
        points, owner, along, turn = (
            np.concatenate(both) for both in zip((points, owner, along, turn), more, strict=True)
        )
    order = np.lexsort((turn, along, place[owner]))
    _, sizes = np.unique(chain[owner], return_counts=True)
    return Ragged(points=points[order], offsets=offsets_of(sizes))


def _lines(rings: Objects) -> Objects:
    """Linear rings as closed lines, along which places can be told."""
    points, owner = shapely.get_coordinates(rings, return_index=True)
    return np.asarray(shapely.linestrings(points, indices=owner), object)


def _ordered(levels: Sequence[Objects], *, joined: bool) -> _Rings:
    """Where each ring begins and which it follows, found from the inside out.

    Every place of a ring is one step from the ring outside it that it came from: the nearest one there.
    """
    base = np.cumsum([0, *(len(level) for level in levels)])
    begin, before = np.zeros(base[-1]), np.full(base[-1], -1, np.int64)
    for k in range(len(levels) - 1, 0, -1) if joined else ():
        inner, outer = levels[k], levels[k - 1]
        start = shapely.line_interpolate_point(inner, begin[base[k] : base[k + 1]])
        child, parent = shapely.STRtree(outer).query_nearest(start, all_matches=False)
        # Of several in one ring the longest goes on from it.
        rank = np.lexsort((child, -np.round(shapely.length(inner[child]), 6), parent))
        first = rank[np.concatenate([[True], np.diff(parent[rank]) > 0])]
        child, parent = child[first], parent[first]
        before[base[k] + child] = base[k - 1] + parent
        begin[base[k - 1] + parent] = shapely.line_locate_point(outer[parent], start[child])
    level = np.repeat(np.arange(len(levels)), np.diff(base))
    return _Rings(lines=np.concatenate(levels), level=level, begin=begin, before=before)


def _round(rings: _Rings) -> tuple[Floats, Ints, Floats, Ints]:
    """Points of every ring, its begin at both ends; the ring, the way along it from its begin, and the rank there."""
    points, owner = shapely.get_coordinates(rings.lines, return_index=True)
    first = np.concatenate([[True], np.diff(owner) > 0])
    step = np.where(first, 0.0, np.hypot(*np.diff(points, axis=0, prepend=points[:1]).T))
    run = np.cumsum(step)
    along = run - run[first][owner]
    whole = shapely.length(rings.lines)
    ahead = np.mod(along - rings.begin[owner], whole[owner])
    kept = ~first & (ahead > 0)
    ends = shapely.get_coordinates(shapely.line_interpolate_point(rings.lines, rings.begin))
    own = np.arange(len(whole))
    return (
        np.concatenate([points[kept], ends, ends]),
        np.concatenate([owner[kept], own, own]),
        np.concatenate([ahead[kept], np.zeros(len(own)), np.maximum(whole, 0.0)]),
        np.concatenate([np.zeros(kept.sum(), np.int64), np.full(len(own), -1), np.full(len(own), 1 << 60)]),
    )


def _aside(rings: _Rings, asides: Objects) -> tuple[Floats, Ints, Floats, Ints]:
    """The same of the ways aside: from the ring to the nearer end, to the other, and back."""
    line = shapely.get_type_id(asides) == 1
    near, far = asides.copy(), asides.copy()
    near[line], far[line] = shapely.get_point(asides[line], 0), shapely.get_point(asides[line], -1)
    places = _nearest(rings.lines, np.concatenate([near, far]))
    ring, at, foot, away = (np.reshape(part, (2, len(asides), *part.shape[1:])) for part in places)
    turned = (line & (away[1] < away[0])).astype(np.int64)
    own = np.arange(len(asides))
    ring, at, foot = ring[turned, own], at[turned, own], foot[turned, own]
    ways = np.where(turned == 1, shapely.reverse(asides), asides)
    way, size = shapely.get_coordinates(ways), shapely.get_num_coordinates(ways)
    size = np.where(line, size, 1)
    count = 2 * size + 1  # the foot, there, back without the turning point, and the foot again
    i = np.repeat(np.arange(len(asides)), count)
    m = spread(0, count)
    along = np.where(m <= size[i], m, 2 * size[i] - m) - 1  # -1 at both ends: the foot
    first = np.cumsum(size) - size
    points = np.where((along < 0)[:, None], foot[i], way[first[i] + np.maximum(along, 0)])
    ahead = np.mod(at - rings.begin[ring], shapely.length(rings.lines)[ring])
    return points, ring[i], ahead[i], np.arange(len(i))


def _nearest(lines: Objects, places: Objects) -> tuple[Ints, Floats, Floats, Floats]:
    """Of each of (n,) points the nearest place on the lines: the line, how far along it, (n, 2) where, how far away."""
    points, owner = shapely.get_coordinates(lines, return_index=True)
    k = np.flatnonzero(owner[1:] == owner[:-1])
    step = points[k + 1] - points[k]
    far = np.hypot(*step.T)
    run = np.cumsum(far) - far
    first = np.searchsorted(owner[k], np.arange(len(lines)))
    begins = np.flatnonzero((np.arange(len(k)) - first[owner[k]]) % PIECE == 0)  # of pieces, each of so many steps
    size = np.diff(begins, append=len(k))
    pieces = shapely.linestrings(points[spread(k[begins], size + 1)], indices=np.repeat(np.arange(len(size)), size + 1))
    _, piece = shapely.STRtree(pieces).query_nearest(places, all_matches=False)
    step_of = np.minimum(begins[piece] + np.arange(PIECE)[:, None], (begins + size - 1)[piece])  # (PIECE, n)
    away = shapely.get_coordinates(places) - points[k[step_of]]
    share = (away * step[step_of]).sum(axis=-1) / np.maximum(far[step_of] ** 2, 1e-300)
    share = np.clip(share, 0.0, 1.0)
    away = np.hypot(*np.moveaxis(away - share[..., None] * step[step_of], -1, 0))
    best = away.argmin(axis=0), np.arange(len(places))
    found, share, away = step_of[best], share[best], away[best]
    ring = owner[k[found]]
    along = run[found] - run[first[ring]] + share * far[found]
    return ring, along, points[k[found]] + share[:, None] * step[found], away
