"""A tone along rows as strokes: as wide as asked where the tool can, in dashes of its least width where it cannot.

Where a fainter tone is asked, what is owed is summed along the row: a dash begins when half a dash is owed and ends
when half a dash has been given too much, wherever between two samples that falls. So every dash and every gap is at
least one dash long, and what is cut never differs from what was asked by more than half a dash.
Source: one-dimensional error diffusion, after R. W. Floyd and L. Steinberg (1976), with hysteresis (derived here).
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged
from engine.marking.sampling import Rows

__all__ = ["DEPTH_MM", "Cuts", "along", "cut_along"]

DASH_OF_WIDTH = 1.5  # of the least width: its round ends take up pi / 4 of it, and something is left between
END_SHARE = pi / 8.0  # of its width a stroke ends short on each side: its round ends then cover what was asked
GOLDEN = 0.6180339887498949  # where in a dash each row begins: neighbours never in step
DEPTH_MM = 0.0005  # how far a straight move may be from the depths asked: 0.3 % of a groove 0.2 mm wide
ASIDE_MM = 0.002  # the same on the sheet


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cuts:
    """k strokes of n points: where they lie on the sheet, and how deep."""

    line: Ragged
    depth_mm: Floats


def cut_along(rows: Rows, width_mm: Floats, least_mm: Floats, depth_mm: Floats, *, within_mm: float = DEPTH_MM) -> Cuts:
    """The strokes that open `width_mm` (n,) along the rows' samples. least_mm : (n,) the least width that is sure to
    mark. depth_mm : (n,) that opens the width, or the least width where less is asked. within_mm : as of `along`.
    """
    phase = 2.0 * np.mod(rows.number * GOLDEN + 0.37, 1.0) - 1.0
    parts = np.zeros((len(width_mm) + len(rows.number), 2))
    count = _parts(width_mm, least_mm, rows.way_mm, rows.offsets, phase, parts)
    return along(rows, parts[:count], depth_mm, within_mm=within_mm)


def along(rows: Rows, parts: Floats, depth_mm: Floats, *, within_mm: float = DEPTH_MM) -> Cuts:
    """The strokes that lie on rows from parts[k, 0] to parts[k, 1], in samples, each within one row; with as few points
    as carry the depths (n,) of the samples within `within_mm`, and their places within ASIDE_MM.
    """
    place, offsets = np.zeros(len(depth_mm) + 2 * len(parts)), np.zeros(len(parts) + 1, np.int64)
    place = place[: _places(parts, rows.uv_mm, depth_mm, (ASIDE_MM, within_mm), place, offsets)]
    uv, depth = np.zeros((len(place), 2)), np.zeros(len(place))
    _stand(place, rows.offsets, rows.uv_mm, depth_mm, uv, depth)
    return Cuts(line=Ragged(points=uv, offsets=offsets), depth_mm=depth)


@compiled
def _parts(width: Floats, least: Floats, way: Floats, offsets: Ints, phase: Floats, parts: Floats) -> int:
    """Fill parts (k, 2): where each stroke begins and ends, in samples; what is shorter than its ends is a point."""
    count = 0
    for row in range(len(offsets) - 1):
        on, begun = False, 0.0
        owed = phase[row] * 0.5 * DASH_OF_WIDTH * least[offsets[row]]
        last = offsets[row + 1]
        for i in range(offsets[row], last + 1):
            duty = 0.0 if i == last or width[i] <= 0.0 else width[i] / least[min(i, last - 1)]
            if duty == 0.0 or (duty < 1.0 and on and i > offsets[row] and width[i - 1] >= least[i - 1] and owed <= 0.0):
                if on:
                    count += _ended(begun, float(i), width, least, way, parts, count)
                on = False
            if duty == 0.0:
                continue
            if duty >= 1.0:
                if not on:
                    on, begun = True, float(i)
                continue
            half = 0.5 * DASH_OF_WIDTH * least[i]
            owed = min(max(owed, -half), half)
            at = 0.0
            while True:
                left = way[i] * (1.0 - at)
                go = (half + owed) / (1.0 - duty) if on else (half - owed) / duty
                if go > left:
                    owed += left * (duty - 1.0 if on else duty)
                    break
                at += go / way[i]
                owed = -half if on else half
                if on:
                    count += _ended(begun, i + at, width, least, way, parts, count)
                else:
                    begun = i + at
                on = not on
    return count


@compiled
def _ended(begun: float, ended: float, width: Floats, least: Floats, way: Floats, parts: Floats, count: int) -> int:
    """Put down one stroke, its round ends kept inside; 0 where less than half of a point was owed."""
    i, j = int(begun), min(int(ended), len(way) - 1)
    if ended == j and j > i:
        j -= 1
    short = END_SHARE * max(width[i], least[i]) / way[i]
    short_too = END_SHARE * max(width[j], least[j]) / way[j]
    begin, end = begun + short, ended - short_too
    if begin > end:
        if ended - begun < 0.5 * (short + short_too):
            return 0
        begin = end = 0.5 * (begun + ended)
    parts[count, 0] = begin
    parts[count, 1] = end
    return 1


@compiled
def _places(parts: Floats, uv: Floats, depth: Floats, within: tuple[float, float], place: Floats, offsets: Ints) -> int:
    """Fill place with where the strokes' points stand, in samples: each next one as far on as every sample passed lies
    within its tolerance of the straight move, aside and in depth. Returns how many.
    """
    kept = 0
    for k in range(len(parts)):
        place[kept] = parts[k, 0]
        kept += 1
        i, last = int(parts[k, 0]), int(np.ceil(parts[k, 1])) - 1
        while i < last:
            i = _furthest(i, last, uv, depth, within)
            if i < last:
                place[kept] = i + 0.5
                kept += 1
        if parts[k, 1] > parts[k, 0]:
            place[kept] = parts[k, 1]
            kept += 1
        offsets[k + 1] = kept
    return kept


@compiled
def _furthest(i: int, last: int, uv: Floats, depth: Floats, within: tuple[float, float]) -> int:
    """The last sample, of those up to `last`, that one straight move from sample i reaches with all it passes within
    tolerance: the slopes that keep to each of them narrow, until none is left.
    """
    best = i + 1
    low_u = low_v = low_d = -np.inf
    high_u = high_v = high_d = np.inf
    u, v, d = uv[i, 0], uv[i, 1], depth[i]
    for j in range(i + 1, last + 1):
        far = float(j - i)
        to_u, to_v, to_d = (uv[j, 0] - u) / far, (uv[j, 1] - v) / far, (depth[j] - d) / far
        if low_u <= to_u <= high_u and low_v <= to_v <= high_v and low_d <= to_d <= high_d:
            best = j
        aside, deeper = within[0] / far, within[1] / far
        low_u, high_u = max(low_u, to_u - aside), min(high_u, to_u + aside)
        low_v, high_v = max(low_v, to_v - aside), min(high_v, to_v + aside)
        low_d, high_d = max(low_d, to_d - deeper), min(high_d, to_d + deeper)
        if low_u > high_u or low_v > high_v or low_d > high_d:
            break
    return best


@compiled
def _stand(place: Floats, offsets: Ints, uv: Floats, depth: Floats, points: Floats, sunk: Floats) -> None:
    """Fill points (k, 2) and sunk (k,): the places on the rows, straight between the middles of samples, and the depths
    of the samples that they lie in. place : (k,) in samples, rising from row to row.
    """
    row = 0
    for k in range(len(place)):
        sample = min(int(place[k]), len(depth) - 1)
        while sample >= offsets[row + 1]:
            row += 1
        low = min(max(int(np.floor(place[k] - 0.5)), offsets[row]), offsets[row + 1] - 2)
        part = place[k] - 0.5 - low
        for c in range(2):
            points[k, c] = uv[low, c] + part * (uv[low + 1, c] - uv[low, c])
        sunk[k] = depth[sample]
