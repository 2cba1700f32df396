"""How well the carved blank matches the wanted field: what was cut that was not wanted, what was wanted and is not cut.

Takes the carved depths, `Wanted` and what is allowed where; gives shares of area on the skin, and where the carving is
deeper than allowed.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.blank import Sampled, metric
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.values import Ask, Wanted
from engine.proof.allowed import GRACE_MM, Allowed, field_frame, slack_mm
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import Frame, column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.tone import Toned

__all__ = ["Fidelity", "Overcut", "compare", "overcut"]

CUT_MM = 0.005  # shallower is a scratch: five times the tolerance that strokes keep
CUT_SHARE = 0.1  # of the asked depth, where that is less
HALF = 0.5
STRIDE = 8  # cells that share one figure of area: the skin bends far less between them than that shows


@dataclass(frozen=True, slots=True, kw_only=True)
class Fidelity:
    """Shares of area on the skin.

    cut_on_art : of what is cut (deeper than CUT_MM, or CUT_SHARE of the greatest depth asked where that is less), the
    part within GRACE_MM of wanted art. art_cut : of the wanted
    art, the part that is opened: as deep as that, or CUT_SHARE of what was asked. art_half : deeper than half of it.
    A cell of the wanted field counts by the deepest of the carved ones in it: it is no finer than itself.
    """

    cut_on_art: float
    art_cut: float
    art_half: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overcut:
    """Cells cut deeper than allowed, (n,) of each: where, how deep, and what was allowed there."""

    x_mm: Floats
    theta_rad: Floats
    depth_mm: Floats
    allowed_mm: Floats

    def __len__(self) -> int:
        return len(self.x_mm)

    @property
    def worst(self) -> int:
        """The cell furthest below what was allowed, the first of equals."""
        return int((self.depth_mm - self.allowed_mm).argmax())

    def only(self, which: Bools) -> "Overcut":
        """Those of the cells that `which` (n,) marks."""
        columns = (self.x_mm, self.theta_rad, self.depth_mm, self.allowed_mm)
        x, theta, depth, top = (column[which] for column in columns)
        return Overcut(x_mm=x, theta_rad=theta, depth_mm=depth, allowed_mm=top)


def compare(carved: Carved, wanted: Wanted, may: Allowed, skin: Sampled, tone: Toned | None = None) -> Fidelity:
    """The three shares; 1 where there is nothing to have a share of, but 0 on art of which nothing is cut.

    tone : the squares of art that is asked by light and dark: what they open of what they should counts as cut.
    """
    sums = np.zeros(5)
    depth, asked = carved.depth_mm, np.ascontiguousarray(wanted.depth_mm)
    frame = field_frame(wanted)
    slack = slack_mm(frame, float(skin.radius(wanted.x_mm, wanted.theta_rad[:1]).max()))
    areas = _areas(skin, carved.frame, depth.shape)
    cut = min(CUT_MM, CUT_SHARE * float(asked.max(initial=0.0)) or CUT_MM)
    _cut_area(areas, carved.frame, depth, cut, may.frame, may.away_mm, GRACE_MM + slack, sums)
    by_depth = np.where(wanted.asked(Ask.TONE) | wanted.asked(Ask.ALLOWED), 0.0, asked)
    _art_area(_areas(skin, frame, asked.shape), frame, by_depth, carved.frame, depth, sums)
    on, whole, opened, half, art = sums
    if tone is not None:
        opened, half, art = opened + tone.met_mm2, half + tone.met_mm2, art + tone.asked_mm2
    return Fidelity(
        cut_on_art=float(on / whole) if whole > 0 else float(art == 0),
        art_cut=float(opened / art) if art > 0 else 1.0,
        art_half=float(half / art) if art > 0 else 1.0,
    )


def overcut(carved: Carved, may: Allowed, *, grace_mm: float) -> Overcut:
    """Where the carving is deeper than allowed by more than `grace_mm`; empty where nowhere."""
    bad = np.zeros(carved.depth_mm.shape, np.bool_)
    _overcut(carved.frame, carved.depth_mm, may.frame, may.depth_mm, grace_mm, bad)
    i, j = np.nonzero(bad)
    x, theta = carved.x_mm[i], carved.theta_rad[j]
    return Overcut(
        x_mm=x, theta_rad=theta, depth_mm=carved.depth_mm[i, j].astype(np.float64), allowed_mm=may.at(x, theta)
    )


def _areas(skin: Sampled, frame: Frame, shape: tuple[int, int]) -> Floats:
    """Area on the skin of the cells about every STRIDE-th one: sqrt(E G - F2) dx dtheta."""
    x: Floats = frame.x0 + frame.dx * STRIDE * np.arange(shape[0] // STRIDE + 1, dtype=np.float64)[:, None]
    theta: Floats = frame.th0 + frame.dth * STRIDE * np.arange(shape[1] // STRIDE + 1, dtype=np.float64)[None, :]
    e, f, g = metric(skin.radius(x, theta), *skin.slopes(x, theta))
    return np.sqrt(e * g - f * f) * (frame.dx * frame.dth)


@compiled
def _cut_area(
    areas: Floats,
    cells: Frame,
    depth: Radii,
    least: float,
    art: Frame,
    away: Radii,
    grace: float,
    sums: Floats,
) -> None:
    for i in range(depth.shape[0]):
        x = cells.x0 + i * cells.dx
        a = row_of(art, away.shape[0], x)
        for j in range(depth.shape[1]):
            if depth[i, j] <= least:
                continue
            th = cells.th0 + j * cells.dth
            area = areas[i // STRIDE, j // STRIDE]
            sums[1] += area
            b = column_of(art, away.shape[1], th)
            if a >= 0 and b >= 0 and away[a, b] <= grace:
                sums[0] += area


@compiled
def _art_area(areas: Floats, art: Frame, asked: Floats, cells: Frame, depth: Radii, sums: Floats) -> None:
    for i in range(asked.shape[0]):
        x = art.x0 + i * art.dx
        for j in range(asked.shape[1]):
            if asked[i, j] <= 0:
                continue
            th = art.th0 + j * art.dth
            area = areas[i // STRIDE, j // STRIDE]
            sums[4] += area
            made = _deepest(cells, depth, art, x, th)
            if made > min(CUT_MM, CUT_SHARE * asked[i, j]):
                sums[2] += area
            if made > HALF * asked[i, j]:
                sums[3] += area


@compiled
def _deepest(cells: Frame, depth: Radii, art: Frame, x: float, th: float) -> float:
    """The greatest depth in a cell of the wanted field: at its middle, its corners, and each carved cell between."""
    nx, nt = depth.shape
    along, around = max(2, math.ceil(art.dx / cells.dx)), max(2, math.ceil(art.dth / cells.dth))
    along, around = along + along % 2, around + around % 2
    most = 0.0
    for p in range(along + 1):
        a = row_of(cells, nx, x + (p / along - 0.5) * art.dx)
        if a < 0:
            continue
        for q in range(around + 1):
            b = column_of(cells, nt, th + (q / around - 0.5) * art.dth)
            if b >= 0:
                most = max(most, depth[a, b])
    return most


@compiled
def _overcut(cells: Frame, depth: Radii, art: Frame, may: Radii, grace: float, bad: Bools) -> None:
    for i in range(depth.shape[0]):
        a = row_of(art, may.shape[0], cells.x0 + i * cells.dx)
        for j in range(depth.shape[1]):
            if depth[i, j] <= grace:
                continue
            b = column_of(art, may.shape[1], cells.th0 + j * cells.dth)
            top = may[a, b] if a >= 0 and b >= 0 else np.float32(0.0)
            bad[i, j] = depth[i, j] - top > grace
