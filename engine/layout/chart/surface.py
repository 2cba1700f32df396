"""The skin as the fitting of a sheet sees it: in space, with its metric and Gauss curvature, carried on past its ends.

A sheet is fitted to a little more than the art, and near an end of the blank that little lies beyond it: there the
skin runs on straight, so that the fit inside does not feel the end.
Source: M. do Carmo, Differential Geometry of Curves and Surfaces, sections 2-5 and 3-3.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank import Skin, metric
from engine.kernel.arrays import Floats

__all__ = ["Surface"]

ASIDE_MM = 1e-3  # second derivatives by central differences of slopes: truncation 1e-7, rounding 1e-11 of a curvature
INSIDE = 1e-6  # of the length: the ends' slopes are taken just within, where every skin knows them
LEAST_MM = 1e-9  # a radius that has run out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """All methods take x_mm, theta_rad (n,) and give (n, ...)."""

    skin: Skin

    @property
    def ends_mm(self) -> tuple[float, float]:
        """Where the skin begins to run on straight."""
        low, high = self.skin.x_range_mm
        return low + INSIDE * (high - low), high - INSIDE * (high - low)

    def radius(self, x: Floats, theta: Floats) -> Floats:
        """r, mm; nearly 0 where a side that runs on has come to a point."""
        held = np.clip(x, *self.ends_mm)
        beyond = self.skin.radius(held, theta) + self.skin.slopes(held, theta)[0] * (x - held)
        return np.maximum(beyond, LEAST_MM)

    def slopes(self, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, dr/dtheta); beyond an end those at the end."""
        return self.skin.slopes(np.clip(x, *self.ends_mm), theta)

    def place(self, x: Floats, theta: Floats) -> Floats:
        """(n, 3) in space: x, and across it towards theta = 0 and 90 degrees."""
        r = self.radius(x, theta)
        return np.stack([x, r * np.cos(theta), r * np.sin(theta)], axis=1)

    def tangents(self, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
        """(n, 3) dp/dx, mm/mm, and dp/dtheta, mm/rad."""
        r, (r_x, r_t) = self.radius(x, theta), self.slopes(x, theta)
        c, s = np.cos(theta), np.sin(theta)
        along = np.stack([np.ones(len(x)), r_x * c, r_x * s], axis=1)
        return along, np.stack([np.zeros(len(x)), r_t * c - r * s, r_t * s + r * c], axis=1)

    def metric(self, x: Floats, theta: Floats) -> tuple[Floats, Floats, Floats]:
        """First fundamental form in (x, theta)."""
        return metric(self.radius(x, theta), *self.slopes(x, theta))

    def curvature(self, x: Floats, theta: Floats) -> Floats:
        """Gauss curvature, 1/mm2."""
        r, (r_x, r_t) = self.radius(x, theta), self.slopes(x, theta)
        turn = ASIDE_MM / r
        ahead, behind = self.slopes(x + ASIDE_MM, theta), self.slopes(x - ASIDE_MM, theta)
        left, right = self.slopes(x, theta + turn), self.slopes(x, theta - turn)
        r_xx = (ahead[0] - behind[0]) / (2 * ASIDE_MM)
        r_xt = (ahead[1] - behind[1]) / (2 * ASIDE_MM)
        r_tt = (left[1] - right[1]) / (2 * turn)
        square = r**2 * (1 + r_x**2) + r_t**2
        bent = r * r_xx * (r * (r_tt - r) - 2 * r_t**2) - (r_x * r_t - r * r_xt) ** 2
        return np.asarray(bent / square**2, np.float64)
