"""Strokes that close round the blank begin at its seam.

Takes strokes laid on the skin; gives the same strokes, each that ends where it began, a whole turn on, cut from the
seam on. All others are as they were.
"""

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.ragged import offsets_of
from engine.kernel.units import TURN_RAD
from engine.toolpath.runs import Laid

__all__ = ["begin_at"]

SAME = 1e-9  # mm and rad: less is rounding


def begin_at(laid: Laid, seam_rad: float) -> Laid:
    """The strokes, those that close round the blank begun at `seam_rad`; their places are as they were."""
    last = laid.offsets[1:] - 1
    rows = np.stack([laid.x_mm, laid.theta_rad, laid.depth_mm], axis=1)
    if not len(laid):
        return laid
    way = rows[last] - rows[laid.offsets[:-1]]
    closes = (np.abs(way[:, [0, 2]]) <= SAME).all(axis=1) & (np.abs(np.abs(way[:, 1]) - TURN_RAD) <= SAME)
    if not closes.any():
        return laid
    parts = [rows[a:b] for a, b in zip(laid.offsets[:-1], laid.offsets[1:], strict=True)]
    for k in np.flatnonzero(closes):
        parts[k] = _begun(parts[k], seam_rad)
    whole = np.concatenate(parts)
    sizes = np.array([len(part) for part in parts])
    return Laid(
        x_mm=whole[:, 0],
        theta_rad=whole[:, 1],
        depth_mm=whole[:, 2],
        offsets=offsets_of(sizes),
        reversible=laid.reversible,
    )


def _begun(ring: Floats, seam_rad: float) -> Floats:
    """A closed stroke (n, 3) of x, theta and depth, from where it first passes the seam, once round."""
    turn = TURN_RAD if ring[-1, 1] > ring[0, 1] else -TURN_RAD
    from_seam = (ring[:, 1] - seam_rad) / TURN_RAD
    gone = np.floor(from_seam + SAME)
    k = int(np.argmax(gone != gone[0])) - 1
    if abs(from_seam[0] - np.round(from_seam[0])) <= SAME or k < 0:
        return ring
    line = max(gone[k], gone[k + 1])  # the turn at which the seam is passed
    share = (line - from_seam[k]) / (from_seam[k + 1] - from_seam[k])
    seam = ring[k] + share * (ring[k + 1] - ring[k])
    on = [0.0, turn, 0.0]
    head = ring[1 : k + 1] + on
    tail = ring[k + 1 :]
    if share <= SAME:
        return np.vstack([ring[k:], head])
    if share >= 1.0 - SAME:
        return np.vstack([tail, head, tail[:1] + on])
    return np.vstack([seam[None], tail, head, seam[None] + on])
