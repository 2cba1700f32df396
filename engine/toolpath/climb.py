"""Strokes cut at their crests and hollows, each piece turned so that it climbs.

A rotating tool that is pushed down a slope skates over it (common practice). Takes laid strokes and the skin, gives
laid strokes of which none falls more than `level_mm` below the highest skin it has reached. What never rises or falls
by more than that is level: it stays whole, and may still be cut from either end.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import offsets_of, spread
from engine.kernel.tolerance import Tolerance
from engine.kernel.units import TURN_RAD
from engine.toolpath.runs import Laid

__all__ = ["climb"]

_LOOK_MM = 0.2  # along a stroke, how often the skin's height is asked
_MARGIN = 0.95  # of level_mm: the rest is for what lies between two looks
_SAME_MM = 1e-6  # ends closer than this close a ring


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Looks:
    """Laid strokes seen closely. given : (n,) whether a place is one of the strokes' own points. r_mm : of the skin."""

    x_mm: Floats
    theta_rad: Floats
    depth_mm: Floats
    r_mm: Floats
    given: Bools
    offsets: Ints


def climb(laid: Laid, skin: Skin, *, tolerance: Tolerance) -> Laid:
    """The strokes in pieces that climb towards larger r; level ones as they are. Pieces follow each other in order."""
    if not len(laid.x_mm):
        return laid
    looks = _look(laid, skin)
    level = _MARGIN * tolerance.level_mm
    low = np.minimum.reduceat(looks.r_mm, looks.offsets[:-1])
    flat = np.maximum.reduceat(looks.r_mm, looks.offsets[:-1]) - low <= level
    looks = _from_the_lowest(looks, flat)
    turns = np.zeros(len(looks.r_mm), np.bool_)
    _turns(looks.r_mm, looks.offsets, level, turns)
    keep = looks.given | turns
    first, last = turns.copy(), turns.copy()
    first[looks.offsets[:-1]] = True
    last[looks.offsets[1:] - 1] = True
    begin, end = np.flatnonzero(first), np.flatnonzero(last)
    stroke = np.searchsorted(looks.offsets, begin, side="right") - 1
    position = np.cumsum(keep) - 1
    size = position[end] - position[begin] + 1
    falls = (looks.r_mm[end] < looks.r_mm[begin]) & ~flat[stroke]
    source = np.flatnonzero(keep)[spread(position[begin], size, back=falls)]
    return Laid(
        x_mm=looks.x_mm[source],
        theta_rad=looks.theta_rad[source],
        depth_mm=looks.depth_mm[source],
        offsets=offsets_of(size),
        reversible=laid.reversible[stroke] & flat[stroke],
    )


def _look(laid: Laid, skin: Skin) -> _Looks:
    """Places no further than _LOOK_MM apart along every stroke, its own points among them."""
    x, theta, depth = laid.x_mm, laid.theta_rad, laid.depth_mm
    r = skin.radius(x, theta)
    way = np.zeros(len(x))
    way[:-1] = np.sqrt(np.diff(x) ** 2 + np.diff(r) ** 2 + (0.5 * (r[1:] + r[:-1]) * np.diff(theta)) ** 2)
    way[laid.offsets[1:] - 1] = 0.0
    count = np.maximum(1, np.ceil(way / _LOOK_MM)).astype(np.int64)
    i = np.repeat(np.arange(len(x)), count)
    part = spread(0, count)
    t, after = part / count[i], np.minimum(i + 1, len(x) - 1)
    x, theta, depth = (v[i] + t * (v[after] - v[i]) for v in (x, theta, depth))
    places = offsets_of(count)
    r = skin.radius(x, theta)
    return _Looks(x_mm=x, theta_rad=theta, depth_mm=depth, r_mm=r, given=part == 0, offsets=places[laid.offsets])


def _from_the_lowest(looks: _Looks, flat: Bools) -> _Looks:
    """Closed rings that are not level begin at their lowest place: where they were closed is no reason to split."""
    begin, size = looks.offsets[:-1], np.diff(looks.offsets)
    end = looks.offsets[1:] - 1
    around = looks.theta_rad[end] - looks.theta_rad[begin]
    apart = np.abs(around - TURN_RAD * np.round(around / TURN_RAD)) * looks.r_mm[begin]
    ring = (np.maximum(apart, np.abs(looks.x_mm[end] - looks.x_mm[begin])) < _SAME_MM) & (size > 2) & ~flat
    if not ring.any():
        return looks
    stroke = np.repeat(np.arange(len(size)), size)
    lowest = np.lexsort((looks.r_mm, stroke))[begin] - begin
    step = spread(0, size) + np.where(ring, lowest, 0)[stroke]
    laps = np.where(ring[stroke], step // np.maximum(size - 1, 1)[stroke], 0)
    at = begin[stroke] + step - laps * (size - 1)[stroke]
    return _Looks(
        x_mm=looks.x_mm[at],
        theta_rad=looks.theta_rad[at] + laps * around[stroke],
        depth_mm=looks.depth_mm[at],
        r_mm=looks.r_mm[at],
        given=looks.given[at] | np.isin(np.arange(len(at)), np.concatenate([begin, end])),
        offsets=looks.offsets,
    )


@compiled
def _turns(r: Floats, offsets: Ints, level: float, turn: Bools) -> None:
    """Mark the crests and hollows between which r rises or falls by more than `level`, the ends of strokes apart."""
    for s in range(len(offsets) - 1):
        low = high = offsets[s]
        rising = falling = False
        for k in range(offsets[s] + 1, offsets[s + 1]):
            if not falling and r[k] > r[high]:
                high = k
            if not rising and r[k] < r[low]:
                low = k
            if not rising and r[k] - r[low] > level:
                if falling:
                    turn[low] = True
                rising, falling, high = True, False, k
            elif not falling and r[high] - r[k] > level:
                if rising:
                    turn[high] = True
                rising, falling, low = False, True, k
