"""Where each ray comes nearest a skin q(x, theta) = r squared, and how nearness changes as the ray is moved.

q is what is smooth: at the pole of an egg r has an infinite slope, q a finite one, and q <= 0 means "no piece here".
A ray P + t d touches the skin when the least of F(t) = rho(t)^2 - q(x(t), theta(t)) is 0. At that least place F's
change by anything else than t is its change with t held (the envelope theorem), so the rows of a step are the splines
at the contact, and a moved ray counts by the slope of F there. Derived here.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.measure.spline import Basis

__all__ = ["Contacts", "Skin", "contacts", "nearness"]

_TABLE = (260, 360)  # stations and angles of the table through which a ray is searched first
_SAMPLES = 41  # places along a ray
_LEAST_RHO_MM = 0.3  # nearer the axis theta is no longer told


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skin:
    """q = r^2 with coefficients (nx, nt), mm^2."""

    basis: Basis
    coefficients: Floats

    def q(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats, Floats]:
        """(q, dq/dx, dq/dtheta), each (n,)."""
        return self.basis.at(self.coefficients, x_mm, theta_rad)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contacts:
    """One row a ray. t_mm from its foot; x_mm, theta_rad, rho_mm of its point nearest the skin; normal_rad of the ray
    itself (where its foot stands). gap_mm : distance of the ray from the skin along the normal, negative where it
    pierces. slope : (n, 3) dF by X, Y, Z; turned : dF by the photograph's angle; steep = size of F's slope in mm.
    touching : False where the nearest place is an end of the piece.
    """

    t_mm: Floats
    x_mm: Floats
    theta_rad: Floats
    rho_mm: Floats
    normal_rad: Floats
    gap_mm: Floats
    slope: Floats
    turned: Floats
    steep: Floats
    touching: Bools


def nearness(skin: Skin, beta: Floats, foot: Floats, direction: Floats, t: Floats) -> Floats:
    """(n,) F at t along each ray."""
    p = foot + t[:, None] * direction
    return np.asarray(p[:, 1] ** 2 + p[:, 2] ** 2 - skin.q(p[:, 0], np.arctan2(p[:, 1], p[:, 2]) + beta)[0])


def contacts(skin: Skin, beta: Floats, foot: Floats, direction: Floats) -> Contacts:
    """The contacts of n rays; beta (n,) is the angle that faced the camera."""
    lo, hi, free = _reach(skin.basis, foot, direction)
    t, at_end = _coarse(skin, beta, foot, direction, (lo, hi, free))
    step = (hi - lo) / (_SAMPLES - 1)
    for shrink in (1.0, 0.3, 0.1):
        h = step * shrink
        f0 = nearness(skin, beta, foot, direction, t)
        fm = nearness(skin, beta, foot, direction, np.clip(t - h, lo, hi))
        fp = nearness(skin, beta, foot, direction, np.clip(t + h, lo, hi))
        bend = fp + fm - 2.0 * f0
        move = np.where(bend > 1e-12, 0.5 * (fm - fp) / np.where(bend > 1e-12, bend, 1.0), 0.0)
        t = np.clip(t + np.clip(move, -1.0, 1.0) * h, lo, hi)
    return _told(skin, beta, foot, direction, t, at_end)


def _reach(basis: Basis, foot: Floats, direction: Floats) -> tuple[Floats, Floats, Bools]:
    """Least and greatest t inside the piece's ends and near its widest place; free of the ends: (n, 2)."""
    half = np.maximum(0.95 * np.hypot(foot[:, 1], foot[:, 2]), 6.0)
    along = np.where(np.abs(direction[:, 0]) < 1e-9, 1e-9, direction[:, 0])
    ends = np.stack([(basis.x0_mm - foot[:, 0]) / along, (basis.x1_mm - foot[:, 0]) / along])
    lo, hi = np.maximum(-half, ends.min(axis=0)), np.minimum(half, ends.max(axis=0))
    none = lo >= hi
    free = np.stack([lo <= -half, hi >= half], axis=1) & ~none[:, None]
    return np.where(none, 0.0, lo), np.where(none, 1e-6, hi), free


