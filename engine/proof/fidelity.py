"""How well the carved blank matches the wanted field: what was cut that was not wanted, what was wanted and is not cut.

Takes the carved depths, `Wanted` and what is allowed where; gives shares of area on the skin, and where the carving is
deeper than allowed.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.blank import Frame as SkinFrame
from engine.blank import Sampled, spline_at
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.values import Wanted
from engine.proof.allowed import GRACE_MM, Allowed, field_frame, slack_mm
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import Frame
from engine.proof.carve_rows import Radii

__all__ = ["Fidelity", "Overcut", "compare", "overcut"]

CUT_MM = 0.005  # shallower is a scratch: five times the tolerance that strokes keep
CUT_SHARE = 0.1  # of the asked depth: the art is cut where the groove's own opening lies, not only its middle
HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fidelity:
    """Shares of area on the skin.

    cut_on_art : of what is cut (deeper than CUT_MM), the part within GRACE_MM of wanted art. art_cut : of the wanted
    art, the part that is opened (deeper than CUT_SHARE of what was asked there). art_half : deeper than half of it.
    """

    cut_on_art: float
    art_cut: float
    art_half: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Overcut:
    """Cells cut deeper than allowed: how many, and the worst: its place, depth and what was allowed."""

    cells: int
    x_mm: float
    theta_rad: float
    depth_mm: float
    allowed_mm: float


def compare(carved: Carved, wanted: Wanted, may: Allowed, skin: Sampled) -> Fidelity:
    """The three shares; 1 where there is nothing to have a share of."""
    sums = np.zeros(5)
    frame = field_frame(wanted)
    slack = slack_mm(frame, float(skin.radius(wanted.x_mm, wanted.theta_rad[:1]).max()))
    place = (skin.coefficients, skin.frame)
    _cut_area(*place, carved.frame, carved.depth_mm, may.frame, may.away_mm, GRACE_MM + slack, sums)
    asked = np.ascontiguousarray(wanted.depth_mm)
    _art_area(*place, frame, asked, carved.frame, carved.depth_mm, sums)
    on, cut, opened, half, art = sums
    return Fidelity(
        cut_on_art=float(on / cut) if cut > 0 else 1.0,
        art_cut=float(opened / art) if art > 0 else 1.0,
        art_half=float(half / art) if art > 0 else 1.0,
    )


def overcut(carved: Carved, may: Allowed, *, grace_mm: float) -> Overcut | None:
    """Where the carving is deeper than allowed by more than `grace_mm`; None where nowhere."""
    found = np.zeros(4)
    count = _overcut(carved.frame, carved.depth_mm, may.frame, may.depth_mm, grace_mm, found)
    if not count:
        return None
    i, j = int(found[0]), int(found[1])
    return Overcut(
        cells=int(count),
        x_mm=float(carved.x_mm[i]),
        theta_rad=float(carved.theta_rad[j]),
        depth_mm=float(found[2]),
        allowed_mm=float(found[3]),
    )


@compiled
def _area(C: Floats, skin: SkinFrame, x: float, th: float) -> float:
    """Area on the skin for a unit of dx dtheta: sqrt(E G - F2)."""
    r, rx, rt = spline_at(C, skin, x, th)
    return math.sqrt(r * r * (1 + rx * rx) + rt * rt)


@compiled
def _column(frame: Frame, nt: int, th: float) -> int:
    """The cell that holds an angle, -1 beside the field."""
    turned = (th - frame.th0 + 0.5 * frame.dth) / (2.0 * math.pi)
    j = int((turned - math.floor(turned)) * 2.0 * math.pi / frame.dth)
    if frame.whole:
        return j % nt
    return j if j < nt else -1


@compiled
def _row(frame: Frame, nx: int, x: float) -> int:
    """The cell that holds a station, -1 beside the field."""
    i = math.floor((x - frame.x0) / frame.dx + 0.5)
    return i if 0 <= i < nx else -1


@compiled
def _cut_area(
    C: Floats,
    skin: SkinFrame,
    cells: Frame,
    depth: Radii,
    art: Frame,
    away: Radii,
    grace: float,
    sums: Floats,
) -> None:
    cell = cells.dx * cells.dth
    for i in range(depth.shape[0]):
        x = cells.x0 + i * cells.dx
        a = _row(art, away.shape[0], x)
        for j in range(depth.shape[1]):
            if depth[i, j] <= CUT_MM:
                continue
            th = cells.th0 + j * cells.dth
            area = _area(C, skin, x, th) * cell
            sums[1] += area
            b = _column(art, away.shape[1], th)
            if a >= 0 and b >= 0 and away[a, b] <= grace:
                sums[0] += area


@compiled
def _art_area(C: Floats, skin: SkinFrame, art: Frame, asked: Floats, cells: Frame, depth: Radii, sums: Floats) -> None:
    cell = art.dx * art.dth
    for i in range(asked.shape[0]):
        x = art.x0 + i * art.dx
        a = _row(cells, depth.shape[0], x)
        for j in range(asked.shape[1]):
            if asked[i, j] <= 0:
                continue
            th = art.th0 + j * art.dth
            area = _area(C, skin, x, th) * cell
            sums[4] += area
            b = _column(cells, depth.shape[1], th)
            if a >= 0 and b >= 0:
                if depth[a, b] > CUT_SHARE * asked[i, j]:
                    sums[2] += area
                if depth[a, b] > HALF * asked[i, j]:
                    sums[3] += area


@compiled
def _overcut(cells: Frame, depth: Radii, art: Frame, may: Radii, grace: float, found: Floats) -> int:
    count = 0
    worst = 0.0
    for i in range(depth.shape[0]):
        a = _row(art, may.shape[0], cells.x0 + i * cells.dx)
        for j in range(depth.shape[1]):
            if depth[i, j] <= grace:
                continue
            b = _column(art, may.shape[1], cells.th0 + j * cells.dth)
            top = may[a, b] if a >= 0 and b >= 0 else np.float32(0.0)
            over = depth[i, j] - top
            if over > grace:
                count += 1
                if over > worst:
                    worst = over
                    found[0] = i
                    found[1] = j
                    found[2] = depth[i, j]
                    found[3] = top
    return count
