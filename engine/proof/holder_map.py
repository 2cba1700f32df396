"""How high what stands above the cutting part runs over skin and hardware, anywhere on the way of every move.

Takes a stack of cylinders over the tip (radius, height of the lower face, and by how much each is grown all round), the
skin, hardware whose reach is known, and moves that go straight in (x, theta, r); gives for each move its least height
over the place where the stack would touch. The map has cells of 0.4 mm; of a blank that is round, one column of 0.1 mm.
It is made only where a move is so low that its cell's row could touch at all. Every cylinder is taken as wider than it
is, by half a cell's diagonal between the tip and where it is looked at, as much from there to the nodes about it, and a
whole one between an edge and the node behind it: no edge is missed. The moves that seem to touch are looked at again
with cells of half and a quarter, as far as the map does not grow too large. Beyond an end of the blank nothing stands.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.kernel.values import KeepOut
from engine.proof.clearance import Cells, cell_at
from engine.proof.replay import Replay

__all__ = ["FAR", "Gaps", "Met", "Stack", "gaps", "met"]

FAR = 1e9
CELL_MM, ROUND_CELL_MM = 0.4, 0.1
DIAGONALS = 2.0  # of a cell, by which a cylinder is taken as wider
CELL_PARTS = (1.0, 0.5, 0.25)
MAP_CELLS = 400_000  # 3.2 MB of radii; a larger blank is looked at in coarser cells
MOST_LOOKS = 100_000_000  # a cell looks at all within the stack's reach, where nothing rules a row out
MOST_SAMPLES = 4_000_000  # looks along the moves; longer programs in longer steps
OF_INTEREST_MM = 0.5  # a move this much higher than touching is told apart no further
SLACK_MM = 0.5  # the greatest radius is a sampled one


class Stack(NamedTuple):
    """k cylinders: (k,) radius, height of the lower face over the tip, and how much each is grown, all in mm."""

    radius: Floats
    height: Floats
    grown: Floats

    def only(self, which: Bools) -> "Stack":
        """Some of the cylinders."""
        return Stack(self.radius[which], self.height[which], self.grown[which])

    def wider(self, by_mm: float) -> "Stack":
        """Each cylinder wider; a line over the tip (radius 0) has no edge and stays one."""
        return self._replace(radius=np.where(self.radius > 0, self.radius + by_mm, 0.0))


class Gaps(NamedTuple):
    """Of n moves the least height over touching, FAR where it is of no interest, and at which share of the move.

    coarse : the moves were too many or too long to be looked at in steps of a cell.
    """

    least_mm: Floats
    share: Floats
    coarse: bool


class _Ground(NamedTuple):
    """What may be touched. radii : (nx + 2 pad, nt), cell (i, j) at x0 + (i - pad) dx and j 2 pi / nt. wider : mm
    by which a cylinder is taken as wider.
    """

    x0: float
    dx: float
    nx: int
    nt: int
    pad: int
    wider: float
    radii: Floats


class Met(NamedTuple):
    """Which cylinder of the stack is nearest to touching, how near, and the x of what it would touch."""

    which: int
    gap_mm: float
    x_mm: float


def gaps(
    replay: Replay, chosen: Bools, skin: Skin, keep_out: Sequence[KeepOut], stack: Stack, *, greatest_r_mm: float
) -> Gaps:
    """How high the stack runs over touching on each chosen move.

    greatest_r_mm : of the skin; hardware without a reach is left out.
    """
    least, share, coarse = np.full(len(replay), FAR), np.zeros(len(replay)), False
    again = chosen & replay.known
    for part in CELL_PARTS:
        seen = _gaps(replay, again, skin, keep_out, stack, greatest_r_mm, part)
        least[again], share[again], coarse = seen.least_mm[again], seen.share[again], coarse or seen.coarse
        again = least < 0
        if not again.any():
            break
    return Gaps(least, share, coarse)


def _gaps(
    replay: Replay,
    chosen: Bools,
    skin: Skin,
    keep_out: Sequence[KeepOut],
    stack: Stack,
    greatest_r_mm: float,
    part: float,
) -> Gaps:
    """`gaps` on cells of a part of the usual size."""
    least, share = np.full(len(replay), FAR), np.zeros(len(replay))
    solid = [stretch for stretch in keep_out if stretch.radius_mm is not None]
    greatest = max([greatest_r_mm, *[stretch.radius_mm or 0.0 for stretch in solid]]) + SLACK_MM
    tip = np.minimum(replay.start[:, 2], replay.end[:, 2])
    may = greatest - stack.height + stack.grown > tip[chosen].min(initial=FAR)
    if not may.any():
        return Gaps(least, share, coarse=False)
    stack = stack.only(may)
    chosen = chosen & (tip < greatest + float((stack.grown - stack.height).max()))
    moves = np.flatnonzero(chosen)
    start, end = replay.start[moves], replay.end[moves]
    ground = _ground(skin, solid, stack, _span(start, end), greatest, part)
    way = np.abs(end[:, 0] - start[:, 0])
    if ground.nt > 1:
        way = np.hypot(way, greatest * (end[:, 1] - start[:, 1]))
    stack = stack.wider(ground.wider)
    step = max(ground.dx, float(way.sum()) / MOST_SAMPLES)
    low = np.full((ground.nx, ground.nt), np.inf)
    _mark(start, end, way, step, ground, low)
    need = np.full(low.shape, -FAR)
    _dilate(ground, stack, _most_in_rows(ground), low, need)
    near, at = np.full(len(moves), FAR), np.zeros(len(moves))
    _look(start, end, way, step, ground, need, near, at)
    least[moves], share[moves] = near, at
    return Gaps(least, share, coarse=step > ground.dx)


def met(place: Floats, skin: Skin, keep_out: Sequence[KeepOut], stack: Stack, *, greatest_r_mm: float) -> Met:
    """What comes nearest with the tip at one place (3,) x, theta, r."""
    solid = [stretch for stretch in keep_out if stretch.radius_mm is not None]
    x, theta, r = place.tolist()
    ground = _ground(skin, solid, stack, (x, x), greatest_r_mm, CELL_PARTS[-1])
    rows = ground.x0 + ground.dx * (np.arange(len(ground.radii)) - ground.pad)
    turned = np.arange(ground.nt) * (TURN_RAD / ground.nt) - theta if ground.nt > 1 else np.zeros(1)
    height = ground.radii * np.cos(turned)
    away = np.hypot((rows - x)[:, None], ground.radii * np.sin(turned))
    away = np.where(height > 0, away, np.inf)
    best = Met(0, math.inf, x)
    for k, (radius, lower, grown) in enumerate(zip(*stack, strict=True)):
        # The cylinder over the tip itself is met in the tip's own cell.
        over = np.maximum(away - max(radius + (ground.wider if radius > 0 else 0.0), 0.75 * ground.dx), 0.0)
        sunk = np.sqrt(np.maximum(grown * grown - over * over, 0.0))
        gap = np.where(over <= grown, r + lower - sunk - height, np.inf)
        i = int(gap.min(axis=1).argmin())
        if gap[i].min() < best.gap_mm:
            best = Met(k, float(gap[i].min()), float(rows[i]))
    return best


def _span(start: Floats, end: Floats) -> tuple[float, float]:
    x = np.concatenate([start[:, 0], end[:, 0]])
    return float(x.min()), float(x.max())


def _ground(
    skin: Skin, solid: Sequence[KeepOut], stack: Stack, x_mm: tuple[float, float], greatest: float, part: float
) -> _Ground:
    """The cells that moves from x to x pass, and the radii as far beside them as the stack reaches."""
    reach = float((stack.radius + stack.grown).max())
    low, high = skin.x_range_mm
    cell = part * (ROUND_CELL_MM if skin.is_round else CELL_MM)
    first = min([low, *[stretch.from_mm for stretch in solid]]) - reach - cell
    last = max([high, *[stretch.to_mm for stretch in solid]]) + reach + cell
    x_lo, x_hi = max(x_mm[0], first), min(x_mm[1], last)
    x_lo, x_hi = min(x_lo, last), max(x_hi, first)
    span = max(x_hi - x_lo, cell)
    around = TURN_RAD * greatest
    if skin.is_round:
        cell = max(cell, (span + 2 * reach) / MAP_CELLS, math.sqrt(span * 2 * reach / MOST_LOOKS))
    else:
        looks = span * around * min(math.pi * reach * reach, (span + 2 * reach) * around)
        cell = max(cell, math.sqrt((span + 2 * reach) * around / MAP_CELLS), (looks / MOST_LOOKS) ** 0.25)
    nx = math.ceil(span / cell) + 1
    dx = span / (nx - 1)
    nt = 1 if skin.is_round else max(16, math.ceil(around / cell))
    wider = DIAGONALS * (dx if skin.is_round else math.hypot(dx, around / nt))
    pad = math.ceil((reach + wider) / dx)
    x: Floats = x_lo + dx * np.arange(-pad, nx + pad, dtype=np.float64)
    theta: Floats = (TURN_RAD / nt) * np.arange(nt, dtype=np.float64)
    radii = np.zeros((len(x), nt))
    on = (x > low - 0.5 * dx) & (x < high + 0.5 * dx)
    radii[on] = skin.radius(np.clip(x[on], low, high)[:, None], theta[None, :])
    for stretch in solid:
        rows = (x > stretch.from_mm - 0.5 * dx) & (x < stretch.to_mm + 0.5 * dx)
        radii[rows] = np.maximum(radii[rows], stretch.radius_mm or 0.0)
    return _Ground(x_lo, dx, nx, nt, pad, wider, radii)


def _most_in_rows(ground: _Ground) -> Floats:
    """(nx + 2 pad, 2) least and greatest radius of each row."""
    return np.stack([ground.radii.min(axis=1), ground.radii.max(axis=1)], axis=1)


@compiled
def _under(stack: Stack, away: float) -> float:
    """Height over the tip of the stack's lower side at a lateral distance; inf beside it."""
    radius, height, grown = stack
    best = math.inf
    for k in range(radius.size):
        over = away - radius[k]
        if over <= 0.0:
            best = min(best, height[k] - grown[k])
        elif over < grown[k]:
            best = min(best, height[k] - math.sqrt(grown[k] * grown[k] - over * over))
    return best


