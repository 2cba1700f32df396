"""What every way of measuring gives: one skin on an even grid, how sure it is at each place, and what is to be told."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Sampled, Spread
from engine.kernel.arrays import Bools, Floats, frozen_floats, locked
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding
from engine.kernel.units import TURN_RAD

__all__ = ["Measured", "Readings", "even_angles"]


def even_angles(count: int) -> Floats:
    """(count,) angles from 0 over one turn, radians."""
    return np.asarray(np.arange(count) * (TURN_RAD / count), np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Scattered points of a skin, in the order in which they were taken.

    x_mm, theta_rad, radius_mm : (k,). sigma_mm : (k,) one standard deviation of each; 0 where not known.
    Raises BlankError where the lengths differ or a number is not finite.
    """

    x_mm: Floats
    theta_rad: Floats
    radius_mm: Floats
    sigma_mm: Floats

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad", "radius_mm", "sigma_mm"):
            values = frozen_floats(getattr(self, name))
            if values.ndim != 1 or values.shape != np.shape(self.x_mm) or not np.isfinite(values).all():
                raise BlankError(f"{name} is not a list of one finite number a reading", hint="check the readings")
            object.__setattr__(self, name, values)

    def __len__(self) -> int:
        return len(self.x_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """A measured skin.

    x_mm : (m,) even stations. radius_mm, sigma_mm : (m, n) at `x_mm` and the n even angles from 0 over a turn, the
    second one standard deviation. known : (m, n) False where nothing was seen there and the value is filled in.
    how : pairs of a name and words: the smoothing and how it was chosen, corrections found, what the error is made of.
    readings, residual_mm, used : the (k,) readings behind it, the skin's distance from each (reading minus skin,
    radial) and which were used; none where the way of measuring has none.
    """

    x_mm: Floats
    radius_mm: Floats
    sigma_mm: Floats
    known: Bools
    findings: tuple[Finding, ...] = ()
    how: tuple[tuple[str, str], ...] = ()
    readings: Readings | None = None
    residual_mm: Floats | None = None
    used: Bools | None = None

    def __post_init__(self) -> None:
        for name in ("x_mm", "radius_mm", "sigma_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "known", locked(np.asarray(self.known, np.bool_)))
        shape = (len(self.x_mm), self.radius_mm.shape[-1])
        if not self.radius_mm.shape == self.sigma_mm.shape == self.known.shape == shape:
            raise ValueError("radius, sigma and known are given at every station and angle")
        count = 0 if self.readings is None else len(self.readings)
        if self.residual_mm is not None:
            object.__setattr__(self, "residual_mm", frozen_floats(self.residual_mm))
        if self.used is not None:
            object.__setattr__(self, "used", locked(np.asarray(self.used, np.bool_)))
        if any(np.shape(of) != (count,) for of in (self.residual_mm, self.used) if of is not None):
            raise ValueError("one residual and one used for each reading")

    @property
    def theta_rad(self) -> Floats:
        """(n,) the angles of the grid."""
        return even_angles(self.radius_mm.shape[1])

    @property
    def runout(self) -> tuple[Floats, Floats]:
        """First harmonic of each section: its size (m,) mm and its direction (m,) rad."""
        first = 2.0 * (self.radius_mm * np.exp(-1j * self.theta_rad)).mean(axis=1)
        return np.abs(first), -np.angle(first)

    @property
    def spread(self) -> Spread:
        """How sure the skin is between the places of the grid too, and as one figure."""
        return Spread(x0_mm=float(self.x_mm[0]), x1_mm=float(self.x_mm[-1]), sigma_mm=self.sigma_mm)

    def skin(self, sigma_mm: float | None = None) -> Sampled:
        """The smooth skin through the grid; BlankError where it is too small to carry a cubic.

        sigma_mm : one for all of it; None: as measured place by place.
        """
        spread = self.spread if sigma_mm is None else None
        ends = float(self.x_mm[0]), float(self.x_mm[-1])
        return Sampled.of(self.radius_mm, *ends, sigma_mm=sigma_mm or 0.0, spread=spread)

    def with_findings(self, more: Sequence[Finding]) -> "Measured":
        """The same with more to tell."""
        return replace(self, findings=(*self.findings, *more))
