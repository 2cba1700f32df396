"""The meridian of a skin's mean profile: arc, isometric latitude and band area along the axis, with their inverses.

Takes any skin; gives monotone maps of x that carry the named projections. For a measured skin
the mean over theta stands for the profile. Gauss-Legendre panels give the integrals, cubic Hermite pieces with exact
derivatives the maps, Newton steps the inverses. At a pole the isometric latitude has no bound, so the maps stop where
the radius falls under POLE_MM.
Source: J. P. Snyder, Map Projections - A Working Manual (USGS Professional Paper 1395, 1987), chapter 3.
"""

from collections.abc import Callable

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from engine.blank.skin import Skin
from engine.blank.spline import Sampled
from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.units import TURN_RAD

__all__ = ["Meridian"]

PANELS = 384  # cubic Hermite pieces; with poles' crowding good to 1e-8 of the length on an ovoid
POLE_MM = 1e-3  # of radius: nothing is engraved nearer to a pole
_SETTLED_MM = 1e-7  # of a Newton step: the next would change nothing that a float tells
MEAN_ANGLES = 128  # a mean over equal angles is exact for harmonics below this
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)


class Meridian:
    """Maps along the mean profile of a skin, each 0 at `x0_mm`. All take and give (n,) arrays.

    Raises BlankError where x0 lies outside the blank or at a pole.
    """

    def __init__(self, skin: Skin, x0_mm: float) -> None:
        low, high = skin.x_range_mm
        if not low <= x0_mm <= high:
            raise BlankError(
                f"x {x0_mm:g} lies off the blank, which runs from {low:g} to {high:g}",
                where="placement/x_mm",
                hint="choose a station on the blank",
            )
        self._skin = skin.averaged() if isinstance(skin, Sampled) else skin
        angles = 1 if self._skin.is_round else MEAN_ANGLES
        self._theta = np.linspace(0.0, TURN_RAD, angles, endpoint=False)
        # Nodes crowd towards the ends, where a pole makes the integrands steep.
        self.x: Floats = low + (high - low) * 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, PANELS + 1)))
        keep = self.radius(self.x) > POLE_MM
        self.x = self.x[keep]
        if not (len(self.x) > 2 and self.x[0] <= x0_mm <= self.x[-1]):
            raise BlankError(f"x {x0_mm:g} lies at a pole", where="placement/x_mm", hint="move away from the end")
        r, r_x = self.profile(self.x)
        steps = self._panels()
        self._arc = self._map(steps[0], np.sqrt(1.0 + r_x**2), x0_mm)
        self._isometric = self._map(steps[1], np.sqrt(1.0 + r_x**2) / r, x0_mm)
        self._band = self._map(steps[2], r * np.sqrt(1.0 + r_x**2), x0_mm)

    def radius(self, x_mm: Floats) -> Floats:
        """Mean radius, mm."""
        return np.asarray(self._skin.radius(x_mm[:, None], self._theta[None, :])).mean(axis=1)

    def profile(self, x_mm: Floats) -> tuple[Floats, Floats]:
        """Mean radius and its slope, mm and mm/mm."""
        slope = np.asarray(self._skin.slopes(x_mm[:, None], self._theta[None, :])[0]).mean(axis=1)
        return self.radius(x_mm), slope

    def arc(self, x_mm: Floats) -> Floats:
        """Arc s, the integral of sqrt(1 + r'^2) dx from x0, mm."""
        return np.asarray(self._arc(x_mm))

    def isometric(self, x_mm: Floats) -> Floats:
        """Isometric latitude, the integral of ds / r from x0, a pure number."""
        return np.asarray(self._isometric(x_mm))

    def band(self, x_mm: Floats) -> Floats:
        """Integral of r ds from x0, mm2 a radian of turn."""
        return np.asarray(self._band(x_mm))

    def arc_inverse(self, s_mm: Floats) -> Floats:
        """The x whose arc is s; beyond the blank the end's slope goes on, so that callers can say how far off it is."""
        return self._inverse(self._arc, s_mm)

    def isometric_inverse(self, psi: Floats) -> Floats:
        """The x whose isometric latitude is psi."""
        return self._inverse(self._isometric, psi)

    def band_inverse(self, area: Floats) -> Floats:
        """The x whose band is `area`."""
        return self._inverse(self._band, area)

    def _panels(self) -> Floats:
        """(3, panels): the integrals of ds, ds / r and r ds over each panel."""
        half = 0.5 * np.diff(self.x)
        x = (0.5 * (self.x[1:] + self.x[:-1]))[:, None] + half[:, None] * _NODES[None, :]
        r, r_x = (v.reshape(x.shape) for v in self.profile(x.ravel()))
        ds = np.sqrt(1.0 + r_x**2)
        return np.stack([(f * _WEIGHTS).sum(axis=1) * half for f in (ds, ds / r, r * ds)])

    def _map(self, steps: Floats, slope: Floats, x0_mm: float) -> CubicHermiteSpline:
        total = np.concatenate([np.zeros(1), np.cumsum(steps)])
        raw = CubicHermiteSpline(self.x, total, slope)
        return CubicHermiteSpline(self.x, total - float(raw(x0_mm)), slope)

    def _inverse(self, forward: CubicHermiteSpline, value: Floats) -> Floats:
        held = np.asarray(forward(self.x))
        wanted = np.asarray(value, np.float64)
        x = np.interp(wanted, held, self.x)
        slope: Callable[[Floats], Floats] = forward.derivative()
        inner = (wanted >= held[0]) & (wanted <= held[-1])
        for _ in range(4):  # squares the error each time; interp starts within a panel
            before = x
            x = np.where(inner, np.clip(x - (forward(x) - wanted) / slope(x), self.x[0], self.x[-1]), x)
            if np.abs(x - before).max(initial=0.0) < _SETTLED_MM:
                break
        below, above = wanted < held[0], wanted > held[-1]
        x = np.where(below, self.x[0] + (wanted - held[0]) / slope(self.x[:1]), x)
        return np.where(above, self.x[-1] + (wanted - held[-1]) / slope(self.x[-1:]), x)