@compiled
def _dilate(ground: _Ground, stack: Stack, rows: Floats, low: Floats, need: Floats) -> None:
    """Fill `need`, where moves pass, with the tip's radius at which the stack touches, or with one of no interest."""
    _, dx, _, nt, pad, _, radii = ground
    turned = TURN_RAD / nt * np.arange(nt // 4 + 1)
    sine, cosine = np.sin(turned), np.cos(turned)
    under = np.zeros(2 * pad + 1)
    for di in range(-pad, pad + 1):
        under[di + pad] = _under(stack, abs(di) * dx)
    reach = (stack.radius + stack.grown).max()
    for i in range(low.shape[0]):
        for j in range(nt):
            if low[i, j] == math.inf:
                continue
            best = low[i, j] - OF_INTEREST_MM
            for di in range(-pad, pad + 1):
                row = i + pad + di
                if rows[row, 1] - under[di + pad] <= best:
                    continue  # the highest of this row does not touch
                best = _highest_in(radii[row], j, di * dx, reach, rows[row, 0], stack, sine, cosine, best)
            need[i, j] = best


@compiled
def _highest_in(
    row: Floats,
    j: int,
    along: float,
    reach: float,
    thinnest: float,
    stack: Stack,
    sine: Floats,
    cosine: Floats,
    best: float,
) -> float:
    """The greatest of `best` and what one row of radii, `along` mm beside column j, asks of the tip's radius."""
    nt = row.size
    for k in range(sine.size):
        if thinnest * sine[k] > reach:
            break
        for side in (-1, 1):
            r = row[(j + side * k) % nt]
            height = r * cosine[k]
            if height > best:
                across = r * sine[k]
                away = math.sqrt(along * along + across * across)
                if away <= reach:
                    best = max(best, height - _under(stack, away))
    return best


@compiled
def _mark(start: Floats, end: Floats, way: Floats, step: float, ground: _Ground, low: Floats) -> None:
    """Put the least radius of the tip into the cells that `_look` reads."""
    cells = Cells(ground.x0, ground.dx, ground.nx, ground.nt)
    for k in range(len(way)):
        n = max(1, math.ceil(way[k] / step))
        for p in range(n + 1):
            t = p / n
            x = start[k, 0] + t * (end[k, 0] - start[k, 0])
            i, j, _, _ = cell_at(cells, x, start[k, 1] + t * (end[k, 1] - start[k, 1]))
            q = j + 1 if j + 1 < ground.nt else 0
            r = start[k, 2] + t * (end[k, 2] - start[k, 2])
            for a in (i, i + 1):
                low[a, j] = min(low[a, j], r)
                low[a, q] = min(low[a, q], r)


@compiled
def _look(
    start: Floats, end: Floats, way: Floats, step: float, ground: _Ground, need: Floats, least: Floats, share: Floats
) -> None:
    cells = Cells(ground.x0, ground.dx, ground.nx, ground.nt)
    for k in range(len(way)):
        n = max(1, math.ceil(way[k] / step))
        for p in range(n + 1):
            t = p / n
            x = start[k, 0] + t * (end[k, 0] - start[k, 0])
            i, j, u, v = cell_at(cells, x, start[k, 1] + t * (end[k, 1] - start[k, 1]))
            q = j + 1 if j + 1 < ground.nt else 0
            at = (1 - u) * ((1 - v) * need[i, j] + v * need[i, q])
            at += u * ((1 - v) * need[i + 1, j] + v * need[i + 1, q])
            gap = start[k, 2] + t * (end[k, 2] - start[k, 2]) - at
            if gap < least[k]:
                least[k] = gap
                share[k] = t
