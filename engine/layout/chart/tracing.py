"""A first sheet on the skin: from the art's centre along straightest lines, each as long as on the sheet.

Right at the centre and to first order beside it; what the fitting starts from, so it need be smooth, not exact.
"""

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Floats
from engine.kernel.units import TURN_RAD
from engine.layout.chart.surface import Surface

__all__ = ["traced"]

STEP_MM = 1.5  # of a walk over the skin; the fit does not depend on it
LEAST_STEPS, MOST_STEPS = 8, 200


def traced(skin: Skin, x0_mm: float, theta0_rad: float, uv_mm: Floats) -> tuple[Floats, Floats]:
    """Sheet places (n, 2) -> x_mm, theta_rad (n,), theta continuous from the centre; x may lie beyond the blank."""
    surface, n = Surface(skin=skin), len(uv_mm)
    x, theta = np.full(n, x0_mm), np.full(n, theta0_rad)
    along, around = (t[0] for t in surface.tangents(x[:1], theta[:1]))
    up = along / np.linalg.norm(along)
    right = around - (around @ up) * up
    right /= np.linalg.norm(right)
    length = np.hypot(*uv_mm.T)
    way = (uv_mm[:, :1] * right + uv_mm[:, 1:] * up) / np.maximum(length, 1e-300)[:, None]
    steps = int(np.clip(np.ceil(length.max(initial=0.0) / STEP_MM), LEAST_STEPS, MOST_STEPS))
    step = (length / steps)[:, None]
    for _ in range(steps):
        middle = _onto(x, theta, surface.place(x, theta) + 0.5 * step * way)
        halfway = _tangent(surface, *middle, way)
        x, theta = _onto(x, theta, surface.place(x, theta) + step * halfway)
        way = _tangent(surface, x, theta, halfway)
    return x, theta


def _onto(x: Floats, theta: Floats, p: Floats) -> tuple[Floats, Floats]:
    """The place under each point, theta the nearest to what it was."""
    turned = np.arctan2(p[:, 2], p[:, 1])
    return p[:, 0], theta + np.remainder(turned - theta + np.pi, TURN_RAD) - np.pi


def _tangent(surface: Surface, x: Floats, theta: Floats, way: Floats) -> Floats:
    """The directions (n, 3) laid down into the skin, of length 1."""
    normal = np.cross(*surface.tangents(x, theta))
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    flat = way - (way * normal).sum(axis=1)[:, None] * normal
    return np.asarray(flat / np.maximum(np.linalg.norm(flat, axis=1), 1e-300)[:, None], np.float64)
