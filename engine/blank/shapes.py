"""Turned shapes with straight sides: the cylinder and the cone."""

from dataclasses import dataclass

import numpy as np

from engine.blank.measures import refuse_no_length
from engine.kernel.arrays import Floats

__all__ = ["Cone", "Cylinder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone:
    """A straight-sided blank from x = 0 to `length_mm`; the diameter runs linearly from one end to the other."""

    diameter_mm: float
    end_diameter_mm: float
    length_mm: float
    sigma_mm: float = 0.0

    def __post_init__(self) -> None:
        refuse_no_length(self, ("diameter_mm", "end_diameter_mm", "length_mm"))

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """From the datum face to the far end."""
        return 0.0, self.length_mm

    @property
    def is_round(self) -> bool:
        """A turned body."""
        return True

    @property
    def slope(self) -> float:
        """dr/dx, the same everywhere."""
        return 0.5 * (self.end_diameter_mm - self.diameter_mm) / self.length_mm

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm; beyond an end the end's own radius."""
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return 0.5 * self.diameter_mm + self.slope * np.clip(x, 0.0, self.length_mm)

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, 0)."""
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.full(x.shape, self.slope), np.zeros(x.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """A round bar from x = 0 to `length_mm`."""

    diameter_mm: float
    length_mm: float
    sigma_mm: float = 0.0

    def __post_init__(self) -> None:
        refuse_no_length(self, ("diameter_mm", "length_mm"))

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """From the datum face to the far end."""
        return 0.0, self.length_mm

    @property
    def is_round(self) -> bool:
        """A turned body."""
        return True

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm."""
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.full(x.shape, 0.5 * self.diameter_mm)

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(0, 0)."""
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.zeros(x.shape), np.zeros(x.shape)
