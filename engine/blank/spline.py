"""A skin as periodic bicubic coefficients: one compiled evaluation serves every blank.

Takes radii on an even (x, theta) grid, or any skin and a tolerance; gives `Sampled`, itself a skin, whose coefficients
compiled loops read directly. Ends in x are not-a-knot: a mirrored end would force a zero slope, wrong on every cone and
egg. Refuses grids too small to carry a cubic.
Source: C. de Boor, A Practical Guide to Splines (uniform cubic B-splines, not-a-knot ends).
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_banded

from engine.blank.skin import Skin
from engine.blank.spread import Spread
from engine.kernel.arrays import Floats, Ints, frozen_floats
from engine.kernel.compiled import compiled
from engine.kernel.cubic import cubic_slopes, six_cubic
from engine.kernel.errors import BlankError
from engine.kernel.units import TURN_RAD

__all__ = ["Frame", "Sampled", "sample", "sigma_at", "spline_at"]

Frame = tuple[float, float, float, float, int, int]

_SIXTH = 1.0 / 6.0
LEAST_STATIONS = 5  # not-a-knot ends tie five coefficients on each side
LEAST_ANGLES = 4  # as many as a cubic's place draws on
MOST_NODES = 4_000_000  # 32 MB of coefficients; a skin that needs more is refined no further


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """A periodic bicubic skin.

    coefficients : (nx + 2, nt + 3) B-spline coefficients, mm, theta padded periodically.
    frame : (x0, x1, 1 / dx, nt / 2 pi, nx, nt), what `spline_at` needs beside them; the fourth is 0 on a round skin.
    error_mm : greatest difference from the skin it was sampled from, 0 for readings. spread : how sure it is place by
    place, where that is known; `sigma_mm` is then its mean over the skin (root mean square).
    """

    coefficients: Floats
    frame: Frame
    sigma_mm: float = 0.0
    is_round: bool = False
    error_mm: float = 0.0
    spread: Spread | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "coefficients", frozen_floats(self.coefficients))
        if self.is_round:
            x0, x1, per_x, _, nx, nt = self.frame
            object.__setattr__(self, "frame", (x0, x1, per_x, 0.0, nx, nt))

    @classmethod
    def of(
        cls,
        radius_mm: Floats,
        x0_mm: float,
        x1_mm: float,
        *,
        sigma_mm: float = 0.0,
        is_round: bool = False,
        spread: Spread | None = None,
    ) -> "Sampled":
        """Through radius_mm (nx, nt) at nx even stations from x0 to x1 and the angles j 2 pi / nt."""
        nx, nt = radius_mm.shape
        if nx < LEAST_STATIONS or nt < LEAST_ANGLES:
            raise BlankError(
                f"a measured skin needs {LEAST_STATIONS} stations and {LEAST_ANGLES} angles, this has {nx} and {nt}",
                where="/blank",
                hint="measure at more places",
            )
        frame = (float(x0_mm), float(x1_mm), (nx - 1) / (x1_mm - x0_mm), nt / TURN_RAD, nx, nt)
        sigma_mm = sigma_mm if spread is None else spread.rms_mm
        made = _coefficients(radius_mm)
        return cls(coefficients=made, frame=frame, sigma_mm=sigma_mm, is_round=is_round, spread=spread)

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """From the first to the last station."""
        return self.frame[0], self.frame[1]

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm; beyond an end the end's own radius."""
        return self._at(x_mm, theta_rad)[0]

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, dr/dtheta), mm/mm and mm/rad."""
        r = self._at(x_mm, theta_rad)
        return r[1], r[2]

    def on_grid(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(m, n) r, mm, at every one of the stations (m,) under every one of the angles (n,)."""
        x0, x1, per_x, per_theta, nx, nt = self.frame
        along = (np.clip(x_mm, x0, x1) - x0) * per_x
        i = np.clip(np.floor(along), 0, nx - 2).astype(np.int64)
        rows = np.zeros((len(i), self.coefficients.shape[1]))
        for k, weight in enumerate(_weights(along - i)):
            rows += weight[:, None] * self.coefficients[i + k]
        around = theta_rad * per_theta
        whole = np.floor(around)
        j = whole.astype(np.int64) % nt
        out = np.zeros((len(i), len(j)))
        _across(rows, j, np.stack(_weights(around - whole), axis=1), out)
        return out

    def averaged(self) -> "Sampled":
        """The round skin whose radius is the mean over theta: the mean of a spline is that of its coefficients."""
        x0, x1, per_x, _, nx, nt = self.frame
        row = self.coefficients[:, :nt].mean(axis=1)
        return Sampled(
            coefficients=np.repeat(row[:, None], LEAST_ANGLES + 3, axis=1),
            frame=(x0, x1, per_x, LEAST_ANGLES / TURN_RAD, nx, LEAST_ANGLES),
            sigma_mm=self.sigma_mm,
            is_round=True,
            error_mm=self.error_mm,
            spread=self.spread,
        )

    def _at(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        x, theta = np.broadcast_arrays(
            np.clip(np.asarray(x_mm, np.float64), *self.x_range_mm), np.asarray(theta_rad, np.float64)
        )
        out = np.zeros((3, x.size))
        _many(self.coefficients, self.frame, x.ravel(), theta.ravel(), out)
        return out.reshape((3, *x.shape))


def _weights(u: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """The four uniform cubic B-splines at shares (n,) of a cell."""
    p = 1.0 - u
    return p**3 / 6, (4 - 6 * u**2 + 3 * u**3) / 6, (4 - 6 * p**2 + 3 * p**3) / 6, u**3 / 6


def sample(skin: Skin, x_lo_mm: float, x_hi_mm: float, tolerance_mm: float = 1e-6) -> Sampled:
    """`skin` between two stations, within `tolerance_mm` at the cells' middles.

    The axis that is worse there is refined until both are good; a round skin keeps the fewest angles. What is left when
    MOST_NODES is reached (near a pole the slope has no bound) stands in `error_mm`.
    """
    if isinstance(skin, Sampled) and skin.x_range_mm == (x_lo_mm, x_hi_mm):
        return skin
    if not x_lo_mm < x_hi_mm:
        raise BlankError(
            f"from x {x_lo_mm:g} to {x_hi_mm:g} there is nothing to sample",
            hint="the second station lies beyond the first",
        )
    nx, nt = 33, 4 if skin.is_round else 16
    while True:
        x = np.linspace(x_lo_mm, x_hi_mm, nx)
        theta = np.linspace(0.0, TURN_RAD, nt, endpoint=False)
        made = Sampled.of(skin.radius(x[:, None], theta[None, :]), x_lo_mm, x_hi_mm)
        half_x: Floats = 0.5 * (x[1:] + x[:-1])
        half_theta: Floats = theta + 0.5 * TURN_RAD / nt
        along = _worst(made, skin, half_x, theta)
        around = 0.0 if skin.is_round else _worst(made, skin, x, half_theta)
        error = max(along, around)
        if error <= tolerance_mm or 2 * nx * nt > MOST_NODES:
            return Sampled(
                coefficients=made.coefficients,
                frame=made.frame,
                sigma_mm=skin.sigma_mm,
                is_round=skin.is_round,
                error_mm=error,
                spread=skin.spread if isinstance(skin, Sampled) else None,
            )
        if along > around:
            nx = 2 * nx - 1
        else:
            nt *= 2


def sigma_at(skin: Skin, x_mm: Floats, theta_rad: Floats) -> Floats:
    """One standard deviation of the true skin from `skin`, mm, at places that broadcast."""
    if isinstance(skin, Sampled) and skin.spread is not None:
        return skin.spread.at(x_mm, theta_rad)
    return np.full(np.broadcast_shapes(np.shape(x_mm), np.shape(theta_rad)), skin.sigma_mm)


def _worst(made: Sampled, skin: Skin, x: Floats, theta: Floats) -> float:
    return float(np.abs(made.radius(x[:, None], theta[None, :]) - skin.radius(x[:, None], theta[None, :])).max())


def _coefficients(radius_mm: Floats) -> Floats:
    """(nx + 2, nt + 3): the periodic solve in theta by FFT, the banded one in x with not-a-knot rows."""
    nx, nt = radius_mm.shape
    k = np.arange(nt // 2 + 1)
    filtered = np.fft.irfft(np.fft.rfft(radius_mm, axis=1) / ((4 + 2 * np.cos(TURN_RAD * k / nt)) / 6), n=nt, axis=1)
    n = nx + 2
    bands = np.zeros((9, n))
    bands[5, : n - 2], bands[4, 1 : n - 1], bands[3, 2:] = 1 / 6, 4 / 6, 1 / 6
    for q, v in enumerate((1.0, -4.0, 6.0, -4.0, 1.0)):
        bands[4 - q, q] = v
        bands[8 - q, n - 5 + q] = v
    rows = np.concatenate([np.zeros((1, nt)), filtered, np.zeros((1, nt))])
    c = np.asarray(solve_banded((4, 4), bands, rows))
    return np.ascontiguousarray(np.concatenate([c[:, -1:], c, c[:, :2]], axis=1))


@compiled
def _meridian_at(C: Floats, i: int, u: float, per_x: float) -> tuple[float, float, float]:
    """What `spline_at` gives on a round skin: the cubic along the axis alone."""
    a0, a1, a2, a3 = six_cubic(u)
    d0, d1, d2, d3 = cubic_slopes(u)
    c0, c1, c2, c3 = C[i, 0], C[i + 1, 0], C[i + 2, 0], C[i + 3, 0]
    r = (a0 * c0 + a1 * c1 + a2 * c2 + a3 * c3) * _SIXTH
    rx = d0 * c0 + d1 * c1 + d2 * c2 + d3 * c3
    return r, rx * per_x, 0.0


@compiled
def spline_at(C: Floats, frame: Frame, x: float, th: float) -> tuple[float, float, float]:
    """(r, dr/dx, dr/dtheta) at one point; x beyond an end continues the end's cubic: callers look first."""
    x0, _, per_x, per_th, nx, nt = frame
    gx = (x - x0) * per_x
    i = min(max(math.floor(gx), 0), nx - 2)
    u = gx - i
    if per_th == 0.0:
        return _meridian_at(C, i, u, per_x)
    gt = th * per_th
    whole = math.floor(gt)
    v = gt - whole
    j = whole % nt
    a, d = six_cubic(u), cubic_slopes(u)
    b0, b1, b2, b3 = six_cubic(v)
    b0, b1, b2, b3 = b0 * _SIXTH, b1 * _SIXTH, b2 * _SIXTH, b3 * _SIXTH
    e0, e1, e2, e3 = cubic_slopes(v)
    r = rx = rt = 0.0
    for k in range(4):
        c0, c1, c2, c3 = C[i + k, j], C[i + k, j + 1], C[i + k, j + 2], C[i + k, j + 3]
        row = b0 * c0 + b1 * c1 + b2 * c2 + b3 * c3
        r += a[k] * _SIXTH * row
        rx += d[k] * row
        rt += a[k] * _SIXTH * (e0 * c0 + e1 * c1 + e2 * c2 + e3 * c3)
    return r, rx * per_x, rt * per_th


@compiled
def _across(rows: Floats, first: Ints, weight: Floats, out: Floats) -> None:
    """Each row's cubic at places (n,): weight (n, 4) of the coefficients from `first` (n,) on."""
    for i in range(out.shape[0]):
        for k in range(out.shape[1]):
            j = first[k]
            out[i, k] = (
                weight[k, 0] * rows[i, j]
                + weight[k, 1] * rows[i, j + 1]
                + weight[k, 2] * rows[i, j + 2]
                + weight[k, 3] * rows[i, j + 3]
            )


@compiled
def _many(C: Floats, frame: Frame, x: Floats, th: Floats, out: Floats) -> None:
    for k in range(x.size):
        out[0, k], out[1, k], out[2, k] = spline_at(C, frame, x[k], th[k])
