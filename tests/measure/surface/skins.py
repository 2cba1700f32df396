"""Skins whose every radius is known, and readings taken of them."""

import numpy as np

from engine.blank.ovoid import Ovoid
from engine.measure import Readings


def gourd(x, theta):
    """Five unequal lobes that fade towards the ends, a neck, held off its axis and askew."""
    s = x / 120
    swell = np.sin(np.pi * s)
    lobes = 1.2 * swell**2 * np.cos(5 * (theta + 0.1) + 0.004 * x) + 0.12 * swell * np.cos(10 * theta)
    profile = 24 + 9 * np.cos(2 * np.pi * (s - 0.62)) - 5 * np.exp(-(((s - 0.15) / 0.12) ** 2))
    return profile + lobes + 0.8 * np.cos(theta - 0.7) + 0.01 * x * np.cos(theta + 1.1)


def bottle(x, theta):
    """An oval body, 64 x 44, that narrows to a round neck."""
    narrow = 1 / (1 + np.exp(-(x - 80) / 5))
    a, b = 32 - 18 * narrow, 22 - 8 * narrow
    return a * b / np.sqrt((b * np.cos(theta)) ** 2 + (a * np.sin(theta)) ** 2)


def egg(x, theta):
    """The published curve, a little oval and off its axis."""
    curve = Ovoid(length_mm=56, breadth_mm=43.5, shift_mm=1.9, quarter_diameter_mm=36)
    return curve.radius(x, theta) * (1 + 0.01 * np.cos(2 * theta + 0.3)) + 0.4 * np.cos(theta - 2)


SKINS = {"gourd": (gourd, 4, 116), "bottle": (bottle, 5, 115), "egg": (egg, 6, 50)}


def grid(lo, hi, m, n):
    """Stations and angles of every cell, row by row."""
    x, theta = np.meshgrid(np.linspace(lo, hi, m), 2 * np.pi * np.arange(n) / n, indexing="ij")
    return x.ravel(), theta.ravel()


def readings_of(skin, x, theta, rng, *, noise=0.02, wild=0, stated=0.0):
    """(readings, which are wild): normal noise, and so many 0.3 to 5 mm off."""
    radius = skin(x, theta) + rng.normal(0, noise, len(x))
    off = rng.choice(len(x), wild, replace=False)
    radius[off] += rng.choice([-1, 1], wild) * rng.uniform(0.3, 5, wild)
    readings = Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=np.full(len(x), stated))
    return readings, np.isin(np.arange(len(x)), off)


def off_truth(measured, skin):
    """(m, n) the skin's error."""
    return measured.radius_mm - skin(measured.x_mm[:, None], measured.theta_rad[None, :])
