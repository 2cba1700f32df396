"""How high the tip runs over the skin, for the tool's whole form, anywhere on the way of every move.

Takes the skin, the tool and moves that go straight in (x, theta, r); gives `Heights`: for each move its least height
over the place where the tool would touch, and where that is. The touching height is a map on even cells round the whole
blank: the skin's radii, dilated by the form of the tool where a move first asks, read between cells bilinearly. Its
error is a few micrometres on gentle skins, inside GRACE_MM. Beyond an end of the blank the end's own radius goes on.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool
from engine.proof.form import Form4, form_of, reach, rise
from engine.proof.replay import Replay

__all__ = ["GRACE_MM", "NEAR_MM", "Cells", "Heights", "cell_at", "heights", "looked_coarsely"]

GRACE_MM = 0.02  # a hundredth of the usual clearance: the map's own error and the rounding of words
MAP_CELLS = 200_000  # a blank of 40 mm across and 100 mm long in cells of FINEST_MM, a larger one in coarser ones
FINEST_MM = 0.25  # the map's own error is then inside GRACE_MM on gentle skins
NEAR_MM = 0.02  # a tip this near to touching may cut within the map's error
MOST_SAMPLES = 20_000_000  # looks along the moves: 5 km of them at FINEST_MM, longer programs in longer steps
FAR = 1e9
BINS = 1440  # of the turn, for where the tip comes near the skin


class _Ways(NamedTuple):
    """The moves as they are looked along. start, end : (n, 3) x, theta, r. low : (n,) whether a move comes low enough.
    way_mm : (n,), looked at every `step_mm`.
    """

    start: Floats
    end: Floats
    low: Bools
    way_mm: Floats
    step_mm: float


class _Seen(NamedTuple):
    """What is found on the way. least_mm : (n,) least height of each move, at the `share` of it. near : (3,) least and
    greatest x at which the tip is near the skin, and how deep it sinks. bins : of the turn, where it is near.
    """

    least_mm: Floats
    share: Floats
    near: Floats
    bins: Bools


class Cells(NamedTuple):
    """Even cells over the blank: (nx, nt), cell (i, j) at x0 + i dx and j 2 pi / nt."""

    x0: float
    dx: float
    nx: int
    nt: int


class _Ground(NamedTuple):
    """What the tool may touch. radii : (nx + 2 pad, nt) of the skin. top : the greatest of them under the whole tool.

    lift : what a tip's flat adds in a cell. wide : how far beside the tip the tool can touch, mm.
    """

    radii: Floats
    top: Floats
    lift: Floats
    form: Form4
    wide: float
    pad: int
    is_round: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """For each of n moves the least height over touching, mm, and the share of the move at which it is met.

    near_x_mm, near_theta_rad : from and to which x, and at which angles (m,), the tip comes so near that it may cut.
    sunk_mm : how far the skin stands over the tip there at most, beside it under the whole tool too.
    coarse : moves were too many or too long to be looked at in full steps.
    """

    least_mm: Floats
    share: Floats
    near_x_mm: tuple[float, float]
    near_theta_rad: Floats
    sunk_mm: float
    coarse: bool

    def places(self, replay: Replay) -> Floats:
        """(n, 3) x, theta, r of each move's least height; 0 where the move's own place is not known."""
        at = replay.start + self.share[:, None] * (replay.end - replay.start)
        return np.where(replay.known[:, None], at, 0.0)

    @staticmethod
    def joined(parts: Sequence["Heights"]) -> "Heights":
        """Those of parts of a program that follow each other, one at least."""
        if len(parts) == 1:
            return parts[0]
        return Heights(
            least_mm=np.concatenate([part.least_mm for part in parts]),
            share=np.concatenate([part.share for part in parts]),
            near_x_mm=(min(part.near_x_mm[0] for part in parts), max(part.near_x_mm[1] for part in parts)),
            near_theta_rad=np.unique(np.concatenate([part.near_theta_rad for part in parts])),
            sunk_mm=max(part.sunk_mm for part in parts),
            coarse=any(part.coarse for part in parts),
        )


def heights(replay: Replay, skin: Skin, tool: Tool, *, enough_mm: float) -> Heights:
    """Look along every known move; those that stay `enough_mm` over all places of touching are left alone."""
    n = len(replay)
    x = replay.x_mm[np.isfinite(replay.x_mm)]
    ends = (float(x.min()), float(x.max())) if len(x) else skin.x_range_mm
    grid, ground = _over(skin, tool, *ends)
    greatest = float((ground.radii + ground.lift).max())  # no tip touches further out
    step = grid.dx
    way = np.hypot(replay.end[:, 0] - replay.start[:, 0], greatest * (replay.end[:, 1] - replay.start[:, 1])) + np.abs(
        replay.end[:, 2] - replay.start[:, 2]
    )
    low = replay.known & (np.minimum(replay.start[:, 2], replay.end[:, 2]) < greatest + enough_mm)
    samples = float(np.where(low, way, 0.0).sum() / step)
    coarse = samples > MOST_SAMPLES
    if coarse:
        step *= samples / MOST_SAMPLES
    ways = _Ways(replay.start, replay.end, low, way, step)
    asked = np.ones((grid.nx, 1), np.bool_)
    if not ground.is_round:  # of a round blank one column is the whole map
        asked = np.zeros((grid.nx, grid.nt), np.bool_)
        _mark(ways, grid, asked)
    touch = np.full(asked.shape, np.inf)
    _dilate(ground, grid, asked, touch)
    seen = _Seen(np.full(n, FAR), np.zeros(n), np.array([math.inf, -math.inf, 0.0]), np.zeros(BINS, np.bool_))
    top = ground.top[ground.pad : ground.pad + grid.nx, : touch.shape[1]]
    _look(ways, grid, touch, top, seen)
    from_mm, to_mm, sunk_mm = seen.near.tolist()
    return Heights(
        least_mm=seen.least_mm,
        share=seen.share,
        near_x_mm=(from_mm, to_mm),
        near_theta_rad=(np.flatnonzero(seen.bins).astype(np.float64) + 0.5) * (TURN_RAD / BINS),
        sunk_mm=sunk_mm,
        coarse=coarse,
    )


def looked_coarsely(coarse: bool) -> list[Finding]:
    """`looked-coarsely`, where it is so."""
    if not coarse:
        return []
    message = "the moves are so long that clearances were looked at in longer steps than usual"
    return [Finding(severity=Severity.NOTE, code="looked-coarsely", message=message)]


def _over(skin: Skin, tool: Tool, x_lo_mm: float, x_hi_mm: float) -> tuple[Cells, _Ground]:
    """The cells from x_lo to x_hi, round the whole blank, and what stands there."""
    form = form_of(tool)
    low, high = skin.x_range_mm
    x_lo, x_hi = max(x_lo_mm, low - tool.outer_mm), min(x_hi_mm, high + tool.outer_mm)
    x_lo = min(x_lo, high)
    x_hi = max(x_hi, low, x_lo + FINEST_MM)
    ring = skin.radius(np.linspace(x_lo, x_hi, 129)[:, None], np.linspace(0.0, TURN_RAD, 129)[None, :])
    around = TURN_RAD * float(ring.max())
    cell = max(FINEST_MM, math.sqrt((x_hi - x_lo + 2 * tool.outer_mm) * around / MAP_CELLS))
    nx = math.ceil((x_hi - x_lo) / cell) + 1
    dx = (x_hi - x_lo) / (nx - 1)
    nt = max(16, math.ceil(around / cell))
    pad = math.ceil(tool.outer_mm / dx)
    x: Floats = x_lo + dx * np.arange(-pad, nx + pad, dtype=np.float64)
    theta: Floats = (TURN_RAD / nt) * np.arange(nt, dtype=np.float64)
    if skin.is_round:
        radii = np.repeat(skin.radius(x[:, None], theta[None, :1]), nt, axis=1)
    else:
        radii = skin.radius(x[:, None], theta[None, :])
    top = maximum_filter(radii, size=2 * pad + 1, mode=("nearest", "wrap"))
    lift = np.zeros_like(radii)
    flat = min(tool.flat_mm, dx)
    if flat > 0:  # within a cell a tip's flat stands on the uphill side, where there is one
        uphill = maximum_filter(radii, size=3, mode=("nearest", "wrap")) - radii
        lift = np.minimum(flat * np.hypot(*_steepness(skin, x, theta, radii)), uphill)
    wide = reach(form, float((top - radii).max()) + 2 * FINEST_MM)
    return Cells(x_lo, dx, nx, nt), _Ground(radii, top, lift, form, wide, pad, skin.is_round)


def _steepness(skin: Skin, x: Floats, theta: Floats, radii: Floats) -> tuple[Floats, Floats]:
    along, around = skin.slopes(x[:, None], theta[None, :])
    return np.clip(along, -10.0, 10.0), np.clip(around / np.maximum(radii, 1e-6), -10.0, 10.0)


@compiled
def _dilate(ground: _Ground, cells: Cells, asked: Bools, out: Floats) -> None:
    """Fill `out`, where asked, with the tip's radius at which the tool touches."""
    radii, _, lift, form, wide, pad, _ = ground
    turned = TURN_RAD / cells.nt * np.arange(cells.nt // 4 + 1)
    sine, cosine = np.sin(turned), np.cos(turned)
    rows = min(pad, math.ceil(wide / cells.dx))
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            if not asked[i, j]:
                continue
            best = radii[i + pad, j] + lift[i + pad, j]
            for di in range(-rows, rows + 1):
                if abs(di * cells.dx) <= wide:
                    best = _highest_in(radii[i + pad + di], j, di * cells.dx, wide, form, sine, cosine, best)
            out[i, j] = best


@compiled
def _highest_in(
    row: Floats, j: int, along: float, wide: float, form: Form4, sine: Floats, cosine: Floats, best: float
) -> float:
    """The greatest of `best` and what one row of radii, `along` mm beside column j, asks of the tip's radius."""
    nt = row.size
    for side in (1, -1):
        c = j
        for k in range(sine.size):
            r = row[c]
            height = r * cosine[k]
            across = r * sine[k]
            if across > wide:
                break
            if height > best:
                away = math.sqrt(along * along + across * across)
                if away <= form[3]:
                    best = max(best, height - rise(form, away))
            c += side
            if c < 0:
                c += nt
            elif c >= nt:
                c -= nt
    return best


@compiled
def cell_at(cells: Cells, x: float, th: float) -> tuple[int, int, float, float]:
    """Cell (i, j) at or before a place, and the place's shares of the way to i + 1 and to j + 1."""
    gx = min(max((x - cells.x0) / cells.dx, 0.0), cells.nx - 1.0)
    i = min(int(gx), cells.nx - 2)
    gt = th * (cells.nt / TURN_RAD)
    whole = math.floor(gt)
    return i, int(whole) % cells.nt, gx - i, gt - whole


@compiled
def _mark(ways: _Ways, cells: Cells, asked: Bools) -> None:
    """Mark the cells that `_look` reads."""
    start, end, low, way, step = ways
    columns = asked.shape[1]
    for k in range(len(low)):
        if not low[k]:
            continue
        n = max(1, math.ceil(way[k] / step))
        for p in range(n + 1):
            x = start[k, 0] + p / n * (end[k, 0] - start[k, 0])
            i, j, _, _ = cell_at(cells, x, start[k, 1] + p / n * (end[k, 1] - start[k, 1]))
            j %= columns
            q = j + 1 if j + 1 < columns else 0
            asked[i, j] = asked[i, q] = asked[i + 1, j] = asked[i + 1, q] = True


@compiled
def _look(ways: _Ways, cells: Cells, touch: Floats, top: Floats, seen: _Seen) -> None:
    """Fill `seen`. touch, top : (nx, columns) of each cell, the tip's radius at which the tool touches and the skin's
    greatest one.
    """
    start, end, low, way, step = ways
    columns = touch.shape[1]
    for k in range(len(low)):
        if not low[k]:
            continue
        n = max(1, math.ceil(way[k] / step))
        for p in range(n + 1):
            t = p / n
            x = start[k, 0] + t * (end[k, 0] - start[k, 0])
            th = start[k, 1] + t * (end[k, 1] - start[k, 1])
            i, j, u, v = cell_at(cells, x, th)
            j %= columns
            q = j + 1 if j + 1 < columns else 0
            at = (1 - u) * ((1 - v) * touch[i, j] + v * touch[i, q])
            at += u * ((1 - v) * touch[i + 1, j] + v * touch[i + 1, q])
            r = start[k, 2] + t * (end[k, 2] - start[k, 2])
            gap = r - at
            if gap < seen.least_mm[k]:
                seen.least_mm[k] = gap
                seen.share[k] = t
            if gap < NEAR_MM:
                seen.near[0] = min(seen.near[0], x)
                seen.near[1] = max(seen.near[1], x)
                seen.near[2] = max(seen.near[2], max(top[i, j], top[i, q], top[i + 1, j], top[i + 1, q]) - r)
                turned = th / TURN_RAD
                seen.bins[int((turned - math.floor(turned)) * BINS) % BINS] = True
