"""Where on a skin a tool may touch twice: maps of tilt and curvature, widened by the tool's footprint.

The smooth contact is the only one, and stands unchecked, where over the whole footprint
  ball : greatest hollow curvature x R < 0.9 (a ball that fits rolls freely: Blaschke's rolling theorem);
  disc : no hollow deeper than 0.2 um under it, or a change of curvature across it whose cubic term is under 0.5 um;
  flank : tilt < 90 degrees - half the included angle - 1 degree (the skin never rises as steeply as the flank).
Elsewhere the dense search looks too. The maps stand on the knots of the bicubic skin, between which its second slopes
run straight along each axis, so nothing sharper hides between two nodes.
Sources: principal curvatures from the fundamental forms, M. do Carmo, Differential Geometry of Curves and Surfaces,
3-3; W. Blaschke, Kreis und Kugel.
"""

import math
from collections.abc import Callable

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from engine.blank import Sampled
from engine.kernel.arrays import Bools, Floats
from engine.kernel.values import Tool

__all__ = ["doubtful"]

_Filter = Callable[..., Floats]
_FITS = 0.9
_HOLLOW_MM = 2e-4
_CUBIC_MM = 5e-4
_LEAN_RAD = math.radians(1.0)


def doubtful(skin: Sampled, tool: Tool) -> Bools:
    """(nx, nt) at the knots of `skin`: whether the dense search must look; (nx, 1) for a round skin."""
    greatest, least, tilt, r_least = _bend(skin)
    _, _, per_x, per_theta, _, nt = skin.frame

    def wide(values: Floats, reach_mm: float, filtered: _Filter) -> Floats:
        along = 2 * (int(reach_mm * per_x) + 1) + 1
        around = min(2 * (int(reach_mm / r_least * per_theta) + 1) + 1, nt)
        out: Floats = filtered(values, along, axis=0, mode="nearest")
        return out if values.shape[1] == 1 else filtered(out, around, axis=1, mode="wrap")

    if tool.round_mm > 0.0:
        return wide(greatest, tool.round_mm, maximum_filter1d) * tool.round_mm > _FITS
    f = tool.flat_mm
    most = wide(greatest, f, maximum_filter1d)
    swing = most - wide(least, f, minimum_filter1d) - (greatest - least)
    risk: Bools = (0.5 * f * f * most > _HOLLOW_MM) & (f * f * swing / 12.0 > _CUBIC_MM)
    if math.isfinite(tool.flank):
        risk |= wide(tilt, tool.outer_mm, maximum_filter1d) > math.atan(tool.flank) - _LEAN_RAD
    return risk


def _bend(skin: Sampled) -> tuple[Floats, Floats, Floats, float]:
    """Principal curvatures (hollow seen from outside > 0), greatest and least, 1/mm; tilt, rad; least radius, mm."""
    _, _, per_x, per_theta, _, nt = skin.frame
    C = skin.coefficients[:, : (3 if skin.is_round else nt + 2)]
    value, slope, second = (np.array(w) for w in ((1 / 6, 4 / 6, 1 / 6), (-0.5, 0.0, 0.5), (1.0, -2.0, 1.0)))

    def at(along: Floats, around: Floats) -> Floats:
        rows = along[0] * C[:-2] + along[1] * C[1:-1] + along[2] * C[2:]
        out: Floats = around[0] * rows[:, :-2] + around[1] * rows[:, 1:-1] + around[2] * rows[:, 2:]
        return out

    r = at(value, value)
    rx, rt = at(slope, value) * per_x, at(value, slope) * per_theta
    rxx, rtt = at(second, value) * per_x**2, at(value, second) * per_theta**2
    rxt = at(slope, slope) * per_x * per_theta
    n = np.sqrt(1.0 + rx**2 + (rt / r) ** 2)
    E, F, G = 1.0 + rx**2, rx * rt, r**2 + rt**2
    L, M, N = rxx / n, (rxt - rx * rt / r) / n, (rtt - r - 2.0 * rt**2 / r) / n
    area = E * G - F * F
    H, K = (E * N - 2.0 * F * M + G * L) / (2.0 * area), (L * N - M * M) / area
    w = np.sqrt(np.maximum(H * H - K, 0.0))
    return H + w, H - w, np.arccos(1.0 / n), float(r.min())
