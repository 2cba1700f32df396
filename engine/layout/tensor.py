"""The skin's metric in sheet coordinates, what it stretches, and the refusal of art that runs off the blank.

Source: Tissot's indicatrix as the singular values of the map's Jacobian (Snyder 1987, chapter 4).
"""

import numpy as np

from engine.blank import Skin, metric
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import LayoutError
from engine.layout.layout import Layout

__all__ = ["area_stretch", "on_blank", "pulled_back", "refuse_off_blank", "stretch"]

GRACE_MM = 1e-6  # rounding at the very ends is not off the blank


def pulled_back(skin: Skin, x: Floats, theta: Floats, jacobian: Floats) -> Floats:
    """(n, 3): E, F, G of the skin, mm2 per mm2 of sheet, from d(x, theta)/d(u, v) (n, 2, 2)."""
    E, F, G = metric(skin.radius(x, theta), *skin.slopes(x, theta))
    x_u, x_v = jacobian[:, 0, 0], jacobian[:, 0, 1]
    t_u, t_v = jacobian[:, 1, 0], jacobian[:, 1, 1]
    return np.stack(
        [
            E * x_u**2 + 2.0 * F * x_u * t_u + G * t_u**2,
            E * x_u * x_v + F * (x_u * t_v + x_v * t_u) + G * t_u * t_v,
            E * x_v**2 + 2.0 * F * x_v * t_v + G * t_v**2,
        ],
        axis=1,
    )


def stretch(layout: Layout, uv_mm: Floats) -> tuple[Floats, Floats]:
    """(least, greatest) mm on the skin for a mm on the sheet at each point, (n,) each."""
    E, F, G = layout.tensor(uv_mm).T
    middle, swing = 0.5 * (E + G), np.hypot(0.5 * (E - G), F)
    return np.sqrt(np.maximum(middle - swing, 0.0)), np.sqrt(middle + swing)


def area_stretch(layout: Layout, uv_mm: Floats) -> Floats:
    """(n,) mm2 on the skin for a mm2 on the sheet at each point: sqrt(E G - F2)."""
    E, F, G = layout.tensor(uv_mm).T
    return np.sqrt(np.maximum(E * G - F * F, 0.0))


def on_blank(x: Floats, ends: Floats) -> Bools:
    """(n,) whether each x lies between the ends."""
    held: Bools = (x >= ends[0] - GRACE_MM) & (x <= ends[1] + GRACE_MM)
    return held


def refuse_off_blank(x: Floats, ends: Floats) -> None:
    """LayoutError that says how far the art runs over which end."""
    if not len(x):
        return
    below, above = float(ends[0] - x.min()), float(x.max() - ends[1])
    over = max(below, above)
    if over > GRACE_MM:
        end = f"x {ends[0]:.4g}" if below > above else f"x {ends[1]:.4g}"
        raise LayoutError(
            f"the art runs {over:.2f} mm off the end of the blank at {end}",
            where="placement/x_mm",
            hint="move it, or make it smaller",
        )