def _coarse(
    skin: Skin, beta: Floats, foot: Floats, direction: Floats, reach: tuple[Floats, Floats, Bools]
) -> tuple[Floats, Bools]:
    """The lowest of even samples along each ray, through a bilinear table of q; whether it is an end of the piece."""
    lo, hi, free = reach
    m, k = _TABLE[0], _TABLE[1] if skin.basis.nt > 1 else 1
    x0, span = skin.basis.x0_mm, skin.basis.x1_mm - skin.basis.x0_mm
    x, theta = np.meshgrid(x0 + np.linspace(0.0, span, m), np.arange(k) * (TURN_RAD / k), indexing="ij")
    table = skin.q(x.ravel(), theta.ravel())[0].reshape(m, k)
    table = np.concatenate([table, table[:, :1]], axis=1)
    best = _lowest(table, x0, (m - 1) / span, beta, foot, direction, lo, hi)
    at_end = ((best == 0) & ~free[:, 0]) | ((best == _SAMPLES - 1) & ~free[:, 1])
    return lo + (hi - lo) * best / (_SAMPLES - 1), at_end


@compiled
def _lowest(
    table: Floats, x0: float, per_x: float, beta: Floats, foot: Floats, direction: Floats, lo: Floats, hi: Floats
) -> Ints:
    """(n,) which of each ray's samples stands least above q; the table's last column repeats its first."""
    m, k = table.shape[0], table.shape[1] - 1
    out = np.zeros(len(beta), np.int64)
    for n in range(len(beta)):
        least = np.inf
        for sample in range(_SAMPLES):
            t = lo[n] + (hi[n] - lo[n]) * sample / (_SAMPLES - 1)
            y, z = foot[n, 1] + t * direction[n, 1], foot[n, 2] + t * direction[n, 2]
            u = min(max((foot[n, 0] + t * direction[n, 0] - x0) * per_x, 0.0), m - 1.001)
            v = ((math.atan2(y, z) + beta[n]) % TURN_RAD) * (k / TURN_RAD) if k > 1 else 0.0
            i, j = int(u), min(int(v), k - 1)
            fu, fv = u - i, v - j
            low = table[i, j] * (1.0 - fv) + table[i, j + 1] * fv
            high = table[i + 1, j] * (1.0 - fv) + table[i + 1, j + 1] * fv
            above = y * y + z * z - low * (1.0 - fu) - high * fu
            if above < least:
                least, out[n] = above, sample
    return out


def _told(skin: Skin, beta: Floats, foot: Floats, direction: Floats, t: Floats, at_end: Bools) -> Contacts:
    p = foot + t[:, None] * direction
    rho = np.hypot(p[:, 1], p[:, 2])
    theta = np.arctan2(p[:, 1], p[:, 2]) + beta
    q, qx, qt = skin.q(p[:, 0], theta)
    held = np.maximum(rho, 0.5)
    slope = np.stack([-qx, 2.0 * p[:, 1] - qt * p[:, 2] / held**2, 2.0 * p[:, 2] + qt * p[:, 1] / held**2], axis=1)
    steep = np.sqrt(qx**2 + 4.0 * rho**2 + (qt / held) ** 2)
    inside = (p[:, 0] > skin.basis.x0_mm + 1e-3) & (p[:, 0] < skin.basis.x1_mm - 1e-3) & (rho > _LEAST_RHO_MM)
    return Contacts(
        t_mm=t,
        x_mm=p[:, 0],
        theta_rad=theta,
        rho_mm=rho,
        normal_rad=np.arctan2(foot[:, 1], foot[:, 2]) + beta,
        gap_mm=(rho**2 - q) / steep,
        slope=slope,
        turned=-qt,
        steep=steep,
        touching=inside & ~at_end,
    )
