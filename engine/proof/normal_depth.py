"""How deep a point lies below the skin, along the skin's normal: on the cells of a carved field, and at single points.

The foot of the normal is found by Gauss-Newton in its own tangent plane. On a field the first foot is the cell itself
and the second lies on the skin to the second order about it; only what both leave open is looked for on the skin.
"""

import math

import numpy as np
from numpy.typing import NDArray

from engine.blank import Frame as SkinFrame
from engine.blank import Sampled, bend_at, row_of, spline_at
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.proof.carve_pieces import Frame
from engine.proof.carve_rows import Radii

__all__ = ["depth_at", "depth_field"]

Bend = tuple[float, float, float, float, float, float]  # what `bend_at` gives
UNCUT_MM = 2e-5  # float32 rounding of a cell that nothing touched
FOUND_MM2 = 4e-4  # a foot this near (squared) is found: d is off by half of it over the bend, 0.02 um at 10 mm
BENT_MM2 = 1e-2  # how far (squared) the second order carries: what it leaves out is the third, 0.2 um a mm-2 of it


def depth_field(skin: Sampled, frame: Frame, before: Radii, after: Radii) -> Radii:
    """(nx, nt) depth of the carved radii on the frame's cells, read-only; 0 where nothing was taken off."""
    out = np.zeros_like(after)
    _field(skin.coefficients, skin.frame, frame, before, after, out)
    out.setflags(write=False)
    return out


def depth_at(skin: Sampled, x_mm: Floats, theta_rad: Floats, r_mm: Floats) -> Floats:
    """(n,) how far the points lie below the skin along its normal; 0 for points at or over it."""
    out = np.zeros(len(x_mm))
    _points(skin.coefficients, skin.frame, x_mm, theta_rad, r_mm, out)
    return out


@compiled
def _step(bend: tuple[float, float, float], aside: float, turned: float, h: float) -> tuple[float, float, float]:
    """From a foot of radius and slopes `bend`, `aside` mm short of the point and `turned` rad past it, to the next.

    Returns the point's distance below the foot's tangent plane, and its place beside the foot, mm along and round.
    """
    R, rx, rt = bend
    s = rt / R
    up = h * math.cos(turned) - R
    round_ = -h * math.sin(turned)
    n2 = 1.0 + rx * rx + s * s
    dn = -rx * aside + up - s * round_  # times the normal's length
    lam = dn / n2
    return -dn / math.sqrt(n2), aside + lam * rx, round_ + lam * s


@compiled
def _below(C: Floats, skin: SkinFrame, x: float, th: float, h: float) -> float:
    """Distance of the point (x, th, h) below the skin."""
    xs = x
    ts = th
    d = 0.0
    for k in range(12):
        bend = spline_at(C, skin, xs, ts)
        if k == 0 and bend[0] - h <= UNCUT_MM:
            return 0.0
        d, tx, ty = _step(bend, x - xs, ts - th, h)
        if tx * tx + ty * ty < FOUND_MM2:
            break
        xs = min(max(xs + tx, skin[0]), skin[1])
        ts += ty / bend[0]
    return d


@compiled
def _below_cell(bend: Bend, C: Floats, skin: SkinFrame, x: float, th: float, h: float) -> float:
    """The same for a cell where the skin's radius, slopes and curvatures are known."""
    R, rx, rt, rxx, rxt, rtt = bend
    if R - h <= UNCUT_MM:
        return 0.0
    d, tx, ty = _step((R, rx, rt), 0.0, 0.0, h)
    far = tx * tx + ty * ty
    if far < FOUND_MM2:
        return d
    if far < BENT_MM2:
        q = ty / R
        r2 = R + (rx + 0.5 * rxx * tx + rxt * q) * tx + (rt + 0.5 * rtt * q) * q
        d, more_x, more_y = _step((r2, rx + rxx * tx + rxt * q, rt + rxt * tx + rtt * q), -tx, q, h)
        if more_x * more_x + more_y * more_y < FOUND_MM2:
            return d
    return _below(C, skin, x, th, h)


@compiled
def _field(C: Floats, skin: SkinFrame, frame: Frame, before: Radii, after: Radii, out: Radii) -> None:
    x0, dx, th0, dth, _ = frame
    row = np.zeros((3, C.shape[1]))
    is_round = skin[3] == 0.0
    for i in range(after.shape[0]):
        row_of(C, skin, x0 + i * dx, row)
        bend = bend_at(row, skin, th0)
        for j in range(after.shape[1]):
            if after[i, j] < before[i, j]:
                if not is_round:
                    bend = bend_at(row, skin, th0 + j * dth)
                out[i, j] = _below_cell(bend, C, skin, x0 + i * dx, th0 + j * dth, after[i, j])


@compiled
def _points(C: Floats, skin: SkinFrame, x: Floats, th: Floats, r: Floats, out: NDArray[np.float64]) -> None:
    for k in range(x.size):
        if skin[0] <= x[k] <= skin[1]:
            out[k] = _below(C, skin, x[k], th[k], r[k])
