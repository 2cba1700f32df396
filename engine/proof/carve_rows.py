"""One row of cells against one piece of a move: the exact radius at which the swept tool meets each ray.

Exact rotary form. In the frame of a tool at theta, a ray at a = theta_cell - theta meets, at radius p, height p cos a
and the lateral place (dx, p sin a). Where the ray first enters the tool (c = cos a, s = sin a):
    flat   p = z / c
    ball   p = c k - sqrt(R^2 - dx^2 - k^2 s^2),                                              k = z + R
    cone   p = max(z / c, (c k + T sqrt(k^2 s^2 + dx^2 (c^2 - T^2 s^2))) / (c^2 - T^2 s^2)),  k = z - f T,
           T = cot(half angle), f = radius of the tip's flat (both parts are convex: the later entry counts)
each if its lateral place is within the outer radius: ray against plane, sphere, cone; no small-angle step.

Swept, not stamped. For each cell the moment of the move that cuts deepest has a closed form in the plane unrolled at
the tip (distance w from the line, m = dz per mm along it):
    cone   s* = s - m w / sqrt(T^2 - m^2)  if that place is on the flank, else s -+ sqrt(f^2 - w^2) (the flat's rim)
    ball   s* = s - m sqrt(R^2 - w^2) / sqrt(1 + m^2)
clamped to the move; the radius is then taken from the exact formulas at that moment. An error dt of the moment costs
only curvature x dt^2 / 2 (envelope theorem), so the unrolling does not show. Derived and held in
tests/proof/test_carve.py against dense stamps and closed forms.
"""

import math

import numpy as np
from numpy.typing import NDArray

from engine.kernel.compiled import compiled
from engine.proof.form import SHARP, Form4

__all__ = ["Aim", "Radii", "aim_of", "row_ball", "row_cone", "row_hard"]

Radii = NDArray[np.float32]
# Least and greatest share of the piece at which it may cut deepest; how far that lies from the nearest place: k1, k2,
# the sign of the slope; 1 / length; share of the piece a mm of place (2); mm beside the line (2).
Aim = tuple[float, float, float, float, float, float, float, float, float, float]
_COVERED = 1.0 + 1e-9  # a place on the very rim is under the tool


@compiled
def _sc(a: float) -> tuple[float, float]:
    """Sine and cosine to 1e-10 for |a| <= .5 and 6e-7 at 1.6: no branch, no division, so that rows vectorise."""
    b = a * a
    s = a * (1 + b * (-1 / 6 + b * (1 / 120 + b * (-1 / 5040 + b * (1 / 362880 - b * (1 / 39916800))))))
    c = 1 + b * (-0.5 + b * (1 / 24 + b * (-1 / 720 + b * (1 / 40320 - b * (1 / 3628800)))))
    return s, c


@compiled
def aim_of(Dx: float, Dt: float, Dz: float, L: float, rm: float, m: float, form: Form4) -> Aim:
    """What all rows of a piece share, for a cone or a ball: see `Aim`."""
    iL = 1 / L if L > 1e-9 else 0.0
    if form[1] > 0.0:
        still = iL == 0.0
        k1, k2, sg = iL * m / math.sqrt(1 + m * m), 0.0, 0.0
    else:
        T = form[2]
        still = m * m >= T * T or L < 1e-9  # steeper than the flank: the lower end cuts deepest everywhere
        root = 1.0 if still else math.sqrt(T * T - m * m)
        k1, k2 = m / root, T / root
        sg = 1.0 if m > 1e-7 else (-1.0 if m < -1e-7 else 0.0)
    low = (0.0 if Dz > 0 else 1.0) if still else 0.0
    return low, (low if still else 1.0), k1, k2, sg, iL, Dx * iL * iL, rm * Dt * iL * iL, rm * Dt * iL, Dx * iL


@compiled
def row_cone(
    H: Radii,
    n: int,
    th_first: float,
    dth: float,
    px: float,
    ta: float,
    za: float,
    way: tuple[float, float, float],
    rm: float,
    aim: Aim,
    form: Form4,
) -> None:
    """Cells of a row, n of them, under a cone. th_first: of the first cell; px: x of the row less the piece's start;
    way: the piece's Dx, Dt, Dz.
    """
    f, _, T, outer = form
    Dx, Dt, Dz = way
    t_lo, t_hi, k1, k2, sg, iL, ex, ey, wx, wy = aim
    fT = f * T
    T2 = T * T
    o2 = outer * outer * _COVERED
    ff = f * f
    base = th_first - ta
    big = np.float32(1e9)
    for c in range(n):  # without branches: rows vectorise
        a0 = base + c * dth
        py = rm * a0
        w = abs(px * wx - py * wy)
        b = sg * math.sqrt(max(ff - w * w, 0.0)) if sg != 0.0 else 0.0
        v = w * k1 if w * k2 >= f else b
        t = px * ex + py * ey - v * iL
        t = min(max(t, t_lo), t_hi)
        dx = px - t * Dx
        z = za + t * Dz
        sa, ca = _sc(a0 - t * Dt)
        k = z - fT
        q = ca * ca - T2 * sa * sa
        one = 1.0 / (ca * q)  # one division for both
        pf = (ca * k + T * math.sqrt(max(k * k * sa * sa + dx * dx * q, 0.0))) * ca * one
        p = z * q * one
        p = pf if pf > p else p
        y = p * sa
        p32 = np.float32(p) if (dx * dx + y * y <= o2) & (q > 1e-6) else big
        h = H[c]
        H[c] = p32 if p32 < h else h


