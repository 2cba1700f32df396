"""How deep may be cut where: the wanted field, spread by what a groove on its edge may still open.

Takes `Wanted`; gives `Allowed`: for each of its cells (and some round them) the distance from wanted art and the
greatest depth wanted within reach. Distances are measured on the skin, each row of cells with its own radius.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.blank import Sampled
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Ask, Wanted
from engine.proof.carve_pieces import Frame
from engine.proof.carve_rows import Radii

__all__ = ["GRACE_MM", "Allowed", "allowed", "cells_at", "distance", "field_frame", "slack_mm"]

GRACE_MM = 0.2  # a cut this near to the art counts as on it (the house's own choice)
MOST_LEVELS = 16  # depths told apart where the art is cut to several
FEW_ROWS = 32  # looked through one by one; of more the lower envelope is quicker


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Allowed:
    """On the wanted field's own cells: how far each is from wanted art (mm, capped), and the depth allowed there; the
    field itself and the skin.
    """

    wanted: Wanted
    skin: Sampled
    frame: Frame
    away_mm: Radii
    depth_mm: Radii

    def at(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(n,) depth allowed at places of the blank; 0 off the field and where a place is not known."""
        i, j, inside = cells_at(self.frame, self.depth_mm.shape, x_mm, theta_rad)
        return np.where(inside, self.depth_mm[i, j], 0.0)

    def is_even(self, x_mm: Floats, theta_rad: Floats) -> Bools:
        """(n,) whether an even depth is asked at places of the blank; beside graded art none is."""
        asks = self.wanted.asks
        if asks is None:
            return np.ones(len(x_mm), np.bool_)
        i, j, inside = cells_at(field_frame(self.wanted), asks.shape, x_mm, theta_rad)
        even: Bools = inside & ((asks[i, j] == Ask.EVEN) | (asks[i, j] == Ask.ALLOWED))
        return even


def cells_at(frame: Frame, shape: tuple[int, int], x_mm: Floats, theta_rad: Floats) -> tuple[Ints, Ints, Bools]:
    """(n,) row and column of the cell that holds each place, and whether one does; a place not known is in none."""
    x0, dx, th0, dth, whole = frame
    nx, nt = shape
    known = np.isfinite(x_mm) & np.isfinite(theta_rad)
    x_mm, theta_rad = np.where(known, x_mm, x0 - dx), np.where(known, theta_rad, th0)
    i = np.rint((x_mm - x0) / dx).astype(np.int64)
    j = np.rint(np.mod(theta_rad - th0 + 0.5 * dth, TURN_RAD) / dth - 0.5).astype(np.int64)
    j = j % nt if whole else j
    inside = (i >= 0) & (i < nx) & (j >= 0) & (j < nt)
    return np.clip(i, 0, nx - 1), np.clip(j, 0, nt - 1), inside


def field_frame(wanted: Wanted) -> Frame:
    """First cell and steps of the wanted field, and whether it goes once round."""
    x, t = wanted.x_mm, wanted.theta_rad
    dx = float(x[1] - x[0]) if len(x) > 1 else 1.0
    dth = float(t[1] - t[0])
    whole = abs(dth * len(t) - TURN_RAD) < 0.5 * dth
    return Frame(float(x[0]), dx, float(t[0]), dth, whole)


def allowed(wanted: Wanted, skin: Sampled, *, reach_mm: float) -> Allowed:
    """What may be cut where. reach_mm : how far beside the art a groove that is cut on its edge may still open."""
    frame = field_frame(wanted)
    around = frame.th0 + frame.dth * np.linspace(0.0, len(wanted.theta_rad) - 1, 33)
    most = float(skin.radius(wanted.x_mm[:, None], around[None, :]).max())
    slack = slack_mm(frame, most)
    cap = max(reach_mm, GRACE_MM) + slack
    frame, depth = _padded(frame, np.asarray(wanted.depth_mm, np.float32), cap, most)
    nx, nt = depth.shape
    x = frame.x0 + frame.dx * np.arange(nx, dtype=np.float64)
    radius = skin.radius(x[:, None], around[None, :]).mean(axis=1)
    levels = _levels(depth)
    away: Radii = np.zeros((nx, nt), np.float32)
    away += np.float32(4 * cap)
    may: Radii = np.zeros((nx, nt), np.float32)
    for k, level in enumerate(levels):
        least = levels[k - 1] if k else 0.0
        near = distance(depth > least, radius, frame, cap)
        if not k:
            away = near
        may[near <= reach_mm + slack] = level
    return Allowed(wanted=wanted, skin=skin, frame=frame, away_mm=away, depth_mm=may)


