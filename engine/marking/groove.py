"""How wide a tool cuts that comes in radially, on a skin that leans against it, and how deep a width asks it to go.

The depth is that of the deepest place under the tool, along the skin's normal. Seen along the groove, a cone is a wedge
of half-angle b about a line that leans by d: with l the cosine between tool and normal, t the groove's rise along the
tool (mm a mm) and q = sqrt(1 - t2), sin b = sin(a/2) / q and cos d = l / q. The skin stands z = depth + f (l cot(a/2) -
sqrt(1 - l2)) over that wedge's point, f the radius of the flat at the tip, and is opened z (tan(b + d) + tan(b - d))
wide, from the depth on at which the whole flat is sunk. A ball opens the chord of its circle, however it leans.
Source: orthographic outline of a cone and its tip's disc (derived here; checked by the form in space in the tests).
"""

from math import cos, radians, sin, sqrt

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.errors import MarkingError
from engine.kernel.values import Form, Tool
from engine.layout import Layout

__all__ = ["depth_of", "dot_depth", "least_sure", "normals", "refuse_flat", "width_of"]

MOULD = 1e-12  # a hollow that fits a ball as its mould does: all of it is opened
STEEPEST = radians(85.0)  # of a flank from the normal: beyond it the flank lies in the skin, and any depth is a smear


def normals(layout: Layout, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(n, 3) the skin's outward normal: along the axis, radially (the cosine between tool and normal), around."""
    r = layout.skin.radius(x_mm, theta_rad)
    r_x, r_theta = layout.skin.slopes(x_mm, theta_rad)
    normal = np.stack([-r_x, np.ones(len(r)), -r_theta / r], axis=1)
    unit: Floats = normal / np.linalg.norm(normal, axis=1)[:, None]
    return unit


def refuse_flat(tool: Tool) -> None:
    """MarkingError for a tool whose width does not tell its depth."""
    if tool.form is Form.FLAT:
        raise MarkingError(
            "a flat end cuts one width at every depth, so it draws no tone",
            where="tool",
            hint="take a cone, or a ball",
        )


def width_of(tool: Tool, depth_mm: Floats | float, lean: Floats, rise: Floats, bend: Floats | float = 0.0) -> Floats:
    """(n,) how wide the skin is opened, mm, by a tool at `depth_mm`, 0 or more.

    lean : (n,) cosine between tool and normal. rise : (n,) of the groove, mm outwards for a mm along it. bend : (n,)
    1 / mm, how the skin curves away across it, k: at the groove's edges it lies k w2 / 8 lower. A cone's w then solves
    k w2 / 8 + w / s = d, s what it opens for a mm of depth in a flat skin; a ball's, with a = w2 / 4,
    R - sqrt(R2 - a) + k a / 2 = d.
    """
    if tool.form is Form.BALL:
        d = np.minimum(np.broadcast_to(depth_mm, lean.shape), tool.round_mm)
        flat, slope = d * (2.0 * tool.round_mm - d), 1.0 + (tool.round_mm - d) * bend
        held = 0.5 * (slope + np.sqrt(slope**2 + np.square(bend) * flat))
        return np.minimum(2.0 * np.sqrt(flat / np.maximum(held, MOULD)), tool.diameter_mm)
    spread, over = _wedge(tool, lean, rise)
    wide = np.full(len(lean), tool.diameter_mm)
    _widen(depth_mm + over, spread, bend + np.zeros(len(lean)), wide)
    return wide


@compiled
def _widen(depth: Floats, spread: Floats, bend: Floats, wide: Floats) -> None:
    """Bring wide (n,), a cone's diameter, down to what it opens."""
    for i in range(len(wide)):
        flat = 1.0 / spread[i]
        root = flat * flat + 0.5 * bend[i] * depth[i]
        if root >= 0.0:
            wide[i] = min(wide[i], 2.0 * depth[i] / (flat + sqrt(root)))


def depth_of(tool: Tool, width_mm: Floats, lean: Floats, rise: Floats) -> Floats:
    """(n,) the depth at which the tool opens `width_mm` (n,); below 0 where its tip alone is wider."""
    if tool.form is Form.BALL:
        half = np.minimum(0.5 * width_mm, tool.round_mm)
        return tool.round_mm - np.sqrt(tool.round_mm**2 - half**2)
    spread, over = _wedge(tool, lean, rise)
    return width_mm / spread - over


def dot_depth(tool: Tool, dot_mm: float, lean: Floats) -> Floats:
    """(n,) the depth of a peck that opens as much as a round dot does that is `dot_mm` across."""
    if tool.form is Form.BALL:
        return depth_of(tool, np.full(lean.shape, dot_mm), lean, np.zeros_like(lean))
    one, over = _wedge(tool, lean, np.zeros_like(lean))
    other, _ = _wedge(tool, lean, np.sqrt(np.maximum(1.0 - lean**2, 0.0)))
    return dot_mm / np.sqrt(np.maximum(one * other, 1e-12)) - over


def least_sure(tool: Tool, least_mm: float, lean: Floats) -> Floats:
    """(n,) the least depth at which the whole flat at the tip is sunk on a skin that leans; never under `least_mm`."""
    return np.maximum(least_mm, 2.0 * tool.flat_mm * np.sqrt(np.maximum(1.0 - lean**2, 0.0)))


def _wedge(tool: Tool, lean: Floats, rise: Floats) -> tuple[Floats, Floats]:
    """(n,) mm opened for a mm over the wedge's point, and how far that point lies below the deepest place, mm."""
    spread, over = np.zeros(len(lean)), np.zeros(len(lean))
    _open(lean, rise, sin(radians(0.5 * tool.angle_deg)), tool.flat_mm, tool.flank, spread, over)
    return spread, over


@compiled
def _open(lean: Floats, rise: Floats, sin_half: float, flat: float, flank: float, spread: Floats, over: Floats) -> None:
    """Fill spread and over (n,) of `_wedge`: b the half-angle, d how far its line leans, by their sines and cosines."""
    most, least_cos = sin(STEEPEST), cos(STEEPEST)
    for i in range(len(lean)):
        q = sqrt(max(1.0 - rise[i] * rise[i], 1e-12))
        sin_b = min(sin_half / q, most)
        cos_b = sqrt(1.0 - sin_b * sin_b)
        cos_d = min(max(lean[i] / q, 0.0), 1.0)
        sin_d = sqrt(1.0 - cos_d * cos_d)
        cos_outer = cos_b * cos_d - sin_b * sin_d
        outer = most / least_cos if cos_outer <= least_cos else (sin_b * cos_d + cos_b * sin_d) / cos_outer
        spread[i] = outer + (sin_b * cos_d - cos_b * sin_d) / (cos_b * cos_d + sin_b * sin_d)
        over[i] = max(flat * (lean[i] * flank - sqrt(max(1.0 - lean[i] * lean[i], 0.0))), 0.0)
