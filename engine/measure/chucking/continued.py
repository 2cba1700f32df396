"""A skin that goes on smoothly beyond its ends, with everything that a meeting of a line or a point with it needs.

Takes any skin; gives radius and slopes at once. Beyond an end the radius runs on with the end's slope, which dies away
within FADE_MM, so that nothing jumps and nothing grows without bound.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Floats

__all__ = ["Continued", "Local"]

FADE_MM = 5.0  # common practice of extrapolating no further than a few readings; no source
STEEPEST = 1.0  # mm/mm: at a pole the slope has no bound


@dataclass(frozen=True, slots=True, eq=False)
class Local:
    """The skin at places (k,): r mm, per_x mm/mm, per_theta mm/rad."""

    r: Floats
    per_x: Floats
    per_theta: Floats

    def gradient(self, points_mm: Floats) -> Floats:
        """(..., 3) of (distance from the axis - r) at points (..., 3): along the outward normal, not of unit length."""
        y, z = points_mm[..., 1], points_mm[..., 2]
        rho = np.maximum(np.hypot(y, z), 1e-12)
        cos, sin, turn = y / rho, z / rho, self.per_theta / rho
        return np.stack([-self.per_x, cos + turn * sin, sin - turn * cos], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class Continued:
    """`skin` without ends."""

    skin: Skin

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """Of the skin itself."""
        return self.skin.x_range_mm

    def at(self, x_mm: Floats, theta_rad: Floats) -> Local:
        """Radius and slopes at places of one shape."""
        within = np.clip(x_mm, *self.skin.x_range_mm)
        r = self.skin.radius(within, theta_rad)
        per_x, per_theta = self.skin.slopes(within, theta_rad)
        beyond = x_mm - within
        out = beyond != 0.0
        if not out.any():
            return Local(r, per_x, per_theta)
        slope = np.clip(per_x[out], -STEEPEST, STEEPEST)
        fade = np.maximum(np.minimum(FADE_MM, 0.5 * r[out]), 1e-9)
        left = np.exp(-np.abs(beyond[out]) / fade)
        r, per_x = r.copy(), per_x.copy()
        r[out] += np.sign(beyond[out]) * slope * fade * (1.0 - left)
        per_x[out] = slope * left
        return Local(r, per_x, per_theta)
