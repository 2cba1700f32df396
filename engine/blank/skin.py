"""The skin: what every blank is to the rest of the house, and what follows from r(x, theta) alone."""

from typing import Protocol

import numpy as np

from engine.kernel.arrays import Floats

__all__ = ["Skin", "metric", "tilt_cos"]


class Skin(Protocol):
    """A blank whose skin is r(x, theta): single-valued, positive inside x_range_mm (a pole is an end), periodic."""

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """Least and greatest x of the blank."""

    @property
    def sigma_mm(self) -> float:
        """One standard deviation of the true skin from this description, mm; 0 where exact."""

    @property
    def is_round(self) -> bool:
        """True for a body of revolution about the axis: r does not depend on theta."""

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm; the two broadcast. Outside x_range_mm the end is continued, never NaN."""

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, dr/dtheta): mm/mm and mm/rad, broadcast to the common shape; finite everywhere, also at a pole."""


def metric(r: Floats, r_x: Floats, r_theta: Floats) -> tuple[Floats, Floats, Floats]:
    """First fundamental form (E, F, G) of the skin p = (x, r cos theta, r sin theta).

    Parameters
    ----------
    r : (n,) mm, > 0.    r_x : (n,) mm/mm.    r_theta : (n,) mm/rad.

    Returns
    -------
    E : (n,) = 1 + r_x**2;  F : (n,) mm/rad = r_x r_theta;  G : (n,) mm**2/rad**2 = r**2 + r_theta**2.

    Notes
    -----
    Source: M. do Carmo, Differential Geometry of Curves and Surfaces, section 2-5; checked by finite differences.
    """
    return 1.0 + r_x**2, r_x * r_theta, r**2 + r_theta**2


def tilt_cos(r: Floats, r_x: Floats, r_theta: Floats) -> Floats:
    """Cosine of the angle between the radial tool and the skin's normal (r / sqrt(r2 (1 + rx2) + rt2))."""
    tilt: Floats = r / np.sqrt(r**2 * (1.0 + r_x**2) + r_theta**2)
    return tilt
