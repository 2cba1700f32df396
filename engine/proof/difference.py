"""Where the carving is not what was asked, as a picture's worth of cells, and how well light and dark agree.

Takes `Wanted` and what was carved, both looked at in the middles of the wanted field's cells, in one pass.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.values import Ask, Wanted
from engine.proof.allowed import field_frame
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.fidelity import CUT_MM, CUT_SHARE

__all__ = ["Difference", "Match", "difference"]

TONE_MM = 1.0  # what an eye takes together from 2 m away, a minute and a half of arc: common practice


class Match(IntEnum):
    """What a cell shows: nothing asked and nothing cut, art opened, art left, cut and not asked; not how deep."""

    BARE = 0
    MADE = 1
    LEFT = 2
    BESIDE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """On the wanted field's cells, (nx, nt): made_mm the depth carved, 0 where nothing was looked at; match `Match`.

    tone : correlation of the mean depths asked and made over squares of TONE_MM, no deeper counted than asked anywhere;
    None where the art or the carving is the same in every square.
    """

    made_mm: Radii
    match: Bytes8
    tone: float | None


def difference(wanted: Wanted, carved: Carved, radius_mm: float) -> Difference:
    """The carving beside what was asked. radius_mm : of the blank, in the middle of the field."""
    frame = field_frame(wanted)
    nx, nt = carved.depth_mm.shape
    rows = np.array([row_of(carved.frame, nx, x) for x in wanted.x_mm.tolist()], np.int64)
    columns = np.array([column_of(carved.frame, nt, theta) for theta in wanted.theta_rad.tolist()], np.int64)
    step = max(1, round(TONE_MM / frame.dx)), max(1, round(TONE_MM / (frame.dth * radius_mm)))
    shape = wanted.depth_mm.shape
    made: Radii = np.zeros(shape, np.float32)
    match = np.zeros(shape, np.uint8)
    sums = np.zeros((3, -(-shape[0] // step[0]), -(-shape[1] // step[1])))
    most = float(wanted.depth_mm.max(initial=0.0))
    _compare(np.ascontiguousarray(wanted.depth_mm), rows, columns, carved.depth_mm, most, step, made, match, sums)
    # Between the lines of a tone, and beside the middle of a shape, the skin is left as it was asked.
    match[(match == LEFT) & (wanted.asked(Ask.TONE) | wanted.asked(Ask.ALLOWED))] = Match.BARE
    return Difference(made_mm=made, match=match, tone=_agreement(sums[0] / sums[2], sums[1] / sums[2], most))


def _agreement(asked: Floats, cut: Floats, most: float) -> float | None:
    live = (asked > 0) | (cut > 0)
    spread = [float(v[live].std()) if live.any() else 0.0 for v in (asked, cut)]
    if min(spread) <= 1e-6 * most:
        return None
    a, b = ((v[live] - v[live].mean()) / s for v, s in zip((asked, cut), spread, strict=True))
    return float((a * b).mean())


MADE, LEFT, BESIDE = (int(kind) for kind in (Match.MADE, Match.LEFT, Match.BESIDE))  # as compiled loops want them


@compiled
def _compare(
    asked: Floats,
    rows: Ints,
    columns: Ints,
    depth: Radii,
    most: float,
    step: tuple[int, int],
    made: Radii,
    match: Bytes8,
    sums: Floats,
) -> None:
    """Fill made and match; add asked, made (at most `most`) and 1 to each cell's square in sums (3, ...)."""
    for i in range(asked.shape[0]):
        a = i // step[0]
        for j in range(asked.shape[1]):
            cut = np.float32(0.0)
            if rows[i] >= 0 and columns[j] >= 0:
                cut = depth[rows[i], columns[j]]
                made[i, j] = cut
            if asked[i, j] > 0:
                match[i, j] = MADE if cut > min(CUT_MM, CUT_SHARE * asked[i, j]) else LEFT
            elif cut > CUT_MM:
                match[i, j] = BESIDE
            b = j // step[1]
            sums[0, a, b] += asked[i, j]
            sums[1, a, b] += min(cut, most)
            sums[2, a, b] += 1.0
