"""Leaving out points of traced rings, with every ring kept simple and none touching or jumping over another.

Takes rings as flat arrays in pixels. Points that are not essential are left out; then small squares are searched
for rings that have come to meet, and those get all their points back. Rings as traced never meet, so this ends.
"""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.essential import essential_between
from engine.kernel.ragged import Ragged, offsets_of

__all__ = ["thin"]

SQUARE_PX = 4.0  # side of the squares that are searched: few enough to pass over, small enough to hold few segments


def thin(rings: Ragged, tolerance: float) -> Ragged:
    """The (closed) rings with no point shifted off by more than `tolerance`, which is under half a pixel.

    Rings that are no larger than twice the tolerance in either direction are specks, and left out.
    """
    low = np.minimum.reduceat(rings.points, rings.offsets[:-1]) if len(rings) else np.zeros((0, 2))
    high = np.maximum.reduceat(rings.points, rings.offsets[:-1]) if len(rings) else np.zeros((0, 2))
    rings = rings.take(np.flatnonzero((high - low).max(1, initial=0.0) > 2 * tolerance))
    if not len(rings):
        return rings
    first, last = rings.offsets[:-1], rings.offsets[1:] - 1
    far = _farthest(rings.points, first, last)  # a ring is parted there and at its first point
    keep = essential_between(rings.points, np.append(first, far), np.append(far, last), tolerance)
    whole = np.add.reduceat(keep.astype(np.int64), rings.offsets[:-1]) < 4  # three corners and the closing point
    while True:
        keep |= np.repeat(whole, rings.sizes)
        offsets = offsets_of(keep)[rings.offsets]
        out = Ragged(points=rings.points[keep], offsets=offsets)
        scaled = out.points / SQUARE_PX
        met = _meeting(scaled, offsets, scaled.min(0), scaled.max(0), tolerance / SQUARE_PX) & ~whole
        if not met.any():
            return out
        whole |= met


@compiled
def _farthest(points: Floats, first: Ints, last: Ints) -> Ints:
    """(m,) of each closed ring the point farthest from its first one."""
    out = first.copy()
    for ring in range(len(first)):
        reach = -1.0
        for i in range(first[ring], last[ring]):
            away = (points[i, 0] - points[first[ring], 0]) ** 2 + (points[i, 1] - points[first[ring], 1]) ** 2
            if away > reach:
                out[ring], reach = i, away
    return out


