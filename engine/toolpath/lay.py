"""Sheet strokes laid on the skin: bent so that the machine's straight moves keep to them.

Takes strokes and a layout, gives `Laid`. A stroke is straight on the sheet between its points, a move is straight in
(x, theta): pieces are halved, or cut in more, until the two lie within a share of the chord tolerance of each other,
measured on the skin by its metric. LayoutError where a stroke leaves the blank.
"""

import numpy as np

from engine.blank import metric
from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import PART, spread
from engine.kernel.tolerance import Tolerance
from engine.layout import Layout
from engine.marking import Strokes
from engine.toolpath.runs import Laid

__all__ = ["LAY_SHARE", "lay"]

LAY_SHARE = 0.4  # of tolerance.chord_mm, sideways; `follow` takes the rest, across: together they keep the whole
_LOOK_MM = 0.5  # on the sheet: how far apart a piece is looked at
_LEAST_LOOKS, _MOST_LOOKS, _MOST_PARTS = 3, 63, 8  # a piece no longer than _LOOK_MM: one look, in its middle
_NONE = (np.zeros(0, np.int64), np.zeros(0), np.zeros((0, 2)))  # points added, where along, and laid
_SHORTEST_MM = 1e-3  # on the sheet: no piece is cut below this; what bends tighter is no line


def lay(strokes: Strokes, layout: Layout, *, depth_mm: float, tolerance: Tolerance) -> Laid:
    """The strokes on the skin, at their share of `depth_mm`; straight moves within LAY_SHARE of the chord tolerance."""
    line, uv = strokes.line, strokes.line.points
    start = np.ones(len(uv), np.bool_)
    start[line.offsets[1:][line.sizes > 0] - 1] = False
    laid = np.stack(layout.wrap(uv), axis=1)
    segment = np.flatnonzero(start)
    found = [_bends(layout, uv, laid, segment[i : i + PART], tolerance) for i in range(0, len(segment), PART)]
    added, t, bends = (np.concatenate(column) for column in zip(*found, strict=True)) if found else _NONE
    if not len(added):
        return _laid(laid, depth_mm * strokes.share, line.offsets, strokes)
    owner, t = np.concatenate([np.arange(len(uv)), added]), np.concatenate([np.zeros(len(uv)), t])
    order = np.lexsort((t, owner))
    owner, t, laid = owner[order], t[order], np.concatenate([laid, bends])[order]
    after = np.minimum(owner + 1, len(uv) - 1)
    share = strokes.share[owner] + t * (strokes.share[after] - strokes.share[owner])
    return _laid(laid, depth_mm * share, np.searchsorted(owner, line.offsets), strokes)


def _laid(laid: Floats, depth_mm: Floats, offsets: Ints, strokes: Strokes) -> Laid:
    """The strokes at places (n, 2) of x and theta."""
    return Laid(
        x_mm=laid[:, 0],
        theta_rad=laid[:, 1],
        depth_mm=depth_mm,
        offsets=offsets,
        reversible=strokes.reversible,
    )


def _bends(
    layout: Layout, uv: Floats, laid: Floats, segment: Ints, tolerance: Tolerance
) -> tuple[Ints, Floats, Floats]:
    """Inner points for the segments of the sheet that begin at points `segment` (n,) of uv, laid at (x, theta).

    Returns which point each comes after, where along the segment (0 to 1), and the point laid (m, 2).
    """
    (a, b), (laid_a, laid_b) = ((line.take(segment, axis=0), line.take(segment + 1, axis=0)) for line in (uv, laid))
    allowed_mm = LAY_SHARE * tolerance.chord_mm
    way, length = b - a, np.linalg.norm(b - a, axis=1)
    s, t, ends = np.arange(len(a)), np.tile([0.0, 1.0], (len(a), 1)), np.stack([laid_a, laid_b], axis=1)
    found = [(s[:0], t[:0, 0], laid_a[:0])]
    while len(s):
        long = length[s] * (t[:, 1] - t[:, 0])
        error = _errors(layout, (a.take(s, axis=0), way.take(s, axis=0)), t, ends, long)
        bad = (error > allowed_mm) & (long > _SHORTEST_MM)
        s, t, ends, error = s[bad], t[bad], ends[bad], error[bad]
        # The error of an even bend falls with the square of the length.
        parts = np.clip(np.ceil(np.sqrt(error / allowed_mm)), 2, _MOST_PARTS).astype(np.int64)
        i = np.repeat(np.arange(len(s)), parts)
        j = spread(0, parts)
        s, t, ends = s[i], t[i], ends[i]
        inner = np.flatnonzero(j > 0)
        new = t[inner, 0] + (t[inner, 1] - t[inner, 0]) * (j / parts[i])[inner]
        placed = np.stack(layout.wrap(a[s[inner]] + new[:, None] * way[s[inner]]), axis=1)
        found.append((s[inner], new, placed))
        t[inner, 0], t[inner - 1, 1] = new, new
        ends[inner, 0], ends[inner - 1, 1] = placed, placed
    which, where, points = (np.concatenate(column) for column in zip(*found, strict=True))
    return segment[which], where, points


def _errors(layout: Layout, line: tuple[Floats, Floats], t: Floats, ends: Floats, length: Floats) -> Floats:
    """(n,) mm on the skin: how far straight moves leave the laid pieces, at places every _LOOK_MM of sheet.

    line : where each segment begins and its way (n, 2).  t : (n, 2) the piece's ends along it.  ends : (n, 2, 2) those
    ends laid, (x, theta).  length : (n,) of the pieces on the sheet.
    """
    looks = np.clip(np.ceil(length / _LOOK_MM).astype(np.int64), _LEAST_LOOKS, _MOST_LOOKS)
    looks[length <= _LOOK_MM] = 1
    i = np.repeat(np.arange(len(t)), looks)
    u = (spread(1, looks) / (looks[i] + 1))[:, None]
    along = t[i, :1] + u * (t[i, 1:] - t[i, :1])
    x, theta = layout.wrap(line[0][i] + along * line[1][i])
    off = np.stack([x, theta], axis=1) - ends[i, 0] - u * (ends[i, 1] - ends[i, 0])
    E, F, G = metric(layout.skin.radius(x, theta), *layout.skin.slopes(x, theta))
    far = np.sqrt(E * off[:, 0] ** 2 + 2.0 * F * off[:, 0] * off[:, 1] + G * off[:, 1] ** 2)
    greatest: Floats = np.maximum.reduceat(far, np.cumsum(looks) - looks)
    return greatest
