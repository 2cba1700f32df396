"""The projections that run by the meridian: equidistant, conformal, equal-area and true-width.

Each carries over from the sphere to any skin of revolution by its arc, isometric latitude or band area; on a measured
skin the mean profile carries it, and the tensor tells the truth of the skin itself.
Source: J. P. Snyder, Map Projections - A Working Manual (1987), equations 12-1, 7-1, 10-1, 30-1.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank import Meridian, Skin
from engine.kernel.arrays import Bools, Floats
from engine.layout.placement import Projection
from engine.layout.tensor import on_blank, pulled_back, refuse_off_blank

__all__ = ["ByMeridian", "by_meridian"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ByMeridian:
    """A layout whose height on the sheet is a function of x alone. r0_mm : mean radius at the art's centre."""

    skin: Skin
    projection: Projection
    meridian: Meridian
    x0_mm: float
    theta0_rad: float
    r0_mm: float

    def wrap(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> x_mm, theta_rad (n,). LayoutError where points lie off the blank."""
        x = self._along(uv_mm[:, 1])
        refuse_off_blank(x, self.meridian.x[[0, -1]])
        return x, self.theta0_rad + uv_mm[:, 0] / self._width(x)

    def holds(self, uv_mm: Floats) -> Bools:
        """(n,) whether `wrap` can lay each point."""
        return on_blank(self._along(uv_mm[:, 1]), self.meridian.x[[0, -1]])

    def _along(self, v: Floats) -> Floats:
        """The x of each height on the sheet; beyond the blank it runs on."""
        if self.projection is Projection.CONFORMAL:
            return self.meridian.isometric_inverse(v / self.r0_mm)
        if self.projection is Projection.EQUAL_AREA:
            return self.meridian.band_inverse(v * self.r0_mm)
        return self.meridian.arc_inverse(v)

    def unwrap(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """x, theta (n,) -> (n, 2) sheet mm."""
        x = np.clip(np.asarray(x_mm, np.float64), *self.meridian.x[[0, -1]])
        if self.projection is Projection.CONFORMAL:
            v = self.r0_mm * self.meridian.isometric(x)
        elif self.projection is Projection.EQUAL_AREA:
            v = self.meridian.band(x) / self.r0_mm
        else:
            v = self.meridian.arc(x)
        return np.stack([self._width(x) * (theta_rad - self.theta0_rad), v], axis=1)

    def jacobian(self, uv_mm: Floats) -> Floats:
        """(n, 2, 2): d(x, theta)/d(u, v)."""
        return self._jacobian(*self.wrap(uv_mm))

    def _jacobian(self, x: Floats, theta: Floats) -> Floats:
        r, r_x = self.meridian.profile(x)
        step = 1.0 / np.sqrt(1.0 + r_x**2)
        rate = {Projection.CONFORMAL: r / self.r0_mm, Projection.EQUAL_AREA: self.r0_mm / r}.get(self.projection, 1.0)
        j = np.zeros((len(x), 2, 2))
        j[:, 0, 1] = step * rate
        width = r if self.projection is Projection.TRUE_WIDTH else self._width(x)
        j[:, 1, 0] = 1.0 / width
        if self.projection is Projection.TRUE_WIDTH:
            j[:, 1, 1] = -(theta - self.theta0_rad) * r_x / width * j[:, 0, 1]
        return j

    def tensor(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G of the skin in sheet coordinates."""
        x, theta = self.wrap(uv_mm)
        return pulled_back(self.skin, x, theta, self._jacobian(x, theta))

    def _width(self, x: Floats) -> Floats:
        """Sheet mm a radian."""
        if self.projection is Projection.TRUE_WIDTH:
            return self.meridian.radius(x)
        return np.full(x.shape, self.r0_mm)


def by_meridian(skin: Skin, projection: Projection, x0_mm: float, theta0_rad: float) -> ByMeridian:
    """The layout with the art's centre at (x0, theta0). BlankError where that lies off the blank."""
    meridian = Meridian(skin, x0_mm)
    r0 = float(meridian.radius(np.array([x0_mm]))[0])
    return ByMeridian(skin=skin, projection=projection, meridian=meridian, x0_mm=x0_mm, theta0_rad=theta0_rad, r0_mm=r0)