@compiled
def _side(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


@compiled
def _rows(points: Floats, i: int, column: int, low: Floats, rows: int) -> tuple[int, int]:
    """The first and last row of squares that segment i passes in a column of squares."""
    x0, y0, x1, y1 = points[i, 0] - low[0], points[i, 1] - low[1], points[i + 1, 0] - low[0], points[i + 1, 1] - low[1]
    if x0 > x1:
        x0, y0, x1, y1 = x1, y1, x0, y0
    ya, yb = y0, y1
    if x1 - x0 > 1e-9:
        slope = (y1 - y0) / (x1 - x0)
        ya = y0 + slope * (max(float(column), x0) - x0)
        yb = y0 + slope * (min(float(column + 1), x1) - x0)
    # a margin, so that two segments that meet on a square's edge share a square
    first, last = int(np.floor(min(ya, yb) - 1e-6)), int(np.floor(max(ya, yb) + 1e-6))
    return max(first, 0), min(last, rows - 1)


@compiled
def _squares(points: Floats, owner: Ints, low: Floats, columns: int, rows: int) -> tuple[Ints, Ints]:
    """(columns * rows + 1,) where each square of side 1 begins in (k,) the segments that pass the squares."""
    start = np.zeros(columns * rows + 1, np.int64)
    held = np.zeros(1, np.int64)
    for turn in range(2):  # counted, then put in
        for i in range(len(points) - 1):
            if owner[i] != owner[i + 1]:
                continue
            xa, xb = min(points[i, 0], points[i + 1, 0]) - low[0], max(points[i, 0], points[i + 1, 0]) - low[0]
            for column in range(max(int(np.floor(xa - 1e-6)), 0), min(int(np.floor(xb + 1e-6)), columns - 1) + 1):
                first, last = _rows(points, i, column, low, rows)
                for square in range(column * rows + first, column * rows + last + 1):
                    if turn == 0:
                        start[square + 1] += 1
                    else:
                        held[start[square]] = i
                        start[square] += 1
        if turn == 0:
            start = np.cumsum(start)
            held = np.zeros(start[-1], np.int64)
    start[1:] = start[:-1].copy()  # putting in moved each beginning to its end
    start[0] = 0
    return start, held


@compiled
def _meeting(points: Floats, offsets: Ints, low: Floats, high: Floats, tolerance: float) -> Bools:
    """(m,) which rings cross or touch a ring or themselves, or have another ring's beginning within `tolerance`."""
    rings = len(offsets) - 1
    owner = np.zeros(len(points), np.int64)
    for ring in range(rings):
        owner[offsets[ring] : offsets[ring + 1]] = ring
    columns, rows = int(np.floor(high[0] - low[0])) + 1, int(np.floor(high[1] - low[1])) + 1
    start, held = _squares(points, owner, low, columns, rows)
    met = np.zeros(rings, np.bool_)
    for square in range(columns * rows):
        for s in range(start[square], start[square + 1]):
            for t in range(s + 1, start[square + 1]):
                i, j = held[s], held[t]
                if _meet(points, offsets, i, j, owner[i], owner[j]):
                    met[owner[i]] = met[owner[j]] = True
    for ring in range(rings):
        x, y = points[offsets[ring], 0], points[offsets[ring], 1]
        column, row = int(np.floor(x - low[0])), int(np.floor(y - low[1]))
        for c in range(max(column - 1, 0), min(column + 2, columns)):
            near = c * rows + max(row - 1, 0), c * rows + min(row + 2, rows)
            for s in range(start[near[0]], start[near[1]]):
                i = held[s]
                if owner[i] != ring and _distance(points, i, x, y) <= tolerance:
                    met[owner[i]] = met[ring] = True
    return met


@compiled
def _distance(points: Floats, i: int, x: float, y: float) -> float:
    dx, dy = points[i + 1, 0] - points[i, 0], points[i + 1, 1] - points[i, 1]
    px, py = x - points[i, 0], y - points[i, 1]
    share = min(1.0, max(0.0, (px * dx + py * dy) / max(dx * dx + dy * dy, 1e-300)))
    return float(np.hypot(px - share * dx, py - share * dy))


@compiled
def _meet(points: Floats, offsets: Ints, i: int, j: int, ring_i: int, ring_j: int) -> bool:
    """Whether segments i and j have a point in common, but for the corner of two neighbours in a ring."""
    if i > j:
        i, j = j, i
    ax, ay, bx, by = points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]
    cx, cy, dx, dy = points[j, 0], points[j, 1], points[j + 1, 0], points[j + 1, 1]
    if ring_i == ring_j:
        closing = i == offsets[ring_i] and j == offsets[ring_i + 1] - 2
        if j == i + 1 or closing:
            # neighbours meet in more than their corner only where the path turns straight back
            straight = _side(ax, ay, bx, by, cx, cy) == 0.0 and _side(ax, ay, bx, by, dx, dy) == 0.0
            return straight and (bx - ax) * (dx - cx) + (by - ay) * (dy - cy) < 0
    one, two = _side(ax, ay, bx, by, cx, cy), _side(ax, ay, bx, by, dx, dy)
    three, four = _side(cx, cy, dx, dy, ax, ay), _side(cx, cy, dx, dy, bx, by)
    apart = (
        max(ax, bx) < min(cx, dx) or max(cx, dx) < min(ax, bx) or max(ay, by) < min(cy, dy) or max(cy, dy) < min(ay, by)
    )
    return not apart and one * two <= 0 and three * four <= 0
