"""What a program's moves leave of the blank, as a field of radii on rays from the axis of rotation.

Takes a field and moves that go straight in (x, theta, r), as a controller makes them; gives the field with every cell
at the least radius that any move gave it. A minimum does not ask in which order it is taken: the order of the moves
cannot change a bit. The exact form of each tool and the sweep stand in `carve_rows`.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.proof.carve_pieces import Frame, Pieces, coarse_map, cut_in_pieces, pieces_of
from engine.proof.carve_rows import Aim, Radii, aim_of, row_ball, row_cone, row_hard
from engine.proof.form import SHARP, Form4

__all__ = ["Work", "carve", "work_of"]

CHUNK = 200_000  # pieces at a time: their tables stay below ~20 MB
SHORT = 2.0  # rows: a shorter way is boxed
# A piece and a cell beside a row met by a piece (100 ns), measured: `python -m tests.bench.carving` prints a sweep's.
PIECE_ROWS = 1.0
CELL_ROWS, FLAT_CELL_ROWS, SUNK_CELL_ROWS = 0.12, 0.2, 0.35  # cones and balls; flat ends; cones sunk to the shank
LEAST_R_MM = 0.01  # a tip beyond the axis is told elsewhere; the formulas want a radius


class Work(NamedTuple):
    """What a sweep has to do, counted in rows met: the pieces, the rows under each, and the cells under each."""

    pieces: float
    rows: float
    cells: float


def carve(radii: Radii, frame: Frame, form: Form4, moves: Floats) -> None:
    """Carve moves (n, 6: x, theta, r from; x, theta, r to) into `radii` (nx, nt), in place."""
    for pieces in _pieces(radii, frame, form, moves):
        _sweep(radii, pieces.seg, pieces.reach_mm, pieces.rows, form, frame)


def work_of(radii: Radii, frame: Frame, form: Form4, moves: Floats) -> Work:
    """What `carve` would have to do, at most: the footprints of the pieces counted, nothing carved."""
    sums = np.zeros(3)
    for pieces in _pieces(radii, frame, form, moves):
        _footprints(pieces.seg, pieces.reach_mm, pieces.rows, form, frame, radii.shape[1], sums)
    return Work(*sums.tolist())


def _pieces(radii: Radii, frame: Frame, form: Form4, moves: Floats) -> Iterator[Pieces]:
    """The pieces of moves (n, 6) that come near the material, about CHUNK at a time."""
    top = coarse_map(radii)
    for part in _chunks(moves):
        held = np.ascontiguousarray(part, np.float64).copy()
        held[:, 2::3] = np.maximum(held[:, 2::3], LEAST_R_MM)
        # Round and round at one place takes no more off than once round.
        turned = held[:, 4] - held[:, 1]
        ring = (held[:, 0] == held[:, 3]) & (held[:, 2] == held[:, 5]) & (np.abs(turned) > TURN_RAD)
        held[ring, 4] = held[ring, 1] + np.copysign(TURN_RAD, turned[ring])
        pieces = cut_in_pieces(held, form, top, (radii.shape[0], radii.shape[1]), frame)
        if len(pieces.seg):
            yield pieces


def _chunks(moves: Floats) -> Iterator[Floats]:
    """Runs of moves that make about CHUNK pieces each: one move of many turns makes many."""
    so_far = np.cumsum(pieces_of(moves))
    at = 0
    while at < len(moves):
        before = int(so_far[at - 1]) if at else 0
        stop = max(at + 1, int(np.searchsorted(so_far, before + CHUNK, side="right")))
        yield moves[at:stop]
        at = stop


@compiled
def _footprints(
    seg: Floats, wide: Floats, rows: NDArray[np.int32], form: Form4, frame: Frame, columns: int, sums: Floats
) -> None:
    """Add `Work`: of each piece the capsule of its reach about its way, as `_sweep` unrolls it."""
    _, ball, flank, outer = form
    for p in range(seg.shape[0]):
        w = wide[p]
        ry = w / math.asin(min(1.0, w / max(min(seg[p, 2], seg[p, 5]), 1e-6)))
        way = math.hypot(seg[p, 3] - seg[p, 0], (seg[p, 4] - seg[p, 1]) * ry)
        under = rows[p, 1] - rows[p, 0] + 1.0
        cells = min((2.0 * way + math.pi * w) * w / (frame.dx * frame.dth * ry), under * columns)
        sunk = ball == 0.0 and w > 0.999 * outer
        each = FLAT_CELL_ROWS if flank > SHARP else (SUNK_CELL_ROWS if sunk else CELL_ROWS)
        sums[0] += PIECE_ROWS
        sums[1] += under
        sums[2] += each * cells


@compiled
def _sweep(H: Radii, seg: Floats, wide: Floats, rows: NDArray[np.int32], form: Form4, frame: Frame) -> None:
    nt = H.shape[1]
    _, ball, _, _ = form
    x0, dx, th0, dth, whole = frame
    for p in range(seg.shape[0]):
        w = wide[p]
        xa, ta, za = seg[p, 0], seg[p, 1], seg[p, 2]
        Dx, Dt, Dz = seg[p, 3] - xa, seg[p, 4] - ta, seg[p, 5] - za
        # The radius at which the piece is unrolled: the tip's for cones and flats, half way up the cut for balls.
        rm = max(za + 0.5 * Dz, 1e-6)
        if ball > 0.0:
            rm += 0.5 * (ball - math.sqrt(max(ball * ball - w * w, 0.0)))
        way = math.hypot(Dx, rm * Dt)
        climb = Dz / way if way > 1e-9 else 0.0
        # theta * ry makes the reach a circle, outside the true one.
        ry = w / math.asin(min(1.0, w / max(min(za, za + Dz), 1e-6)))
        short = abs(Dx) <= SHORT * dx
        aim = aim_of(Dx, Dt, Dz, way, rm, climb, form)
        for i in range(rows[p, 0], rows[p, 1] + 1):
            px = x0 + i * dx - xa
            low, high = _box_span(px, w, Dx, Dt * ry) if short else _span(px, w, Dx, Dt * ry)
            lo = math.ceil((ta + low / ry - th0) / dth)
            hi = math.floor((ta + high / ry - th0) / dth)
            if whole:
                hi = min(hi, lo + nt - 1)
                c = lo % nt
            else:
                lo = max(lo, 0)
                hi = min(hi, nt - 1)
                c = lo
            left = hi - lo + 1  # the part up to the seam, and the part after it
            t0 = th0 + lo * dth
            while left > 0:
                k = min(left, nt - c)
                _cells(H[i], c, k, t0, dth, px, ta, za, (Dx, Dt, Dz), way, rm, climb, aim, form, w)
                left -= k
                c = 0
                t0 += k * dth


@compiled
def _box_span(px: float, w: float, Dx: float, Dy: float) -> tuple[float, float]:
    """`_span` of a way hardly longer than a row, and a little more: the row's nearest place counts for all of it."""
    off = max(px - max(Dx, 0.0), min(Dx, 0.0) - px, 0.0)
    half = math.sqrt(max(w * w - off * off, 0.0))
    return min(Dy, 0.0) - half, max(Dy, 0.0) + half


