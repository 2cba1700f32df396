"""The value that every artwork reader gives: what should appear on a flat sheet, mm, x to the right, y UP."""

from dataclasses import dataclass, field

import numpy as np

from engine.artwork.darkness import Darkness
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError
from engine.kernel.ragged import Ragged

__all__ = ["Drawing", "Note"]


def _none() -> Ragged:
    return Ragged(points=np.zeros((0, 2)), offsets=np.zeros(1, np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something that was not used, or used otherwise than written; `times` counts its like, `where` is the first."""

    code: str
    message: str
    where: str = ""
    times: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """What should appear, centred: (0, 0) is the middle of the picture's extent, margins included.

    width_mm, height_mm : the extent. `has_size` is False where the file states no physical size; the numbers are then
    pixels (or user units), good only for the proportion.
    rings : closed outlines (first point repeated at the end) of the filled regions, disjoint and valid; the inside is
    even-odd, so a hole is a ring like any other. Exteriors run counter-clockwise, holes clockwise.
    lines : open lines (closed where first equals last), two points at least.
    darkness : what a picture read for its tone holds in their place, else None.
    """

    width_mm: float
    height_mm: float
    has_size: bool = True
    rings: Ragged = field(default_factory=_none)
    lines: Ragged = field(default_factory=_none)
    darkness: Darkness | None = None
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        if not (0 < self.width_mm < np.inf and 0 < self.height_mm < np.inf):
            raise ArtworkError("the artwork has no size", where="extent")
        for part in (self.rings, self.lines):
            if part.points.shape[1] != 2 or not np.isfinite(part.points).all():
                raise ArtworkError("the artwork holds a number that is not finite", where="points")

    @property
    def places(self) -> Floats:
        """(n, 2) places that span the art: the points of its rings and lines, a net over its picture."""
        parts = [self.rings.points, self.lines.points]
        return np.concatenate([*parts, self.darkness.net] if self.darkness is not None else parts)

    def darkness_in(self, cell_mm: float) -> Darkness | None:
        """How dark the art is: its picture, or how far its regions cover cells of `cell_mm`; None without an area."""
        if self.darkness is None and len(self.rings):
            return Darkness.of_rings(self.rings, cell_mm)
        return self.darkness

    @property
    def is_empty(self) -> bool:
        """True where nothing would be cut."""
        return not len(self.rings) and not len(self.lines) and self.darkness is None
