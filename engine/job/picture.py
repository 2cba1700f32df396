"""The document of a photograph's edits: everything that is done to it, by numbers alone; the file stays as it came."""

from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from engine.artwork import Background, Crop, Detail, DrawingChoice, Edits, Levels, Response
from engine.job.reading import Angle, Document, Name, Share

__all__ = ["DrawingDocument", "PictureDocument", "rises"]

Grey = Annotated[float, Field(ge=0, le=255)]
Pair = tuple[Share, Share]
NO_RISE = 1e-6  # of the covariance: a card without light and dark
Radius = Annotated[float, Field(gt=0, le=100)]


class DrawingDocument(Document):
    """How a DXF file is taken: its unit where it states none (or another), which layers, and whether closed lines are
    filled.
    """

    unit: Literal["mm", "inch", "cm", "m"] | None = None
    layers: Annotated[tuple[Name, ...], Field(min_length=1, max_length=256)] | None = None
    fill_closed: bool = False

    def value(self) -> DrawingChoice:
        """The choice as the reader takes it."""
        return DrawingChoice(unit=self.unit, layers=self.layers, fill_closed=self.fill_closed)


class CropDocument(Document):
    """The part that is kept, in shares of the turned picture's frame from its left and its top."""

    left: Share = 0.0
    top: Share = 0.0
    right: Share = 1.0
    bottom: Share = 1.0

    @model_validator(mode="after")
    def _something_left(self) -> "CropDocument":
        if not (self.left < self.right and self.top < self.bottom):
            raise ValueError("left must lie below right, and top below bottom")
        return self


class LevelsDocument(Document):
    """Greys that become black and white, and the brightness of the middle between."""

    black: Grey = 0.0
    white: Grey = 255.0
    middle: Annotated[float, Field(ge=0.1, le=10)] = 1.0

    @model_validator(mode="after")
    def _black_below(self) -> "LevelsDocument":
        if not self.black < self.white:
            raise ValueError("black must lie below white")
        return self


class LocalContrastDocument(Document):
    """How much of what differs from its surroundings is added, and how far those reach, mm as placed."""

    amount: Share = 0.5
    radius_mm: Radius = 2.0


class SharpenDocument(Document):
    """How much of the finest detail is added, and how fine that is, mm as placed."""

    amount: Annotated[float, Field(ge=0, le=5)] = 1.0
    radius_mm: Radius = 0.2


class BackgroundDocument(Document):
    """A plain ground that is made white, from the border on. tolerance : in shares of black to white."""

    remove: bool = True
    tolerance: Share = 0.08


class StepDocument(Document):
    """One patch of a card of steps: the darkness it asked for, and what it came to."""

    asked: Share
    measured: Share


def rises(steps: Sequence[tuple[float, float]]) -> bool:
    """Whether what was measured grows on the whole with what was asked: (asked, measured) of each step."""
    asked, measured = (fmean(values) for values in zip(*steps, strict=True))
    return sum((a - asked) * (m - measured) for a, m in steps) > NO_RISE


class ResponseDocument(Document):
    """What a tool and a material gave for each darkness asked."""

    steps: Annotated[tuple[StepDocument, ...], Field(min_length=2, max_length=64)]

    @field_validator("steps")
    @classmethod
    def _rising(cls, steps: tuple[StepDocument, ...]) -> tuple[StepDocument, ...]:
        if any(not a.asked < b.asked for a, b in pairwise(steps)):
            raise ValueError("asked must rise from step to step")
        if not rises([(s.asked, s.measured) for s in steps]):
            raise ValueError("measured must rise with asked: 0 is bare skin and 1 is black (was lightness typed?)")
        return steps


class PictureDocument(Document):
    """The edits of a photograph, in the order in which they are done; before the tone, but for the response."""

    turn_deg: Angle = 0.0
    crop: CropDocument | None = None
    denoise: Share = 0.0
    background: BackgroundDocument | None = None
    levels: LevelsDocument | None = None
    curve: Annotated[tuple[Pair, ...], Field(min_length=2, max_length=64)] | None = None
    local_contrast: LocalContrastDocument | None = None
    sharpen: SharpenDocument | None = None
    response: ResponseDocument | None = None

    @field_validator("curve")
    @classmethod
    def _rises(cls, curve: tuple[Pair, ...] | None) -> tuple[Pair, ...] | None:
        if curve is not None and any(not (a[0] < b[0] and a[1] <= b[1]) for a, b in pairwise(curve)):
            raise ValueError("each point must lie to the right of the one before, and none below it")
        return curve

    def value(self) -> Edits:
        """The edits as the reader takes them."""
        ground, steps = self.background, () if self.response is None else self.response.steps
        return Edits(
            turn_deg=self.turn_deg,
            crop=None if self.crop is None else Crop(**self.crop.model_dump()),
            denoise=self.denoise,
            background=Background(tolerance=ground.tolerance) if ground is not None and ground.remove else None,
            levels=None if self.levels is None else Levels(**self.levels.model_dump()),
            curve=self.curve or (),
            local_contrast=None if self.local_contrast is None else Detail(**self.local_contrast.model_dump()),
            sharpen=None if self.sharpen is None else Detail(**self.sharpen.model_dump()),
            response=Response(asked=tuple(s.asked for s in steps), measured=tuple(s.measured for s in steps))
            if steps
            else None,
        )
