"""What a leaning, curved skin does to a groove: where the tool touches it, and how far it falls away beside the touch.

A skin that curves away by k (1 / mm, above 0 where it is convex) lies k h2 / 2 lower at h beside the deepest place, so
that a groove w wide has to be k w2 / 8 deeper than in a flat skin. A ball touches where its middle stands on the skin's
normal, not under its axis.
Source: osculating circle and normal curvature, M. do Carmo, Differential Geometry of Curves and Surfaces, 3-2.
"""

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.values import Form, Tool
from engine.layout import Layout
from engine.marking.groove import normals

__all__ = ["bend_across", "mean_bend", "set_aside", "sunk_for"]

ASIDE_MM = 0.02  # to each side of a place, where its normals are held against each other


def sunk_for(width_mm: Floats | float, bend: Floats) -> Floats:
    """(n,) by how much deeper a groove of that width has to be than in a flat skin, mm; below 0 in a hollow."""
    return 0.125 * bend * width_mm**2


def bend_across(layout: Layout, x: Floats, theta: Floats, way: Floats) -> Floats:
    """(n,) the skin's normal curvature across a way of x and theta (n, 2), 1 / mm: how fast the normal turns, by a
    central difference.
    """
    aside = ASIDE_MM * _across(layout, x, theta, way)
    low, high = layout.skin.x_range_mm
    places, turned = [], []
    for sign in (-1.0, 1.0):
        there, turn = np.clip(x + sign * aside[:, 0], low, high), sign * aside[:, 1]
        r, normal = layout.skin.radius(there, theta + turn), normals(layout, there, theta + turn)
        c, s = np.cos(turn), np.sin(turn)
        places.append(np.stack([there, r * c, r * s], axis=1))
        out, round_it = normal[:, 1], normal[:, 2]
        turned.append(np.stack([normal[:, 0], c * out - s * round_it, s * out + c * round_it], axis=1))
    chord = places[1] - places[0]
    bend: Floats = ((turned[1] - turned[0]) * chord).sum(axis=1) / (chord**2).sum(axis=1)
    return bend


def mean_bend(layout: Layout, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(n,) the skin's mean curvature, 1 / mm: half the sum of those of any two lines that cross at right angles."""
    way = np.zeros((len(x_mm), 2))
    way[:, 0] = 1.0
    other = _across(layout, x_mm, theta_rad, way)
    return 0.5 * (bend_across(layout, x_mm, theta_rad, way) + bend_across(layout, x_mm, theta_rad, other))


def set_aside(tool: Tool, points: Floats, depth_mm: Floats, layout: Layout) -> Floats:
    """(n, 2) where the axis of a ball meets the sheet that touches the skin's normal at each point: its middle stands
    on that normal, and it comes in radially. Other tools stay where they are. depth_mm : (n,).
    """
    if tool.form is not Form.BALL or not len(depth_mm):
        return points
    x, theta = layout.wrap(points)
    normal = normals(layout, x, theta)
    over = tool.round_mm - depth_mm
    out, aside = layout.skin.radius(x, theta) + over * normal[:, 1], over * normal[:, 2]
    low, high = layout.skin.x_range_mm
    return layout.unwrap(np.clip(x + over * normal[:, 0], low, high), theta + np.arctan2(aside, out))


def _across(layout: Layout, x: Floats, theta: Floats, way: Floats) -> Floats:
    """(n, 2) mm and rad: a millimetre of skin square to a way of x and theta (n, 2)."""
    r, (r_x, r_theta) = layout.skin.radius(x, theta), layout.skin.slopes(x, theta)
    E, F, G = 1.0 + r_x**2, r_x * r_theta, r**2 + r_theta**2  # the skin's metric, do Carmo 2-5
    a, b = way.T
    u, v = -(F * a + G * b), E * a + F * b
    return np.stack([u, v], axis=1) / np.sqrt(E * u * u + 2.0 * F * u * v + G * v * v)[:, None]
