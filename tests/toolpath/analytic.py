"""Skins with a formula, beyond the shop's own shapes; and an independent referee of depth. Measures are made up."""

import math

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.ragged import Ragged
from engine.kernel.values import Form, Tool
from engine.marking import Strokes


class Formula:
    """r(x, theta) of a function; slopes by central differences, good to 1e-8."""

    def __init__(self, function, x_range_mm, is_round=False):
        self.function, self.x_range_mm, self.is_round, self.sigma_mm = function, x_range_mm, is_round, 0.0

    def radius(self, x_mm, theta_rad):
        x, theta = np.broadcast_arrays(np.clip(x_mm, *self.x_range_mm), np.asarray(theta_rad, float))
        return self.function(x, theta)

    def slopes(self, x_mm, theta_rad):
        x, theta = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(theta_rad, float))
        h = 1e-5
        lo, hi = np.maximum(x - h, self.x_range_mm[0]), np.minimum(x + h, self.x_range_mm[1])
        along = (self.function(hi, theta) - self.function(lo, theta)) / (hi - lo)
        return along, (self.function(x, theta + h) - self.function(x, theta - h)) / (2 * h)


SPHERE = Formula(lambda x, t: np.sqrt(625.0 - x**2) + 0 * t, (-22.0, 22.0), is_round=True)
GENTLE = Formula(
    lambda x, t: 12 + 2 * np.sin(x / 30) + 0.8 * np.cos(2 * t + x / 30) + 0.3 * np.cos(5 * t - x / 9), (0.0, 40.0)
)
ROUGH = Formula(lambda x, t: 12 + 0.25 * np.sin(3.1 * x) * np.cos(30 * t) + 0.8 * np.cos(3 * t + x / 5), (0.0, 16.0))


def slope_skin(slope_deg, r_start=30.0, length=20.0):
    tangent = math.tan(math.radians(slope_deg))
    return Formula(lambda x, t: r_start + x * tangent + 0 * t, (0.0, length), is_round=True)


def ball(radius_mm):
    return Tool(id="ball", form=Form.BALL, diameter_mm=2 * radius_mm)


def flat(width_mm):
    return Tool(id="flat", form=Form.FLAT, diameter_mm=width_mm)


def cone(angle_deg, tip_mm=0.1, diameter_mm=3.175):
    return Tool(id="cone", angle_deg=angle_deg, tip_mm=tip_mm, diameter_mm=diameter_mm)


def strokes(*lines, share=None, reversible=True):
    """Sheet strokes of the given (k, 2) lines."""
    line = Ragged.of([np.asarray(one, float) for one in lines])
    share = np.ones(len(line.points)) if share is None else np.asarray(share, float)
    return Strokes(line=line, share=share, reversible=np.full(len(line), reversible))


def form_height(tool, q):
    """Height of the tool's form over its tip at the distance q from its axis: written anew from its drawing."""
    if tool.form is Form.BALL:
        radius = tool.diameter_mm / 2
        return radius - np.sqrt(np.maximum(radius**2 - q**2, 0))
    if tool.form is Form.FLAT:
        return np.zeros_like(q)
    return np.maximum(q - tool.tip_mm / 2, 0) / math.tan(math.radians(tool.angle_deg / 2))


def deepest_under(skin, tool, x, theta, r_tip, spacing=0.012):
    """Deepest place of the tool's form under the skin: the distance of each of its points that are inside the blank to
    the nearest of a dense cloud of skin points. Knows no slopes and no solver; its own error is under 0.2 um at 0.2 mm.
    """
    outer = tool.diameter_mm / 2
    wide = outer + 0.4
    xs = np.clip(x + np.linspace(-wide, wide, int(2 * wide / spacing)), *skin.x_range_mm)
    turn = math.asin(min(1.0, wide / (r_tip - 0.5)))
    angles = theta + np.linspace(-turn, turn, int(2 * turn * r_tip / spacing))
    r = skin.radius(xs[:, None], angles[None, :])
    cloud = np.stack(np.broadcast_arrays(xs[:, None], r * np.sin(angles - theta), r * np.cos(angles - theta)), -1)
    rho = np.unique(np.concatenate([np.linspace(0, outer, 40), tool.tip_mm / 2 + np.linspace(0, 0.3, 20)]))
    rho = rho[rho <= outer]
    phi = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    qx, qy = (rho[:, None] * np.cos(phi)).ravel(), (rho[:, None] * np.sin(phi)).ravel()
    height = r_tip + np.repeat(form_height(tool, rho), len(phi))
    inside = np.hypot(height, qy) < skin.radius(x + qx, np.arctan2(qy, height) + theta)
    if not inside.any():
        return 0.0
    places = np.stack([x + qx, qy, height], 1)[inside]
    return float(cKDTree(cloud.reshape(-1, 3)).query(places)[0].max())
