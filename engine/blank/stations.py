"""Calliper stations: diameters along the axis, joined by a curve that never leaves its neighbours' readings.

Source: F. N. Fritsch, R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17 (1980) 238-246
(from memory), as scipy's PchipInterpolator carries it out.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator, PPoly

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import BlankError

__all__ = ["Stations"]

LEAST_READINGS = 2  # a straight taper
LEAST_STEP_MM = 0.001  # stations closer than a calliper can tell apart are one station


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stations:
    """A turned blank by its readings. x_mm : (n,) rising, n >= 2. diameter_mm : (n,) > 0.

    The blank runs from the first to the last station. Raises BlankError with the reading's own pointer.
    """

    x_mm: Floats
    diameter_mm: Floats
    sigma_mm: float = 0.0
    _curve: PPoly = field(init=False)
    _slope: PPoly = field(init=False)

    def __post_init__(self) -> None:
        for name in ("x_mm", "diameter_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        x, d = self.x_mm, self.diameter_mm
        if x.ndim != 1 or x.shape != d.shape or len(x) < LEAST_READINGS:
            raise BlankError("two readings at least are needed", where="/blank/stations", hint="add a station")
        good = np.isfinite(d) & (d > 0)
        if not good.all():
            k = int(good.argmin())
            raise BlankError("a diameter must be above 0", where=f"/blank/stations/{k}/diameter_mm")
        if not np.isfinite(x).all():
            k = int(np.isfinite(x).argmin())
            raise BlankError("a station must be a number", where=f"/blank/stations/{k}/x_mm")
        rises = np.diff(x) >= LEAST_STEP_MM
        if not rises.all():
            k = int(rises.argmin()) + 1
            raise BlankError(
                f"station {x[k]:g} does not lie beyond the one before it, {x[k - 1]:g}",
                where=f"/blank/stations/{k}/x_mm",
                hint="list the stations in rising order, each once",
            )
        curve = PchipInterpolator(x, 0.5 * d)
        object.__setattr__(self, "_curve", curve)
        object.__setattr__(self, "_slope", curve.derivative())

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """From the first to the last station."""
        return float(self.x_mm[0]), float(self.x_mm[-1])

    @property
    def is_round(self) -> bool:
        """A turned body."""
        return True

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm; beyond an end the end's own radius."""
        return np.asarray(self._curve(self._inside(x_mm, theta_rad)))

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, 0)."""
        x = self._inside(x_mm, theta_rad)
        return np.asarray(self._slope(x)), np.zeros(x.shape)

    def _inside(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        x, _ = np.broadcast_arrays(np.asarray(x_mm, np.float64), theta_rad)
        return np.clip(x, *self.x_range_mm)
