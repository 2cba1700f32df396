"""An egg by the published four-reading curve: length, breadth, shift of the breadth, diameter a quarter from the point.

Source: V. G. Narushin, M. N. Romanov, D. K. Griffin, "Egg and math: introducing a universal formula for egg shape",
Ann. N.Y. Acad. Sci. 1505 (2021) 169-177, eq. (5). Stations run from the blunt end: station = curve x + length / 2.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank.measures import refuse_no_length
from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError

__all__ = ["Ovoid"]

_POLE = 1e-9  # least (L2 - 4 x2) / f4, so that slopes stay finite at the very ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Ovoid:
    """The four-reading curve. shift_mm > 0 moves the greatest breadth towards the blunt end, station 0.

    Raises BlankError where the readings give no real curve, or one that is not positive inside.
    """

    length_mm: float
    breadth_mm: float
    shift_mm: float
    quarter_diameter_mm: float
    sigma_mm: float = 0.0

    def __post_init__(self) -> None:
        refuse_no_length(self, ("length_mm", "breadth_mm", "quarter_diameter_mm"))
        L, w = self.length_mm, self.shift_mm
        if not abs(w) < 0.5 * L:
            raise BlankError(
                "the greatest breadth lies off the egg", where="/blank/shift_mm", hint="less than half the length"
            )
        if not self.quarter_diameter_mm <= self.breadth_mm:
            raise BlankError(
                "the diameter a quarter from the point is greater than the breadth",
                where="/blank/quarter_diameter_mm",
                hint="check which reading is which",
            )
        x = np.linspace(-0.5 * L, 0.5 * L, 2001)[1:-1]
        f4, q = self._f4(x), self._q(x)
        ratio = self._f1 - 2.0 * self._f2
        if not (5.5 * L * L + 11.0 * L * w + 4.0 * w * w > 0 and L * L + 2.0 * L * w + 4.0 * w * w > 0 and ratio != 0):
            raise BlankError("these readings give no real curve", where="/blank/shift_mm", hint="a smaller shift")
        if not ((f4 > 0).all() and (q > 0).all()):
            raise BlankError("these readings give no real curve", where="/blank/shift_mm", hint="a smaller shift")
        if not (self._taper(x) > 0).all():
            raise BlankError(
                "the curve through these readings falls below the axis",
                where="/blank/quarter_diameter_mm",
                hint=f"near {np.sqrt(3.0) * self.breadth_mm * L / (2.0 * self._f2):.4g} mm for a plain oval",
            )

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """From the blunt end to the pointed one."""
        return 0.0, self.length_mm

    @property
    def is_round(self) -> bool:
        """A body of revolution."""
        return True

    @property
    def _f1(self) -> float:
        L, w = self.length_mm, self.shift_mm
        return float(np.sqrt(np.maximum(5.5 * L * L + 11.0 * L * w + 4.0 * w * w, 0.0)))

    @property
    def _f2(self) -> float:
        L, w = self.length_mm, self.shift_mm
        return float(np.sqrt(L * L + 2.0 * w * L + 4.0 * w * w))

    @property
    def _k(self) -> float:
        """The factor of the second brace: f1 (f3 - 2 D f2) / (f3 (f1 - 2 f2))."""
        f1, f2 = self._f1, self._f2
        f3 = np.sqrt(3.0) * self.breadth_mm * self.length_mm
        return float(f1 * (f3 - 2.0 * self.quarter_diameter_mm * f2) / (f3 * (f1 - 2.0 * f2)))

    def _f4(self, x: Floats) -> Floats:
        L, w = self.length_mm, self.shift_mm
        return L * L + 8.0 * w * x + 4.0 * w * w

    def _q(self, x: Floats) -> Floats:
        L, w = self.length_mm, self.shift_mm
        return (
            2.0 * (L - 2.0 * w) * x * x + (L * L + 8.0 * L * w - 4.0 * w * w) * x + 2.0 * L * w * w + L * L * w + L**3
        )

    def _taper(self, x: Floats) -> Floats:
        return 1.0 - self._k * (1.0 - np.sqrt(self.length_mm * self._f4(x) / self._q(x)))

    def _curve_x(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        x, _ = np.broadcast_arrays(np.asarray(x_mm, np.float64), theta_rad)
        return np.clip(x, 0.0, self.length_mm) - 0.5 * self.length_mm

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm; 0 at the two ends."""
        x = self._curve_x(x_mm, theta_rad)
        oval = np.sqrt(np.maximum(self.length_mm**2 - 4.0 * x * x, 0.0) / self._f4(x))
        return 0.5 * self.breadth_mm * oval * self._taper(x)

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, 0); at the very ends a large finite slope stands for the vertical one."""
        x = self._curve_x(x_mm, theta_rad)
        L, w = self.length_mm, self.shift_mm
        f4, q, rest = self._f4(x), self._q(x), L * L - 4.0 * x * x
        P = np.maximum(rest / f4, _POLE)
        S = np.sqrt(L * f4 / q)
        dP = (-8.0 * x * f4 - 8.0 * w * rest) / (f4 * f4)
        dq = 4.0 * (L - 2.0 * w) * x + (L * L + 8.0 * L * w - 4.0 * w * w)
        dS = L * (8.0 * w * q - f4 * dq) / (2.0 * S * q * q)
        root = np.sqrt(P)
        slope = 0.5 * self.breadth_mm * (dP / (2.0 * root) * (1.0 - self._k * (1.0 - S)) + root * self._k * dS)
        return slope, np.zeros(x.shape)