def slack_mm(frame: Frame, radius_mm: float) -> float:
    """Half a cell's diagonal: cells stand for their middles."""
    return 0.5 * math.hypot(frame.dx, frame.dth * radius_mm)


def _padded(frame: Frame, depth: Radii, cap_mm: float, radius_mm: float) -> tuple[Frame, Radii]:
    """The field with so many empty cells round it that nothing beside it is nearer than `cap_mm`."""
    rows = math.ceil(cap_mm / frame.dx)
    room = max(0, math.floor(TURN_RAD / frame.dth) - depth.shape[1])
    columns = 0 if frame.whole else min(math.ceil(2 * cap_mm / (radius_mm * frame.dth)), room // 2)
    wider = Frame(frame.x0 - rows * frame.dx, frame.dx, frame.th0 - columns * frame.dth, frame.dth, frame.whole)
    return wider, np.pad(depth, ((rows, rows), (columns, columns)))


def _levels(depth: Radii) -> list[float]:
    """Rising depths into which the field is sorted, each the greatest of its class."""
    most = float(depth.max(initial=0.0))
    if most <= 0.0:
        return []
    held = [float(v) for v in np.unique(depth) if v > 0]
    if len(held) > MOST_LEVELS:
        return [most * k / MOST_LEVELS for k in range(1, MOST_LEVELS + 1)]
    return held


def distance(mask: Bools, radius: Floats, frame: Frame, cap: float) -> Radii:
    """(nx, nt) distance on the skin to the nearest cell of the mask, exact below `cap` mm, greater above."""
    nx, nt = mask.shape
    across = np.full((nx, nt), 1 << 30, np.int32)
    _columns_to(mask, frame.whole, across)
    out = np.zeros((nx, nt), np.float32)
    sweep = _distances if math.ceil(cap / frame.dx) <= FEW_ROWS else _envelopes
    sweep(across, radius * frame.dth, frame.dx, cap, out)
    return out


@compiled
def _columns_to(mask: Bools, whole: bool, out: NDArray[np.int32]) -> None:
    """Cells along each row to the nearest cell of the mask."""
    nx, nt = mask.shape
    for i in range(nx):
        rounds = 2 if whole else 1
        last = -(1 << 30)
        for k in range(rounds * nt):
            j = k % nt
            if mask[i, j]:
                last = k
            out[i, j] = min(out[i, j], k - last)
        last = 1 << 30
        for k in range(rounds * nt - 1, -1, -1):
            j = k % nt
            if mask[i, j]:
                last = k
            out[i, j] = min(out[i, j], last - k)


@compiled
def _distances(across: NDArray[np.int32], step: Floats, dx: float, cap: float, out: Radii) -> None:
    nx, nt = across.shape
    rows = math.ceil(cap / dx)
    far = 4 * cap
    for i in range(nx):
        out[i, :] = far * far
        for k in range(max(0, i - rows), min(nx, i + rows + 1)):
            up = (k - i) * dx
            up *= up
            for j in range(nt):
                side = across[k, j] * step[k]
                d = up + side * side
                out[i, j] = min(out[i, j], d)
        for j in range(nt):
            out[i, j] = math.sqrt(out[i, j])


@compiled
def _envelopes(across: NDArray[np.int32], step: Floats, dx: float, cap: float, out: Radii) -> None:
    """`_distances` for many rows: in each column the lower envelope of the parabolas (k - i)^2 dx^2 + side_k^2.

    Source: Felzenszwalb and Huttenlocher, Distance Transforms of Sampled Functions (2012), section 2.1.
    """
    nx, nt = across.shape
    rows = math.ceil(cap / dx)
    far = 4 * cap
    held = np.zeros(nx, np.int64)  # the rows whose parabolas make the envelope, and from where on each is the lowest
    begins = np.zeros(nx, np.float64)
    height = np.zeros(nx, np.float64)
    for j in range(nt):
        n = 0
        for k in range(nx):
            side = across[k, j] * step[k]
            if side > far:
                continue
            height[k] = (side / dx) ** 2
            at = -np.inf
            while n > 0:
                q = held[n - 1]
                at = (height[k] + k * k - height[q] - q * q) / (2.0 * (k - q))
                if at > begins[n - 1]:
                    break
                n -= 1
                at = -np.inf
            held[n] = k
            begins[n] = at
            n += 1
        p = 0
        for i in range(nx):
            out[i, j] = far
            while p + 1 < n and begins[p + 1] <= i:
                p += 1
            if n > 0 and abs(i - held[p]) <= rows:
                side = across[held[p], j] * step[held[p]]
                out[i, j] = min(far, math.sqrt(((held[p] - i) * dx) ** 2 + side * side))
