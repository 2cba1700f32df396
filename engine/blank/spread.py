"""How sure a measured skin is, place by place: one standard deviation on an even grid, bilinear between."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.units import TURN_RAD

__all__ = ["SURE", "Spread"]

SURE = 2.0  # standard deviations within which the true skin is taken to lie: one place in forty stands higher


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """sigma_mm : (m, n) >= 0 at m >= 2 even stations from x0 to x1 and n even angles from 0 over a turn."""

    x0_mm: float
    x1_mm: float
    sigma_mm: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "sigma_mm", frozen_floats(self.sigma_mm))

    @property
    def rms_mm(self) -> float:
        """Root mean square over the grid: the one figure for the whole skin."""
        return float(np.sqrt((self.sigma_mm**2).mean()))

    def at(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """One standard deviation, mm, at places that broadcast; beyond an end, the end's."""
        m, n = self.sigma_mm.shape
        along = np.clip((x_mm - self.x0_mm) * ((m - 1) / (self.x1_mm - self.x0_mm)), 0.0, m - 1.0)
        around = np.mod(theta_rad, TURN_RAD) * (n / TURN_RAD)
        i = np.minimum(along.astype(np.int64), m - 2)
        j = np.minimum(around.astype(np.int64), n - 1)
        u, v, after = along - i, around - j, (j + 1) % n
        s = self.sigma_mm
        low, high = s[i, j] * (1 - v) + s[i, after] * v, s[i + 1, j] * (1 - v) + s[i + 1, after] * v
        mixed: Floats = low * (1 - u) + high * u
        return mixed
