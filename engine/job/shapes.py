"""What every blank's document may say beside its own measures."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, NamedTuple

from pydantic import Field, ValidationInfo, field_validator

from engine.job.reading import Document, Length, Position, Words
from engine.kernel.errors import EngineError

__all__ = [
    "UNSTATED_MM",
    "Asking",
    "BlankShape",
    "DescribedShape",
    "Deviation",
    "KeepOutDocument",
    "Needed",
    "below_blank",
]

UNSTATED_MM = 0.05
Deviation = Annotated[float, Field(ge=0, le=100)]


class Needed(NamedTuple):
    """An uploaded file that a document is made of: where it is named, its id, the kinds it may be, and what that is."""

    place: str
    asset: str
    kinds: tuple[str, ...]
    what: str


@contextmanager
def below_blank() -> Iterator[None]:
    """What is wrong with how a job's blank was measured has its place below the blank."""
    try:
        yield
    except EngineError as exc:
        exc.where = "/blank" + exc.where
        raise


class Asking(Document):
    """A document that may be made of uploaded files."""

    def needed(self) -> Iterator[Needed]:
        """The files, their places below the document's own."""
        return iter(())


class KeepOutDocument(Document):
    """A stretch of the axis where hardware stands: chuck, tailstock, steady.

    radius_mm : how far from the axis it reaches; null is not known: taken to reach as far as the blank does anywhere.
    """

    from_mm: Position
    to_mm: Position
    why: Words = ""
    radius_mm: Length | None = None

    @field_validator("to_mm")
    @classmethod
    def _after_from(cls, to_mm: float, info: ValidationInfo) -> float:
        start = info.data.get("from_mm")
        if start is not None and not start < to_mm:
            raise ValueError("to_mm must lie above from_mm")
        return to_mm


class BlankShape(Asking):
    """What every shape may say beside its own measures. wall_min_mm : how much of the wall is to be left.

    seam_deg : the angle at which pictures of the whole skin are opened, and at which what is cut once round begins.
    """

    material: Words = ""
    wall_mm: Length | None = None
    wall_min_mm: Annotated[float, Field(ge=0, le=1000)] = 0.0
    keep_out: tuple[KeepOutDocument, ...] = Field(default=(), max_length=32)
    seam_deg: Annotated[float, Field(ge=-360, le=360)] = 180.0

    @field_validator("wall_min_mm")
    @classmethod
    def _within_the_wall(cls, wall_min_mm: float, info: ValidationInfo) -> float:
        wall = info.data.get("wall_mm")
        if wall_min_mm > 0 and "wall_mm" in info.data and (wall is None or not wall_min_mm < wall):
            raise ValueError("wall_min_mm must be less than wall_mm" if wall else "wall_min_mm needs wall_mm")
        return wall_min_mm


class DescribedShape(BlankShape):
    """A shape given by a few readings.

    radius_error_mm : one standard deviation of the true skin from this description; 0.05 is what careful calliper
    readings reach (common practice, no source).
    """

    radius_error_mm: Deviation = UNSTATED_MM
