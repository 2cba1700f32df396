"""The layout of a fitted sheet: places on the skin as a twice smooth field over the sheet, and its inverse.

The field is two bicubics over even knots, evaluated by a compiled loop; the way back is Newton's, from a table of
starts. Beyond its own rectangle the sheet runs on straight, for the way back only: nothing is laid there.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, frozen_floats
from engine.kernel.compiled import compiled
from engine.kernel.cubic import cubic_slopes, six_cubic
from engine.kernel.errors import LayoutError
from engine.layout.tensor import on_blank, pulled_back, refuse_off_blank

__all__ = ["Fitted", "Starts"]

Frame = tuple[float, float, float, float, int, int]
Lattice = tuple[float, float, float, float]

GRACE_MM = 1e-6  # rounding at the very rim is not beside the sheet
ROUNDS = 30  # of Newton's; four inside, a few more where the sheet runs on
SETTLED = 1e-13  # of the sheet's size: the last step
STARTS = 96  # places along each side of the table from which the way back begins


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Starts:
    """places : (STARTS, STARTS, 2) of the sheet nearest to the middle of each cell of (x, theta); lattice : the least x
    and theta, and cells a mm and a radian.
    """

    places: Floats
    lattice: Lattice

    @classmethod
    def of(cls, x: Floats, theta: Floats, places: Floats, radius_mm: float) -> "Starts":
        """From places (n, 2) of the sheet and where they lie."""
        low = np.array([x.min(), theta.min()])
        per = STARTS / np.maximum(np.array([x.max(), theta.max()]) - low, 1e-9)
        middles = (np.indices((STARTS, STARTS)).reshape(2, -1).T + 0.5) / per + low
        near = cKDTree(np.stack([x, radius_mm * theta], axis=1)).query(middles * [1.0, radius_mm])[1]
        return cls(
            places=frozen_floats(places[near].reshape(STARTS, STARTS, 2)),
            lattice=(float(low[0]), float(low[1]), float(per[0]), float(per[1])),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """coefficients : (m + 3, n + 3, 2) of x and theta over even knots. frame : (least p, least q, cells a mm each way,
    m, n). turned : (2, 2) from the sheet to p, q, the art's own right and up.
    """

    skin: Skin
    coefficients: Floats
    frame: Frame
    turned: Floats
    starts: Starts

    def wrap(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> x_mm, theta_rad (n,). LayoutError where points lie beside the sheet or off the blank."""
        laid = self._lay(uv_mm)
        refuse_off_blank(laid[:, 0], np.array(self.skin.x_range_mm))
        return laid[:, 0].copy(), laid[:, 1].copy()

    def holds(self, uv_mm: Floats) -> Bools:
        """(n,) whether `wrap` can lay each point."""
        pq = uv_mm @ self.turned.T
        return self._inside(pq) & on_blank(self._at(pq)[:, 0], np.array(self.skin.x_range_mm))

    def unwrap(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """x, theta (n,) -> (n, 2) sheet mm; beside the sheet it runs on straight."""
        x, theta = np.broadcast_arrays(np.asarray(x_mm, np.float64), np.asarray(theta_rad, np.float64))
        out = np.zeros((x.size, 2))
        _find(self.coefficients, self.frame, self.starts.places, self.starts.lattice, x.ravel(), theta.ravel(), out)
        return out @ self.turned

    def jacobian(self, uv_mm: Floats) -> Floats:
        """(n, 2, 2): d(x, theta)/d(u, v)."""
        return self._slopes(self._lay(uv_mm))

    def tensor(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G of the skin in sheet coordinates."""
        laid = self._lay(uv_mm)
        refuse_off_blank(laid[:, 0], np.array(self.skin.x_range_mm))
        return pulled_back(self.skin, laid[:, 0], laid[:, 1], self._slopes(laid))

    def _slopes(self, laid: Floats) -> Floats:
        return np.asarray(laid[:, 2:].reshape(-1, 2, 2) @ self.turned, np.float64)

    def _lay(self, uv_mm: Floats) -> Floats:
        """(n, 6): x, theta, and their slopes along p and q."""
        pq = uv_mm @ self.turned.T
        beside = ~self._inside(pq)
        if beside.any():
            far = float(np.max(np.concatenate(self._over(pq), axis=1)))
            raise LayoutError(
                f"{int(beside.sum())} points lie up to {far:.2f} mm beside the sheet that was fitted to the art",
                where="placement/projection",
                hint="only what lies within the art's own extent can be laid by it",
            )
        return self._at(pq)

    def _at(self, pq: Floats) -> Floats:
        out = np.zeros((len(pq), 6))
        _lay_all(self.coefficients, self.frame, np.ascontiguousarray(pq), out)
        return out

    def _over(self, pq: Floats) -> tuple[Floats, Floats]:
        """(n, 2) each: how far below the least and above the greatest p and q."""
        p, q, per_p, per_q, m, n = self.frame
        low = np.array([p, q])
        return low - pq, pq - (low + np.array([m / per_p, n / per_q]))

    def _inside(self, pq: Floats) -> Bools:
        below, above = self._over(pq)
        return np.asarray((np.maximum(below, above) <= GRACE_MM).all(axis=1), np.bool_)


@compiled
def _lay_one(C: Floats, frame: Frame, p: float, q: float) -> tuple[float, float, float, float, float, float]:
    """x, theta, and their slopes along p and q: x_p, x_q, t_p, t_q. Beyond the rectangle the rim's slopes go on."""
    p0, q0, per_p, per_q, m, n = frame
    a = min(max(p, p0), p0 + m / per_p)
    b = min(max(q, q0), q0 + n / per_q)
    ga, gb = (a - p0) * per_p, (b - q0) * per_q
    i, j = min(int(ga), m - 1), min(int(gb), n - 1)
    u, v = ga - i, gb - j
    e0, e1, e2, e3 = six_cubic(u)
    f0, f1, f2, f3 = six_cubic(v)
    e, d = (e0 / 6.0, e1 / 6.0, e2 / 6.0, e3 / 6.0), cubic_slopes(u)
    f, g = (f0 / 6.0, f1 / 6.0, f2 / 6.0, f3 / 6.0), cubic_slopes(v)
    x = x_p = x_q = t = t_p = t_q = 0.0
    for k in range(4):
        row = slope = turn = bend = 0.0
        for h in range(4):
            c, s = C[i + k, j + h, 0], C[i + k, j + h, 1]
            row += f[h] * c
            slope += g[h] * c
            turn += f[h] * s
            bend += g[h] * s
        x += e[k] * row
        x_p += d[k] * row
        x_q += e[k] * slope
        t += e[k] * turn
        t_p += d[k] * turn
        t_q += e[k] * bend
    x_p, t_p, x_q, t_q = x_p * per_p, t_p * per_p, x_q * per_q, t_q * per_q
    return x + x_p * (p - a) + x_q * (q - b), t + t_p * (p - a) + t_q * (q - b), x_p, x_q, t_p, t_q


@compiled
def _lay_all(C: Floats, frame: Frame, pq: Floats, out: Floats) -> None:
    for k in range(pq.shape[0]):
        out[k, 0], out[k, 1], out[k, 2], out[k, 3], out[k, 4], out[k, 5] = _lay_one(C, frame, pq[k, 0], pq[k, 1])


@compiled
def _find(C: Floats, frame: Frame, starts: Floats, lattice: Lattice, x: Floats, theta: Floats, out: Floats) -> None:
    """Newton's way from the nearest start, no step longer than a quarter of the sheet."""
    _, _, per_p, per_q, m, n = frame
    reach = 0.25 * math.hypot(m / per_p, n / per_q)
    x0, t0, per_x, per_t = lattice
    last = starts.shape[0] - 1
    for k in range(x.size):
        i = int(min(max((x[k] - x0) * per_x, 0.0), last))
        j = int(min(max((theta[k] - t0) * per_t, 0.0), last))
        p, q = starts[i, j, 0], starts[i, j, 1]
        for _ in range(ROUNDS):
            at_x, at_t, x_p, x_q, t_p, t_q = _lay_one(C, frame, p, q)
            off_x, off_t = x[k] - at_x, theta[k] - at_t
            det = x_p * t_q - x_q * t_p
            step_p, step_q = (t_q * off_x - x_q * off_t) / det, (x_p * off_t - t_p * off_x) / det
            far = math.hypot(step_p, step_q)
            held = (
                min(1.0, reach / far)
                if far > 0.0 and (abs(off_x) * per_x < last and abs(off_t) * per_t < last)
                else 1.0
            )
            p += held * step_p
            q += held * step_q
            if far < SETTLED * reach:
                break
        out[k, 0], out[k, 1] = p, q
