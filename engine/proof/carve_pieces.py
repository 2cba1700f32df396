"""A program's moves cut into pieces short enough to sweep, each with its reach and the rows of cells it can touch.

A piece turns at most 0.12 rad, is at most 1.5 mm long and climbs at most 0.25 mm, so that one unrolling radius fits.
A coarse map of the greatest radii tells which pieces are in the air: they are dropped, so that travel costs nothing.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import offsets_of
from engine.kernel.units import TURN_RAD
from engine.proof.carve_rows import Radii
from engine.proof.form import Form4, reach

__all__ = ["Frame", "Pieces", "coarse_map", "column_of", "cut_in_pieces", "pieces_of", "row_of"]

BLOCK = 16  # cells per side of a block of the coarse map
MANY_BLOCKS = 512  # of a wide tool's box: the greatest of the whole map stands for it, which is no less
_ROUNDS = 3  # of narrowing a piece's reach


class Frame(NamedTuple):
    """Of a field of cells: cell (i, j) is the ray at x0 + i dx, th0 + j dth; whole: the columns go once round."""

    x0: float
    dx: float
    th0: float
    dth: float
    whole: bool


class Pieces(NamedTuple):
    """seg : (n, 6) x, theta, r from and to; reach_mm : (n,); rows : (n, 2) first and last row, none where first > last;
    move : (n,) index of the move that each is a part of.
    """

    seg: Floats
    reach_mm: Floats
    rows: NDArray[np.int32]
    move: Ints


@compiled
def column_of(frame: Frame, nt: int, th: float) -> int:
    """The cell that holds an angle, -1 beside the field."""
    turned = (th - frame.th0 + 0.5 * frame.dth) / TURN_RAD
    j = int((turned - math.floor(turned)) * TURN_RAD / frame.dth)
    if frame.whole:
        return j % nt
    return j if j < nt else -1


@compiled
def row_of(frame: Frame, nx: int, x: float) -> int:
    """The cell that holds a station, -1 beside the field."""
    i = math.floor((x - frame.x0) / frame.dx + 0.5)
    return i if 0 <= i < nx else -1


def coarse_map(radii: Radii) -> Radii:
    """Greatest radius of each block of cells, one cell of overlap on each side."""
    nx, nt = radii.shape
    top = np.zeros(((nx + BLOCK - 1) // BLOCK, (nt + BLOCK - 1) // BLOCK), np.float32)
    _coarse(radii, top)
    return top


def cut_in_pieces(moves: Floats, form: Form4, top: Radii, shape: tuple[int, int], frame: Frame) -> Pieces:
    """Pieces of moves (n, 6: x, theta, r from; x, theta, r to) that come near the material, in order."""
    at = offsets_of(pieces_of(moves))
    n = int(at[-1])
    seg, reach, rows = np.zeros((n, 6)), np.zeros(n), np.zeros((n, 2), np.int32)
    _boxes(moves, at, form, top, shape, frame, seg, reach, rows)
    live = rows[:, 0] <= rows[:, 1]
    owner = np.repeat(np.arange(len(moves), dtype=np.int64), np.diff(at))
    if live.all():
        return Pieces(seg, reach, rows, owner)
    return Pieces(seg[live], reach[live], rows[live], owner[live])


def pieces_of(moves: Floats) -> Ints:
    """(n,) how many pieces each move (n, 6) is cut into."""
    out = np.zeros(len(moves), np.int64)
    _count(moves, out)
    return out


@compiled
def _coarse(r: Radii, top: Radii) -> None:
    nx, nt = r.shape
    for a in range(top.shape[0]):
        for b in range(top.shape[1]):
            m = np.float32(0)
            for i in range(a * BLOCK, min((a + 1) * BLOCK + 1, nx)):
                for j in range(b * BLOCK, min((b + 1) * BLOCK + 1, nt)):
                    v = r[i, j]
                    m = v if v > m else m
            top[a, b] = m


@compiled
def _count(moves: Floats, out: Ints) -> None:
    for k in range(moves.shape[0]):
        dx = abs(moves[k, 3] - moves[k, 0])
        dt = abs(moves[k, 4] - moves[k, 1])
        dz = abs(moves[k, 5] - moves[k, 2])
        rm = max(min(moves[k, 2], moves[k, 5]), 0.05)
        ln = math.sqrt(dx * dx + rm * rm * dt * dt)
        n = max(ln / 1.5, dt / 0.12, min(dz / 0.25, ln / 0.02))
        out[k] = max(1, math.ceil(n - 1e-9))


@compiled
def _highest(top: Radii, most: float, i0: int, i1: int, j0: int, j1: int, whole: bool, nt: int) -> float:
    """Greatest radius over a box of cells, from the coarse map, whose greatest is `most`; over a large box `most`."""
    nbx, nbt = top.shape
    if (i1 - i0) * (j1 - j0) > MANY_BLOCKS * BLOCK * BLOCK:
        return most
    a = max(i0 // BLOCK, 0)
    b = min(i1 // BLOCK, nbx - 1)
    m = -1.0
    if whole:
        if j1 - j0 >= nt:
            j0 = 0
            j1 = nt - 1
        n = min((j1 - j0) // BLOCK + 2, nbt)
        s = (j0 % nt) // BLOCK
        for i in range(a, b + 1):
            for q in range(n):
                c = s + q
                if c >= nbt:
                    c -= nbt
                v = top[i, c]
                m = v if v > m else m
    else:
        s = max(j0 // BLOCK, 0)
        e = min(j1 // BLOCK, nbt - 1)
        for i in range(a, b + 1):
            for c in range(s, e + 1):
                v = top[i, c]
                m = v if v > m else m
    return m


@compiled
def _boxes(
    moves: Floats,
    at: Ints,
    form: Form4,
    top: Radii,
    shape: tuple[int, int],
    frame: Frame,
    seg: Floats,
    wide: Floats,
    rows: NDArray[np.int32],
) -> None:
    nx, nt = shape
    x0, dx, th0, dth, whole = frame
    most = np.float64(top.max())
    for k in range(moves.shape[0]):
        n = at[k + 1] - at[k]
        for q in range(n):
            p = at[k] + q
            for c in range(3):
                v = moves[k, c + 3] - moves[k, c]
                seg[p, c] = moves[k, c] + v * (q / n)
                seg[p, c + 3] = moves[k, c] + v * ((q + 1) / n) if q + 1 < n else moves[k, c + 3]
            zl = min(seg[p, 2], seg[p, 5])
            xa = min(seg[p, 0], seg[p, 3])
            xb = max(seg[p, 0], seg[p, 3])
            ta = min(seg[p, 1], seg[p, 4])
            tb = max(seg[p, 1], seg[p, 4])
            if not whole:  # whole turns that bring the piece nearest to the window
                mid = th0 + 0.5 * (nt - 1) * dth
                turn = math.floor((mid - 0.5 * (ta + tb)) / TURN_RAD + 0.5) * TURN_RAD
                ta += turn
                tb += turn
                seg[p, 1] += turn
                seg[p, 4] += turn
            w = form[3]
            zz = max(zl, 1e-6)
            for _ in range(_ROUNDS):
                aw = math.asin(min(1.0, w / zz))
                i0 = math.floor((xa - w - x0) / dx)
                i1 = math.ceil((xb + w - x0) / dx)
                j0 = math.floor((ta - aw - th0) / dth)
                j1 = math.ceil((tb + aw - th0) / dth)
                h = _highest(top, most, i0, i1, j0, j1, whole, nt)
                v = reach(form, h - zl)
                if v < 0:
                    w = -1.0
                    break
                v += 1e-6
                if v > 0.9 * w:
                    w = min(w, v)
                    break
                w = v
            wide[p] = w
            if w < 0:
                rows[p, 0] = 1
                rows[p, 1] = 0
            else:
                rows[p, 0] = max(math.ceil((xa - w - x0) / dx), 0)
                rows[p, 1] = min(math.floor((xb + w - x0) / dx), nx - 1)
