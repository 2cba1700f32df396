"""A sampled skin at one station: radius, slopes and curvatures all round it, for loops that go row by row.

Takes what `spline_at` takes; the axis' share of the cubic is reckoned once a row.
"""

import math

from engine.blank.spline import Frame
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.cubic import cubic_slopes, six_cubic

__all__ = ["bend_at", "row_of"]


@compiled
def row_of(C: Floats, frame: Frame, x: float, row: Floats) -> None:
    """Fill row (3, nt + 3) with the coefficients in theta of r, dr/dx and d2r/dx2 at station x."""
    x0, _, per_x, _, nx, _ = frame
    gx = (x - x0) * per_x
    i = min(max(math.floor(gx), 0), nx - 2)
    u = gx - i
    p = 1.0 - u
    a0, a1, a2, a3 = six_cubic(u)
    a0, a1, a2, a3 = a0 / 6.0, a1 / 6.0, a2 / 6.0, a3 / 6.0
    for j in range(C.shape[1]):
        c0, c1, c2, c3 = C[i, j], C[i + 1, j], C[i + 2, j], C[i + 3, j]
        row[0, j] = a0 * c0 + a1 * c1 + a2 * c2 + a3 * c3
        row[1, j] = (0.5 * (u * u * c3 - p * p * c0) + (1.5 * u - 2.0) * u * c1 + (2.0 - 1.5 * p) * p * c2) * per_x
        row[2, j] = (p * c0 + (3.0 * u - 2.0) * c1 + (3.0 * p - 2.0) * c2 + u * c3) * per_x * per_x


@compiled
def bend_at(row: Floats, frame: Frame, th: float) -> tuple[float, float, float, float, float, float]:
    """(r, dr/dx, dr/dtheta, d2r/dx2, d2r/dx dtheta, d2r/dtheta2) at an angle of the row's station."""
    per_th, nt = frame[3], frame[5]
    gt = th * per_th
    whole = math.floor(gt)
    v = gt - whole
    j = whole % nt
    q = 1.0 - v
    b0, b1, b2, b3 = six_cubic(v)
    b0, b1, b2, b3 = b0 / 6.0, b1 / 6.0, b2 / 6.0, b3 / 6.0
    e0, e1, e2, e3 = cubic_slopes(v)
    f1, f2 = 3.0 * v - 2.0, 3.0 * q - 2.0
    r = b0 * row[0, j] + b1 * row[0, j + 1] + b2 * row[0, j + 2] + b3 * row[0, j + 3]
    rx = b0 * row[1, j] + b1 * row[1, j + 1] + b2 * row[1, j + 2] + b3 * row[1, j + 3]
    rxx = b0 * row[2, j] + b1 * row[2, j + 1] + b2 * row[2, j + 2] + b3 * row[2, j + 3]
    rt = e0 * row[0, j] + e1 * row[0, j + 1] + e2 * row[0, j + 2] + e3 * row[0, j + 3]
    rxt = e0 * row[1, j] + e1 * row[1, j + 1] + e2 * row[1, j + 2] + e3 * row[1, j + 3]
    rtt = q * row[0, j] + f1 * row[0, j + 1] + f2 * row[0, j + 2] + v * row[0, j + 3]
    return r, rx, rt * per_th, rxx, rxt * per_th, rtt * per_th * per_th
