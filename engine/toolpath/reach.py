"""How far a tool that comes in radially reaches on a skin, and the stretch of the skin it can feel there."""

from math import acos, ceil, degrees, radians, tan

import numpy as np

from engine.blank import Sampled, Skin, sample, tilt_cos
from engine.kernel.arrays import Floats
from engine.kernel.errors import ReachError
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool

__all__ = ["MOST_TILT_DEG", "felt", "lean_of"]

MOST_TILT_DEG = 75.0  # beyond it a radial tool cuts a smear, no line: 4 mm along the slope for each mm of carriage
_SAMPLED_MM = 1e-5  # the sampled skin from the true one
_ROOM_MM = 0.5  # kept beyond the tool's own reach


def lean_of(skin: Skin, x_mm: Floats, theta_rad: Floats, depth_mm: Floats) -> Floats:
    """(n,) cosine between tool and normal at places that are cut depth_mm (n,) deep; ReachError where the skin cannot
    be cut by a tool that comes in radially.
    """
    r = skin.radius(x_mm, theta_rad)
    left = r - 2.0 * depth_mm
    i = int(left.argmin())
    if left[i] <= 0.0:
        raise ReachError(
            f"at {_place(x_mm[i], theta_rad[i])} the radius is {r[i]:.2f} mm, too thin for {depth_mm[i]:.4g} mm depth: "
            "that is half of it or more",
            where=f"x {x_mm[i]:.2f} mm",
            hint="move the art away from the end of the blank, or cut shallower",
        )
    lean = tilt_cos(r, *skin.slopes(x_mm, theta_rad))
    i = int(lean.argmin())
    if lean[i] < np.cos(radians(MOST_TILT_DEG)):
        raise ReachError(
            f"at {_place(x_mm[i], theta_rad[i])} the skin leans {degrees(acos(lean[i])):.0f} deg against the tool, "
            f"which reaches {MOST_TILT_DEG:.0f}",
            where=f"x {x_mm[i]:.2f} mm",
            hint="move the art away from the steep end, or make it smaller",
        )
    return lean


def _place(x_mm: float, theta_rad: float) -> str:
    return f"x {x_mm:.2f} mm, {degrees(theta_rad):.1f} deg"


def felt(skin: Skin, x_mm: Floats, tool: Tool, depth_mm: float) -> Sampled:
    """The skin as coefficients, as far as the tool at any of the stations x_mm (n,), n > 0, can feel it."""
    if isinstance(skin, Sampled):
        return skin
    reach = tool.outer_mm + depth_mm + _ROOM_MM
    low, high = skin.x_range_mm
    least, greatest = float(x_mm.min()), float(x_mm.max())
    low = _short_of_pole(skin, least, max(low, least - reach))
    high = _short_of_pole(skin, greatest, min(high, greatest + reach))
    return sample(skin, low, high, _SAMPLED_MM)


def _short_of_pole(skin: Skin, near: float, far: float) -> float:
    """`far`, or the last place on the way there before the skin falls away so steeply that no spline follows it.

    What is left out lies lower than what is kept, and cannot touch the tool.
    """
    x = np.linspace(near, far, 1 + ceil(abs(far - near) / 0.01))
    theta = np.zeros(1) if skin.is_round else np.linspace(0.0, TURN_RAD, 64, endpoint=False)
    outwards = skin.slopes(x[:, None], theta[None, :])[0] * np.sign(far - near)
    steep = (outwards < -tan(radians(MOST_TILT_DEG + 5.0))).any(axis=1)
    return float(x[max(int(steep.argmax()) - 1, 0)]) if steep.any() else far
