"""Skins r(x, theta) of made-up pieces, as formulas: the truth that rendered photographs are measured against."""

import math

import numpy as np

from engine.kernel.compiled import compiled

GOURD, EGG, BOTTLE, RIBBED, OVAL, DENTED = range(6)
LENGTH_MM = {GOURD: 110.0, EGG: 104.0, BOTTLE: 110.0, RIBBED: 90.0, OVAL: 90.0, DENTED: 90.0}
LARGEST_MM = 42.0


@compiled
def radius(kind, x, th):
    """r, mm, at station x (mm, inside the piece) and angle th (rad)."""
    if kind == 0:  # lobed gourd with a neck, convex sections, 0.8 mm off centre, greatest radius 40.0
        p = 20.0 + 18.35 * math.exp(-(((x - 70.0) / 26.0) ** 2)) - 3.0 * math.exp(-(((x - 22.0) / 16.0) ** 2))
        lobes = 1.35 * math.cos(2 * (th - 0.5 - 0.004 * x)) + 0.55 * math.cos(3 * th + 0.9)
        lobes += 0.16 * math.cos(5 * th - 0.02 * x)
        return p + p / 38.0 * lobes + 0.8 * math.cos(th - 2.1) + 0.008 * x * math.cos(th + 0.4)
    if kind == 1:  # egg with two poles, oval and slightly three-cornered, greatest radius about 39
        u = (x - 52.0) / 52.0
        round_off = math.sqrt(max(1.0 - u * u, 0.0))
        return (
            round_off * (36.5 / (1.0 + 0.16 * u)) * (1.0 + 0.028 * math.cos(2 * (th - 0.3)) + 0.009 * math.cos(3 * th))
        )
    if kind == 2:  # turned bottle: body of revolution, neck and shoulder, greatest radius 40
        shoulder = 16.0 + 24.0 / (1.0 + math.exp((x - 66.0) / 5.5))
        return shoulder - 3.5 * math.exp(-(((x - 20.0) / 14.0) ** 2)) + 1.2 * math.exp(-(((x - 98.0) / 5.0) ** 2))
    if kind == 3:  # seven ribs with hollows between
        p = 22.0 + 11.0 * math.sin(math.pi * x / 90.0)
        return p + 1.6 * p / 33.0 * math.cos(7 * th) + 0.5 * math.cos(th)
    if kind == 4:  # plain oval cylinder, off centre
        return 30.0 + 1.2 * math.cos(2 * th - 0.4) + 0.9 * math.cos(th - 1.0)
    # one local dent in an otherwise convex oval
    d = math.atan2(math.sin(th - 1.2), math.cos(th - 1.2))
    return 31.0 + 1.0 * math.cos(2 * th) - 3.0 * math.exp(-((d / 0.28) ** 2) - ((x - 45.0) / 14.0) ** 2)


def truth(kind, x_mm, theta_rad):
    """r over broadcast x (mm) and theta (rad)."""
    x, t = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(theta_rad, float))
    return np.array([radius(kind, a, b) for a, b in zip(x.ravel(), t.ravel(), strict=True)]).reshape(x.shape)
