"""Where the carving is not what was asked, as a picture's worth of cells, and how well light and dark agree.

Takes `Wanted` and what was carved, both looked at in the middles of the wanted field's cells.
"""

import math
from enum import IntEnum

import numpy as np

from engine.kernel.arrays import Bytes8
from engine.kernel.values import Wanted
from engine.proof.allowed import field_frame
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.fidelity import CUT_MM, CUT_SHARE

__all__ = ["Match", "difference", "made_on", "tone"]

TONE_MM = 1.0  # what an eye takes together at arm's length: a minute of arc and a half at 2 m, common practice


class Match(IntEnum):
    """What a cell shows: nothing asked and nothing cut, as asked, asked and left, cut and not asked."""

    BARE = 0
    MADE = 1
    LEFT = 2
    BESIDE = 3


def made_on(wanted: Wanted, carved: Carved) -> Radii:
    """(nx, nt) depth carved at the middle of every cell of the wanted field; 0 where nothing was looked at."""
    nx, nt = carved.depth_mm.shape
    rows = np.array([row_of(carved.frame, nx, x) for x in wanted.x_mm.tolist()])
    columns = np.array([column_of(carved.frame, nt, theta) for theta in wanted.theta_rad.tolist()])
    out: Radii = np.zeros(wanted.depth_mm.shape, np.float32)
    out[np.ix_(rows >= 0, columns >= 0)] = carved.depth_mm[np.ix_(rows[rows >= 0], columns[columns >= 0])]
    return out


def difference(wanted: Wanted, made: Radii) -> Bytes8:
    """(nx, nt) `Match` of every cell of the wanted field."""
    asked = wanted.depth_mm > 0
    opened = made > np.where(asked, np.minimum(CUT_MM, CUT_SHARE * wanted.depth_mm), CUT_MM)
    codes = np.array([[Match.BARE, Match.BESIDE], [Match.LEFT, Match.MADE]], np.uint8)
    return codes[asked.astype(np.intp), opened.astype(np.intp)]


def tone(wanted: Wanted, made: Radii, radius_mm: float) -> float | None:
    """Correlation of the mean depths asked and made over squares of TONE_MM, no deeper counted than asked anywhere.

    None where the art or the carving is the same in every square. radius_mm : the middle of the field's.
    """
    frame = field_frame(wanted)
    most = np.float32(wanted.depth_mm.max(initial=0.0))
    step = max(1, round(TONE_MM / frame.dx)), max(1, round(TONE_MM / (frame.dth * radius_mm)))
    asked = _means(wanted.depth_mm.astype(np.float32), step)
    cut = _means(np.minimum(made, most), step)
    live = (asked > 0) | (cut > 0)
    spread = [float(v[live].std()) if live.any() else 0.0 for v in (asked, cut)]
    if min(spread) <= 1e-6 * float(most) or not math.isfinite(sum(spread)):
        return None
    a, b = ((v[live] - v[live].mean()) / s for v, s in zip((asked, cut), spread, strict=True))
    return float((a * b).mean())


def _means(field: Radii, step: tuple[int, int]) -> Radii:
    """Means over blocks of cells; what is left over at the far edges counts by the cells it has."""
    sums, counts = field, np.ones(field.shape, np.float32)
    for axis, size in enumerate(step):
        first = np.arange(0, field.shape[axis], size)
        sums, counts = (np.add.reduceat(v, first, axis=axis) for v in (sums, counts))
    return sums / counts
