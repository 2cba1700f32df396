"""What is done to a picture before its tone: a value of plain numbers, each part None where it does nothing."""

import math
from dataclasses import dataclass

from engine.artwork.picture.response import Response
from engine.kernel.errors import ArtworkError

__all__ = ["Background", "Crop", "Detail", "Edits", "Levels"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """The part that is kept, as shares of the turned picture's frame from its left and its top."""

    left: float = 0.0
    top: float = 0.0
    right: float = 1.0
    bottom: float = 1.0

    def __post_init__(self) -> None:
        if not (0 <= self.left < self.right <= 1 and 0 <= self.top < self.bottom <= 1):
            raise ArtworkError(
                "nothing is left of the picture",
                where="picture/crop",
                hint="left below right, top below bottom, in 0 to 1",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Greys that become black 0 and white 255, and the exponent 1 / middle between: above 1 lightens."""

    black: float = 0.0
    white: float = 255.0
    middle: float = 1.0

    def __post_init__(self) -> None:
        if not (0 <= self.black < self.white <= 255 and 0 < self.middle < math.inf):
            raise ArtworkError("black must be below white, in 0 to 255", where="picture/levels")


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """How much of what differs from its surroundings is added, and how far those reach on the sheet as placed."""

    amount: float
    radius_mm: float

    def __post_init__(self) -> None:
        if not (0 <= self.amount < math.inf and 0 < self.radius_mm < math.inf):
            raise ArtworkError("an amount of 0 or more and a radius above 0 are needed", where="picture")


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """A plain ground, reached from the border, is made white. tolerance : in shares of black to white, 0 to 1."""

    tolerance: float = 0.08

    def __post_init__(self) -> None:
        if not 0 <= self.tolerance <= 1:
            raise ArtworkError("the tolerance is a number from 0 to 1", where="picture/background/tolerance")


@dataclass(frozen=True, slots=True, kw_only=True)
class Edits:
    """Everything, in the order in which it is done.

    turn_deg : counter-clockwise, about the middle; the frame grows, its corners are white. crop. (Then the picture is
    averaged to the resolution that can be engraved.) denoise : 0 to 1. background. levels. curve : (in, out) points in
    0 to 1, in rising, out never falling. local_contrast. sharpen. response : of tool and material, the last of all,
    after the tone, where a picture is drawn by its light and dark.
    """

    turn_deg: float = 0.0
    crop: Crop | None = None
    denoise: float = 0.0
    background: Background | None = None
    levels: Levels | None = None
    curve: tuple[tuple[float, float], ...] = ()
    local_contrast: Detail | None = None
    sharpen: Detail | None = None
    response: Response | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.turn_deg):
            raise ArtworkError("the turn is not finite", where="picture/turn_deg")
        if not 0 <= self.denoise <= 1:
            raise ArtworkError("denoise is a number from 0 to 1", where="picture/denoise")
        flat = [value for point in self.curve for value in point]
        rises = all(a[0] < b[0] and a[1] <= b[1] for a, b in zip(self.curve, self.curve[1:], strict=False))
        if len(self.curve) == 1 or not rises or not all(0 <= value <= 1 for value in flat):
            raise ArtworkError(
                "the curve does not rise",
                where="picture/curve",
                hint="two points or more, from 0 to 1, in rising order",
            )

    @property
    def moves_pixels(self) -> bool:
        """Whether the frame changes."""
        return self.turn_deg % 360.0 != 0.0 or self.crop not in (None, Crop())

    @property
    def changes_greys(self) -> bool:
        """Whether greys change where they stand."""
        details = any(part is not None and part.amount > 0 for part in (self.local_contrast, self.sharpen))
        levels = self.levels not in (None, Levels())
        return bool(self.denoise or self.background or levels or self.curve or details)
