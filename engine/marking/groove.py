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

__all__ = ["depth_of", "dot_depth", "normals", "refuse_flat", "sunk", "width_of"]

# Of a tool: whether it is a ball, round_mm, flat_mm, flank (mm a mm), the sine of half its angle, diameter_mm.
Form6 = tuple[bool, float, float, float, float, float]

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
    wide, none = np.zeros(len(lean)), np.zeros(len(lean))
    _widen(depth_mm + none, lean, rise, bend + none, _form(tool), wide)
    return wide


def depth_of(tool: Tool, width_mm: Floats, lean: Floats, rise: Floats) -> Floats:
    """(n,) the depth at which the tool opens `width_mm` (n,) in a flat skin; below 0 where its tip alone is wider."""
    depth = np.zeros(len(lean))
    _deepen(width_mm, lean, rise, _form(tool), depth)
    return depth


def sunk(
    tool: Tool, wanted_mm: Floats, lean: Floats, rise: Floats, bend: Floats, *, least_mm: float, most_mm: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """(n,) mm each, of grooves `wanted_mm` (n,) wide: the widest that can be cut, `most_mm` deep; the narrowest that is
    sure to mark; the width asked as far as it can be cut; and how deep the tool goes for that, or for the narrowest.

    lean, rise, bend : as of `width_of`. least_mm : less depth is not sure to mark; on a skin that leans, the whole flat
    at the tip has to be sunk.
    """
    widest, least, width, depth = out = np.zeros((4, len(lean)))
    _sink(wanted_mm, lean, rise, bend, _form(tool), (least_mm, most_mm), out)
    return widest, least, width, depth


def dot_depth(tool: Tool, dot_mm: float, lean: Floats) -> Floats:
    """(n,) the depth of a peck that opens as much as a round dot does that is `dot_mm` across."""
    if tool.form is Form.BALL:
        return depth_of(tool, np.full(lean.shape, dot_mm), lean, np.zeros_like(lean))
    spread, over = np.zeros((2, len(lean))), np.zeros(len(lean))
    _open_both_ways(lean, _form(tool), spread, over)
    return dot_mm / np.sqrt(np.maximum(spread[0] * spread[1], 1e-12)) - over


def _form(tool: Tool) -> Form6:
    """What the loops ask of a tool."""
    half = sin(radians(0.5 * tool.angle_deg))
    return tool.form is Form.BALL, tool.round_mm, tool.flat_mm, tool.flank, half, tool.diameter_mm


@compiled
def _sink(
    wanted: Floats, lean: Floats, rise: Floats, bend: Floats, form: Form6, limits: tuple[float, float], out: Floats
) -> None:
    """Fill out (4, n) with what `sunk` gives. limits : the least depth that is sure on level skin, and the greatest."""
    sure, most = limits
    widest, least, width, depth = out[0], out[1], out[2], out[3]
    for i in range(len(wanted)):
        spread, over = _open(lean[i], rise[i], form)
        leaning = 2.0 * form[2] * sqrt(max(1.0 - lean[i] * lean[i], 0.0))
        widest[i] = _wide(most, spread, over, bend[i], form)
        least[i] = min(_wide(max(sure, leaning), spread, over, bend[i], form), widest[i])
        width[i] = min(wanted[i], widest[i])
        cut = max(width[i], least[i])
        depth[i] = min(max(_deep(cut, spread, over, form) + 0.125 * bend[i] * (cut * cut), 0.0), most)


@compiled
def _widen(depth: Floats, lean: Floats, rise: Floats, bend: Floats, form: Form6, wide: Floats) -> None:
    """Fill wide (n,) with what the tool opens at depth (n,)."""
    for i in range(len(wide)):
        spread, over = _open(lean[i], rise[i], form)
        wide[i] = _wide(depth[i], spread, over, bend[i], form)


@compiled
def _deepen(width: Floats, lean: Floats, rise: Floats, form: Form6, depth: Floats) -> None:
    """Fill depth (n,) with that which opens width (n,) in a flat skin."""
    for i in range(len(depth)):
        spread, over = _open(lean[i], rise[i], form)
        depth[i] = _deep(width[i], spread, over, form)


@compiled
def _open_both_ways(lean: Floats, form: Form6, spread: Floats, over: Floats) -> None:
    """Fill spread (2, n), along the slope and up it, and over (n,) of a cone."""
    for i in range(len(over)):
        spread[0, i], over[i] = _open(lean[i], 0.0, form)
        spread[1, i], _ = _open(lean[i], sqrt(max(1.0 - lean[i] * lean[i], 0.0)), form)


@compiled
def _wide(depth: float, spread: float, over: float, bend: float, form: Form6) -> float:
    """How wide a skin that bends is opened; the tool's diameter at most."""
    ball, rounded, _, _, _, diameter = form
    if ball:
        d = min(depth, rounded)
        flat, slope = d * (2.0 * rounded - d), 1.0 + (rounded - d) * bend
        held = 0.5 * (slope + sqrt(slope * slope + bend * bend * flat))
        return min(2.0 * sqrt(flat / max(held, MOULD)), diameter)
    flat = 1.0 / spread
    root = flat * flat + 0.5 * bend * (depth + over)
    return min(diameter, 2.0 * (depth + over) / (flat + sqrt(root))) if root >= 0.0 else diameter


@compiled
def _deep(width: float, spread: float, over: float, form: Form6) -> float:
    """How deep the tool opens that width in a flat skin."""
    ball, rounded, _, _, _, _ = form
    if ball:
        half = min(0.5 * width, rounded)
        return rounded - sqrt(rounded * rounded - half * half)
    return width / spread - over


@compiled
def _open(lean: float, rise: float, form: Form6) -> tuple[float, float]:
    """Of a cone, mm opened for a mm over the wedge's point, and how far that point lies below the deepest place, mm: b
    the half-angle, d how far the wedge's line leans, by their sines and cosines. Nothing is asked of a ball.
    """
    ball, _, tip, flank, sin_half, _ = form
    if ball:
        return 0.0, 0.0
    most, least_cos = sin(STEEPEST), cos(STEEPEST)
    q = sqrt(max(1.0 - rise * rise, 1e-12))
    sin_b = min(sin_half / q, most)
    cos_b = sqrt(1.0 - sin_b * sin_b)
    cos_d = min(max(lean / q, 0.0), 1.0)
    sin_d = sqrt(1.0 - cos_d * cos_d)
    cos_outer = cos_b * cos_d - sin_b * sin_d
    outer = most / least_cos if cos_outer <= least_cos else (sin_b * cos_d + cos_b * sin_d) / cos_outer
    spread = outer + (sin_b * cos_d - cos_b * sin_d) / (cos_b * cos_d + sin_b * sin_d)
    return spread, max(tip * (lean * flank - sqrt(max(1.0 - lean * lean, 0.0))), 0.0)