@compiled
def _entry(dx: float, a: float, z: float, cot: float, f: float, outer: float) -> float:
    """Radius at which a ray enters a cone or a flat end at one moment; 1e9 where it passes beside it."""
    sa, ca = _sc(a)
    p = z / ca
    if cot < SHARP:
        q = ca * ca - cot * cot * sa * sa
        if q < 1e-6:
            return 1e9
        k = z - f * cot
        p = max(p, (ca * k + cot * math.sqrt(max(k * k * sa * sa + dx * dx * q, 0.0))) / q)
    y = p * sa
    return p if dx * dx + y * y <= outer * outer * _COVERED else 1e9


@compiled
def _covered_last(
    t: float, px: float, a0: float, top: float, Dx: float, Dt: float, Dz: float, L: float, outer: float
) -> float:
    """The moment near t at which the rim, at radius `top` as the move begins, just covers the cell (Newton)."""
    for _ in range(2):
        dx = px - t * Dx
        z = top + t * Dz
        sa, ca = _sc(a0 - t * Dt)
        y = z * sa / ca
        slope = 2 * (y * (Dz * sa / ca - z * Dt / (ca * ca)) - dx * Dx)
        if abs(slope) > 0.02 * L * outer:
            t -= (dx * dx + y * y - outer * outer * (1 - 1e-7)) / slope
    return t


@compiled
def row_hard(
    H: Radii,
    n: int,
    th_first: float,
    dth: float,
    px: float,
    ta: float,
    za: float,
    Dx: float,
    Dt: float,
    Dz: float,
    L: float,
    rm: float,
    m: float,
    cot: float,
    f: float,
    outer: float,
) -> None:
    """The same where the outer radius itself bounds the cut: flat ends, and cones sunk to the shank.

    Then the deepest moment may be the last one at which the rim still covers the cell; that moment is found in the
    unrolled plane, corrected by two Newton steps on the true lateral distance, and backed by a safer and by the nearest
    moment.
    """
    pointed = cot < SHARP
    T = cot if pointed else 0.0
    steep = m * m >= T * T
    root = 1.0 if steep else math.sqrt(T * T - m * m)
    sg = 1.0 if m > 1e-7 else (-1.0 if m < -1e-7 else 0.0)
    iL = 1 / L if L > 1e-9 else 0.0
    o2 = outer * outer
    up = max(outer - f, 0.0) * T if pointed else 0.0
    rr = rm + up  # radius at which the rim unrolls
    iR = 1 / max(math.hypot(Dx, rr * Dt), 1e-9)
    lowest = min(za, za + Dz) * (1.0 - 1e-9)
    t_min, t_max = min(Dt, 0.0), max(Dt, 0.0)
    for c in range(n):
        a0 = th_first + c * dth - ta
        # No form reaches below z / cos a: a cell that is there already stays (all terms of the secant are positive).
        off = max(a0 - t_max, t_min - a0, 0.0)
        b = off * off
        if H[c] <= np.float32(lowest * (1.0 + b * (0.5 + b * (5.0 / 24.0 + b * (61.0 / 720.0))))):
            continue
        py = rm * a0
        s = (px * Dx + py * rm * Dt) * iL
        w = abs(px * rm * Dt - py * Dx) * iL
        sr = (px * Dx + rr * a0 * rr * Dt) * iR
        wr = abs(px * rr * Dt - rr * a0 * Dx) * iR
        if wr > 1.03 * outer:
            continue
        best = 1e9
        for turn in range(4):
            if turn == 0:  # on the flank or the rim of the tip's flat
                if steep or not pointed:
                    continue
                v = w * m / root if w * T >= f * root else sg * math.sqrt(max(f * f - w * w, 0.0))
                t = (s - v) * iL
            elif turn < 3:
                t = (sr - sg * math.sqrt(max((1.0 if turn == 1 else 0.99) * o2 - wr * wr, 0.0))) * iR
            else:
                t = sr * iR
            if iL == 0.0:
                t = 0.0 if Dz > 0 else 1.0
            if turn == 1 and sg != 0.0 and 0.0 < t < 1.0:
                t = _covered_last(t, px, a0, za + up, Dx, Dt, Dz, L, outer)
            t = min(max(t, 0.0), 1.0)
            p = _entry(px - t * Dx, a0 - t * Dt, za + t * Dz, cot, f, outer)
            if p < best:  # the candidates come deepest first
                best = p
                break
        H[c] = min(H[c], np.float32(best))


@compiled
def row_ball(
    H: Radii,
    n: int,
    th_first: float,
    dth: float,
    px: float,
    ta: float,
    za: float,
    way: tuple[float, float, float],
    rm: float,
    aim: Aim,
    form: Form4,
) -> None:
    """The same under a ball."""
    R = form[1]
    Dx, Dt, Dz = way
    t_lo, t_hi, k1, _, _, _, ex, ey, wx, wy = aim
    R2 = R * R
    base = th_first - ta
    big = np.float32(1e9)
    for c in range(n):
        a0 = base + c * dth
        py = rm * a0
        w = px * wx - py * wy
        t = px * ex + py * ey - k1 * math.sqrt(max(R2 - w * w, 0.0))
        t = min(max(t, t_lo), t_hi)
        dx = px - t * Dx
        k = za + t * Dz + R
        sa, ca = _sc(a0 - t * Dt)
        d2 = R2 - dx * dx - k * k * sa * sa
        p = ca * k - math.sqrt(max(d2, 0.0))
        p32 = np.float32(p) if d2 >= 0.0 else big
        h = H[c]
        H[c] = p32 if p32 < h else h
