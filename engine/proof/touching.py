"""Where the tool's whole form touches the skin at one place, looked at there and then: no map, for a few places.

Takes the skin, the form and a place; gives the tip's radius.
"""

import numpy as np

from engine.blank import Skin
from engine.proof.form import Form4, rise

__all__ = ["touching_mm"]

ACROSS = 33  # places across the tool at which the skin is looked at


def touching_mm(skin: Skin, form: Form4, x_mm: float, theta_rad: float) -> float:
    """The tip's radius at which the tool's form touches the skin, seen at ACROSS by ACROSS places; -inf where it never
    does.
    """
    low, high = skin.x_range_mm
    spread = np.linspace(-form[3], form[3], ACROSS)
    x = x_mm + spread
    x = x[(x >= low) & (x <= high)]
    if not len(x):
        return -np.inf
    middle = float(skin.radius(np.clip(np.array([x_mm]), low, high), np.array([theta_rad]))[0])
    turned = spread / max(middle, form[3])
    radius = skin.radius(x[:, None], theta_rad + turned[None, :])
    away = np.hypot((x - x_mm)[:, None], radius * np.sin(turned))
    under = away <= form[3]
    if not under.any():
        return -np.inf
    rises = np.array([rise(form, d) for d in away[under].tolist()])
    return float(((radius * np.cos(turned))[under] - rises).max())
