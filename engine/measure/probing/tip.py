"""From where a ball's centre stood to where the ball touched.

The centres lie on a surface of their own, everywhere the ball's radius off the skin along the normal that both share
(parallel surfaces: do Carmo, Differential Geometry of Curves and Surfaces, section 3-5, exercise 11, from memory). So
where a surface was fitted to the centres one step along its normal is exact (`contacts`); where the slopes of the skin
itself are known, at the places touched, those places are sought (`tip_corrected`). Refuses (BlankError) balls that do
not fit into the skin's hollows, and contacts beyond the axis.
"""

from collections.abc import Callable

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings

__all__ = ["Slopes", "contacts", "tip_corrected"]

# (x_mm, theta_rad) to (dr/dx, dr/dtheta), unitless and mm/rad: a skin's `slopes`.
Slopes = Callable[[Floats, Floats], tuple[Floats, Floats]]
MOST_STEPS = 400  # of a search that goes half of each step; what has not settled by then does not
SAME_MM = 1e-10
EASED = 0.5  # share of each step: settles where the ball is up to three times the skin's least radius of curvature


def contacts(centres: Readings, slopes: Slopes, *, tip_radius_mm: float) -> Readings:
    """Where the ball touched, the slopes being those of the surface through the centres, at the centres."""
    place = _cartesian(centres.x_mm, centres.theta_rad, centres.radius_mm)
    r_x, r_theta = slopes(centres.x_mm, centres.theta_rad)
    normal = _normal(centres.theta_rad, centres.radius_mm, r_x, r_theta)
    return _readings(place - tip_radius_mm * normal, centres)


def tip_corrected(centres: Readings, slopes: Slopes, *, tip_radius_mm: float) -> Readings:
    """Where the ball touched, the slopes being those of the skin, at the places touched."""
    centre = _cartesian(centres.x_mm, centres.theta_rad, centres.radius_mm)
    x, theta, r = centres.x_mm, centres.theta_rad, np.maximum(centres.radius_mm - tip_radius_mm, 1e-6)
    touched = _cartesian(x, theta, r)
    for _ in range(MOST_STEPS):
        r_x, r_theta = slopes(x, theta)
        step = centre - tip_radius_mm * _normal(theta, r, r_x, r_theta) - touched
        if not np.isfinite(step).all():
            raise BlankError(
                "the skin has no slope at a place that was touched",
                where="/tip_radius_mm",
                hint="leave out touches near a pole",
            )
        touched = touched + EASED * step
        x, theta, r = _polar(touched, centres.theta_rad)
        if np.abs(step).max(initial=0.0) < SAME_MM:
            return _readings(touched, centres)
    worst = int(np.abs(step).max(axis=0).argmax())
    raise BlankError(
        f"at x {centres.x_mm[worst]:.3f} mm, angle {np.degrees(centres.theta_rad[worst]):.2f} no place is found where "
        "the ball touched: it does not fit into the skin there",
        where="/tip_radius_mm",
        hint="check the ball's radius, or smooth the skin more",
    )


def _cartesian(x: Floats, theta: Floats, r: Floats) -> Floats:
    """(3, k) mm: along the axis, and across it towards theta 0 and towards a quarter turn."""
    return np.stack([x, r * np.cos(theta), r * np.sin(theta)])


def _normal(theta: Floats, r: Floats, r_x: Floats, r_theta: Floats) -> Floats:
    """(3, k) outward unit normals of r(x, theta): the gradient of (distance from the axis) - r."""
    around = r_theta / np.maximum(r, 1e-9)
    cos, sin = np.cos(theta), np.sin(theta)
    along = np.broadcast_to(-r_x, theta.shape)
    normal = np.stack([along, cos + around * sin, sin - around * cos])
    return np.asarray(normal / np.sqrt((normal**2).sum(axis=0)), np.float64)


def _polar(place: Floats, near_rad: Floats) -> tuple[Floats, Floats, Floats]:
    """x, theta within half a turn of near_rad, r."""
    x, across, aside = place
    theta = np.arctan2(aside, across)
    theta = near_rad + np.mod(theta - near_rad + np.pi, TURN_RAD) - np.pi
    return x, np.asarray(theta, np.float64), np.asarray(np.hypot(across, aside), np.float64)


def _readings(place: Floats, centres: Readings) -> Readings:
    x, theta, r = _polar(place, centres.theta_rad)
    if (np.abs(theta - centres.theta_rad) > 0.5 * np.pi).any():
        raise BlankError(
            "a ball of that radius would have touched beyond the axis", where="/tip_radius_mm", hint="check its radius"
        )
    return Readings(x_mm=x, theta_rad=theta, radius_mm=r, sigma_mm=centres.sigma_mm)