@compiled
def _span(px: float, w: float, Dx: float, Dy: float) -> tuple[float, float]:
    """From where to where a row meets the capsule of radius w about the way (Dx, Dy); from beyond to: nowhere."""
    if abs(Dx) <= 1e-12:
        if abs(px) > w:
            return 1e9, -1e9
        high = 1.0 if Dy > 0 else 0.0
        low = 1.0 - high
    else:
        ua = max(min((px - w) / Dx, (px + w) / Dx), 0.0)
        ub = min(max((px - w) / Dx, (px + w) / Dx), 1.0)
        if ua > ub:
            return 1e9, -1e9
        # Moments of the uppermost and the lowest point of the capsule's cut by this row, by its sides' normal.
        normal = -Dy / math.hypot(Dx, Dy) if Dx > 0 else Dy / math.hypot(Dx, Dy)
        high = min(max((px - w * normal) / Dx, ua), ub)
        low = min(max((px + w * normal) / Dx, ua), ub)
    above = px - high * Dx
    below = px - low * Dx
    return (
        low * Dy - math.sqrt(max(w * w - below * below, 0.0)),
        high * Dy + math.sqrt(max(w * w - above * above, 0.0)),
    )


@compiled
def _cells(
    row: Radii,
    c: int,
    k: int,
    t0: float,
    dth: float,
    px: float,
    ta: float,
    za: float,
    way: tuple[float, float, float],
    length: float,
    rm: float,
    climb: float,
    aim: Aim,
    form: Form4,
    w: float,
) -> None:
    """The k cells of a row from c on, under the form."""
    flat, ball, flank, outer = form
    # A few cells beyond the reach are harmless (the formulas hold anywhere) and fill the vector.
    k8 = min((k + 7) // 8 * 8, row.size - c)
    if ball > 0.0:
        row_ball(row[c : c + k8], k8, t0, dth, px, ta, za, way, rm, aim, form)
    elif flank > SHARP or w > 0.999 * outer:
        Dx, Dt, Dz = way
        row_hard(row[c : c + k], k, t0, dth, px, ta, za, Dx, Dt, Dz, length, rm, climb, flank, flat, outer)
    else:
        row_cone(row[c : c + k8], k8, t0, dth, px, ta, za, way, rm, aim, form)
