"""Lettering along an arc: the strip of lines bent round a point, every height above the foot kept as it was.

A place t along the strip's foot and h above it goes to the angle t / R at the distance R + h from the arc's centre;
R below 0 puts the centre above and the arc bulges down.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import ArtworkError
from engine.kernel.ragged import Ragged, offsets_of, spread

__all__ = ["Arc", "parted"]

EDGE = 720  # places along the strip's edges at which its box is taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arc:
    """radius_mm : of the first line's foot, below 0 for an arc that bulges down. centre_mm : (2,) on the sheet."""

    radius_mm: float
    centre_mm: Floats

    @classmethod
    def around(cls, radius_mm: float, width: float, high: float, low: float) -> "Arc":
        """The arc of a strip with its foot's middle at (0, 0). ArtworkError where the strip does not go round it."""
        inner = radius_mm + (low if radius_mm > 0 else high)
        if inner * radius_mm <= 0:
            deep = -low if radius_mm > 0 else high
            raise ArtworkError(
                f"the lettering reaches {deep:.3g} mm in from its arc of {abs(radius_mm):.3g} mm, past the middle",
                where="text/radius_mm",
                hint="a larger radius, or smaller letters",
            )
        if width > 2 * math.pi * abs(radius_mm):
            raise ArtworkError(
                f"the lettering is {width:.3g} mm long, once round the arc is {2 * math.pi * abs(radius_mm):.3g}",
                where="text/radius_mm",
                hint="a larger radius, or smaller letters",
            )
        return cls(radius_mm=radius_mm, centre_mm=np.array([0.0, -radius_mm]))

    def put(self, along_mm: Floats, above_mm: Floats) -> Floats:
        """(n,) along the foot and above it -> (n, 2) on the sheet."""
        angle, out = along_mm / self.radius_mm, self.radius_mm + above_mm
        return self.centre_mm + np.stack([out * np.sin(angle), out * np.cos(angle)], axis=1)

    def taken(self, places_mm: Floats) -> tuple[Floats, Floats]:
        """The inverse of `put`."""
        sign = math.copysign(1.0, self.radius_mm)
        x, y = ((places_mm - self.centre_mm) * sign).T
        return self.radius_mm * np.arctan2(x, y), sign * np.hypot(x, y) - self.radius_mm

    def extent(self, width: float, high: float, low: float) -> tuple[float, float, Floats]:
        """Width, height and middle of the bent strip's box."""
        along = np.linspace(-width / 2, width / 2, EDGE + 1)
        quarters = np.arange(-4, 5) * (math.pi / 2) * self.radius_mm
        along = np.concatenate([along, quarters[np.abs(quarters) <= width / 2]])
        edge = np.concatenate([self.put(along, np.full(len(along), h)) for h in (high, low)])
        least, most = edge.min(0), edge.max(0)
        return float(most[0] - least[0]), float(most[1] - least[1]), (least + most) / 2

    def seen_from(self, middle: Floats) -> "Arc":
        """The same arc where `middle` is (0, 0)."""
        return replace(self, centre_mm=self.centre_mm - middle)

    def scaled(self, scale: float) -> "Arc":
        """The same arc on a sheet that is enlarged."""
        return Arc(radius_mm=self.radius_mm * scale, centre_mm=self.centre_mm * scale)

    def bent(self, part: Ragged, chord: float) -> Ragged:
        """Runs of the straight strip, bent, no further than `chord` from the true curves."""
        fine = parted(part, math.sqrt(8 * chord * abs(self.radius_mm)))
        return Ragged(points=self.put(fine.points[:, 0], fine.points[:, 1]), offsets=fine.offsets)


def parted(part: Ragged, longest: float) -> Ragged:
    """The runs with points put in evenly, so that no segment is longer than `longest`."""
    points = part.points
    if not len(points):
        return part
    step = np.diff(points, axis=0, append=points[-1:])
    step[part.offsets[1:] - 1] = 0.0
    count: Ints = np.maximum(1, np.ceil(np.hypot(*step.T) / longest - 1e-9)).astype(np.int64)
    share = spread(0, count) / np.repeat(count, count)
    fine = np.repeat(points, count, axis=0) + share[:, None] * np.repeat(step, count, axis=0)
    ends = offsets_of(count)
    return Ragged(points=fine, offsets=ends[part.offsets])
