"""Bodies given by formulas, with their own slopes: what the suites of this folder move, probe and join.

`Gourd` is the test gourd: a mean profile, lobes of 1 mm and more of the harmonics 2, 3 and 5 whose phase drifts along
the axis, and runout. `readings_of` probes a moved body by plain bisection along the ray, sharing nothing with the room.
"""

from dataclasses import dataclass

import numpy as np

from engine.measure import Readings


@dataclass(frozen=True)
class Gourd:
    x_range_mm: tuple = (5.0, 115.0)
    sigma_mm: float = 0.0
    is_round: bool = False
    lobes: tuple = ((2, 1.2, 0.3, 0.010), (3, 1.5, 1.1, -0.008), (5, 1.0, 2.0, 0.006))
    runout_mm: float = 0.7

    def radius(self, x_mm, theta_rad):
        x, t = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(theta_rad, float))
        r = 27.0 + 8.0 * np.sin(x / 27.0 - 0.8) + self.runout_mm * np.cos(t - 0.9)
        for order, size, phase, drift in self.lobes:
            r = r + size * np.cos(order * t - phase - drift * x)
        return r

    def slopes(self, x_mm, theta_rad):
        x, t = np.broadcast_arrays(np.asarray(x_mm, float), np.asarray(theta_rad, float))
        per_x = 8.0 / 27.0 * np.cos(x / 27.0 - 0.8)
        per_theta = -self.runout_mm * np.sin(t - 0.9)
        for order, size, phase, drift in self.lobes:
            around = np.sin(order * t - phase - drift * x)
            per_x = per_x + size * drift * around
            per_theta = per_theta - size * order * around
        return per_x, per_theta


@dataclass(frozen=True)
class Spheroid:
    """Semi-axis `a_mm` along x about `centre_mm`, `b_mm` across."""

    a_mm: float = 30.0
    b_mm: float = 22.0
    centre_mm: float = 30.0
    sigma_mm: float = 0.0
    is_round: bool = True

    @property
    def x_range_mm(self):
        return self.centre_mm - self.a_mm, self.centre_mm + self.a_mm

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(np.asarray(x_mm, float), theta_rad)
        return self.b_mm * np.sqrt(np.maximum(1 - ((x - self.centre_mm) / self.a_mm) ** 2, 0.0))

    def slopes(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(np.asarray(x_mm, float), theta_rad)
        r = np.maximum(self.radius(x, theta_rad), 1e-6)
        return -((self.b_mm / self.a_mm) ** 2) * (x - self.centre_mm) / r, np.zeros(x.shape)


def readings_of(body, motion, x_mm, theta_rad, *, noise_mm=0.0, sigma_mm=None, rng=None):
    """Readings of `body` after `motion` (its rotation and translation), at places (k,) of the new frame."""
    x, theta = np.asarray(x_mm, float), np.asarray(theta_rad, float)
    turn, to = motion.rotation, motion.translation

    def above(rho):
        points = np.stack([x, rho * np.cos(theta), rho * np.sin(theta)], axis=1)
        old = (points - to) @ turn
        return np.hypot(old[:, 1], old[:, 2]) - body.radius(old[:, 0], np.arctan2(old[:, 2], old[:, 1]))

    low, high = np.zeros_like(x), np.full_like(x, 200.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        out = above(middle) > 0
        low, high = np.where(out, low, middle), np.where(out, middle, high)
    noise = rng.normal(0.0, noise_mm, len(x)) if noise_mm else 0.0
    sigma = np.full(len(x), noise_mm if sigma_mm is None else sigma_mm)
    return Readings(x_mm=x, theta_rad=theta, radius_mm=low + noise, sigma_mm=sigma)
