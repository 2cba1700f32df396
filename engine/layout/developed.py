"""The developed layout: the flat pattern of a cylinder or a cone, true everywhere, as a cut paper sleeve would lie.

Source: plane geometry of the unrolled frustum (derived here): turn on the flat = turn of the blank x sin(half
angle), distance from the apex = radius / sin(half angle).
"""

from dataclasses import dataclass
from math import hypot

import numpy as np

from engine.blank import Cone, Cylinder, Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import LayoutError
from engine.layout.tensor import on_blank, pulled_back, refuse_off_blank

__all__ = ["Developed", "developed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Developed:
    """A cone unrolled. slope : dr/dx, not 0. sine : of the half angle, > 0. apex_mm : the centre's distance from it."""

    skin: Skin
    x0_mm: float
    theta0_rad: float
    r0_mm: float
    slope: float
    sine: float

    @property
    def apex_mm(self) -> float:
        """From the apex to the art's centre, along the slant."""
        return self.r0_mm / self.sine

    @property
    def _up(self) -> float:
        """+1 where the apex lies above the art (the cone narrows with x), else -1."""
        return 1.0 if self.slope < 0 else -1.0

    def wrap(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> x_mm, theta_rad (n,). LayoutError where points lie off the blank."""
        x, away = self._along(uv_mm)
        refuse_off_blank(x, np.array(self.skin.x_range_mm))
        return x, self.theta0_rad + np.arctan2(uv_mm[:, 0], away) / self.sine

    def holds(self, uv_mm: Floats) -> Bools:
        """(n,) whether `wrap` can lay each point."""
        return on_blank(self._along(uv_mm)[0], np.array(self.skin.x_range_mm))

    def _along(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """The x of each point, and its distance from the apex along the sheet's middle line."""
        away = self.apex_mm - self._up * uv_mm[:, 1]
        radius = self.sine * np.hypot(uv_mm[:, 0], away)
        return self.x0_mm + (radius - self.r0_mm) / self.slope, away

    def unwrap(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """x, theta (n,) -> (n, 2) sheet mm."""
        slant = (self.r0_mm + self.slope * (x_mm - self.x0_mm)) / self.sine
        turn = (theta_rad - self.theta0_rad) * self.sine
        return np.stack([slant * np.sin(turn), self._up * (self.apex_mm - slant * np.cos(turn))], axis=1)

    def jacobian(self, uv_mm: Floats) -> Floats:
        """(n, 2, 2): d(x, theta)/d(u, v)."""
        u, away = uv_mm[:, 0], self.apex_mm - self._up * uv_mm[:, 1]
        slant = np.hypot(u, away)
        j = np.zeros((len(u), 2, 2))
        j[:, 0, 0] = self.sine * u / slant / self.slope
        j[:, 0, 1] = -self._up * self.sine * away / slant / self.slope
        j[:, 1, 0] = away / slant**2 / self.sine
        j[:, 1, 1] = self._up * u / slant**2 / self.sine
        return j

    def tensor(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G of the skin in sheet coordinates: 1, 0, 1."""
        x, theta = self.wrap(uv_mm)
        return pulled_back(self.skin, x, theta, self.jacobian(uv_mm))


def developed(skin: Skin, x0_mm: float, theta0_rad: float) -> Developed:
    """The flat pattern about (x0, theta0). LayoutError on any skin but a straight cone."""
    if not isinstance(skin, Cone) or skin.slope == 0:
        raise LayoutError(
            "this blank has no flat pattern",
            where="placement/projection",
            hint="developed needs a cylinder or a cone; choose equidistant or conformal",
        )
    r0 = float(skin.radius(np.array([x0_mm]), np.zeros(1))[0])
    return Developed(
        skin=skin,
        x0_mm=x0_mm,
        theta0_rad=theta0_rad,
        r0_mm=r0,
        slope=skin.slope,
        sine=abs(skin.slope) / hypot(1.0, skin.slope),
    )


def is_flat_without_turning(skin: Skin) -> bool:
    """Whether the equidistant layout is the flat pattern already: a cylinder, or a cone of equal ends."""
    return isinstance(skin, Cylinder) or (isinstance(skin, Cone) and skin.slope == 0)
