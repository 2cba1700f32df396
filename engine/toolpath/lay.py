"""Sheet strokes laid on the skin: bent so that the machine's straight moves keep to them.

Takes strokes and a layout, gives `Laid`. A stroke is straight on the sheet between its points, a move is straight in
(x, theta): pieces are halved, or cut in more, until the two lie within a share of the chord tolerance of each other,
measured on the skin by its metric. LayoutError where a stroke leaves the blank.
"""

import numpy as np

from engine.blank import metric
from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import spread
from engine.kernel.tolerance import Tolerance
from engine.layout import Layout
from engine.marking import Strokes
from engine.toolpath.runs import Laid

__all__ = ["LAY_SHARE", "lay"]

LAY_SHARE = 0.4  # of tolerance.chord_mm, sideways; `follow` takes the rest, across: together they keep the whole
_LOOK_MM = 0.5  # on the sheet: how far apart a piece is looked at
_LEAST_LOOKS, _MOST_LOOKS, _MOST_PARTS = 3, 63, 8
_SHORTEST_MM = 1e-3  # on the sheet: no piece is cut below this; what bends tighter is no line


def lay(strokes: Strokes, layout: Layout, *, depth_mm: float, tolerance: Tolerance) -> Laid:
    """The strokes on the skin, at their share of `depth_mm`; straight moves within LAY_SHARE of the chord tolerance."""
    line, uv = strokes.line, strokes.line.points
    start = np.ones(len(uv), np.bool_)
    start[line.offsets[1:][line.sizes > 0] - 1] = False
    segment = np.flatnonzero(start)
    added, shares = _bends(layout, uv[segment], uv[segment + 1], LAY_SHARE * tolerance.chord_mm)
    owner = np.concatenate([np.arange(len(uv)), segment[added]])
    t = np.concatenate([np.zeros(len(uv)), shares])
    order = np.lexsort((t, owner))
    owner, t = owner[order], t[order]
    after = np.minimum(owner + 1, len(uv) - 1)
    x, theta = layout.wrap(uv[owner] + t[:, None] * (uv[after] - uv[owner]))
    share = strokes.share[owner] + t * (strokes.share[after] - strokes.share[owner])
    return Laid(
        x_mm=x,
        theta_rad=theta,
        depth_mm=depth_mm * share,
        offsets=np.searchsorted(owner, line.offsets),
        reversible=strokes.reversible,
    )


def _bends(layout: Layout, a: Floats, b: Floats, allowed_mm: float) -> tuple[Ints, Floats]:
    """Inner points for the sheet segments a -> b (n, 2): which segment, and where along it (0 to 1)."""
    length = np.linalg.norm(b - a, axis=1)
    s, t0, t1 = np.arange(len(a)), np.zeros(len(a)), np.ones(len(a))
    which, where = [np.zeros(0, np.int64)], [np.zeros(0)]
    while len(s):
        error = _errors(layout, a[s], b[s] - a[s], t0, t1, length[s] * (t1 - t0))
        bad = (error > allowed_mm) & (length[s] * (t1 - t0) > _SHORTEST_MM)
        s, t0, t1, error = s[bad], t0[bad], t1[bad], error[bad]
        # The error of an even bend falls with the square of the length.
        parts = np.clip(np.ceil(np.sqrt(error / allowed_mm)), 2, _MOST_PARTS).astype(np.int64)
        i = np.repeat(np.arange(len(s)), parts)
        j = spread(np.zeros(len(s), np.int64), parts)
        step = ((t1 - t0) / parts)[i]
        s, low, high = s[i], t0[i] + step * j, np.where(j + 1 == parts[i], t1[i], t0[i] + step * (j + 1))
        which.append(s[j > 0])
        where.append(low[j > 0])
        t0, t1 = low, high
    return np.concatenate(which), np.concatenate(where)


def _errors(layout: Layout, a: Floats, way: Floats, t0: Floats, t1: Floats, length: Floats) -> Floats:
    """(n,) mm on the skin: how far the straight move leaves the laid piece, at places every _LOOK_MM."""
    looks = np.clip(np.ceil(length / _LOOK_MM).astype(np.int64), _LEAST_LOOKS, _MOST_LOOKS)
    i = np.repeat(np.arange(len(a)), looks)
    u = (spread(np.zeros(len(a), np.int64), looks) + 1) / (looks[i] + 1)
    t = t0[i] + u * (t1 - t0)[i]
    ends = layout.wrap(np.concatenate([a + t0[:, None] * way, a + t1[:, None] * way]))
    x, theta = layout.wrap(a[i] + t[:, None] * way[i])
    off = []
    for end, here in zip(ends, (x, theta), strict=True):
        first, last = end[: len(a)], end[len(a) :]
        off.append(here - first[i] - u * (last - first)[i])
    E, F, G = metric(layout.skin.radius(x, theta), *layout.skin.slopes(x, theta))
    far = np.sqrt(E * off[0] ** 2 + 2.0 * F * off[0] * off[1] + G * off[1] ** 2)
    greatest = np.zeros(len(a))
    np.maximum.at(greatest, i, far)
    return greatest
