"""The documents of how art is arranged: copies round the axis, borders and frames; and what of them does not fit.

Takes the artwork's documents; gives the placements of every copy, the border's value, and problems that only show
where two fields, or two pieces of art, are looked at together.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Annotated, Literal, Protocol

from pydantic import Field, ValidationInfo, field_validator

from engine.artwork.border import MOST, Border
from engine.artwork.motifs import Kind
from engine.job.reading import Angle, Document, Length, Position, pointer
from engine.kernel.errors import Problem
from engine.layout import Placement

__all__ = ["MOST_PIECES", "Arranged", "BorderDocument", "RepeatDocument", "arranging_problems", "copies_of"]

MOST_PIECES = 256  # of all copies of all art: a plan of more would not fit a worker's time
CLOSING = ("equidistant", "conformal", "equal-area", "developed")  # a straight line across the sheet may be a circle
SMALL_DEG = 1e-9  # a turn that is off by no more is level


class RepeatDocument(Document):
    """Copies of a piece of art round the axis; it is one piece all the same, and the first copy is where it is placed.

    every_deg null is 360 / times. step_mm : along the axis, from copy to copy. mirror alternate : every other copy is
    its neighbour's mirror image. fit : the art is so wide that its copies meet round the circle through its centre.
    """

    times: Annotated[int, Field(ge=2, le=MOST_PIECES)]
    every_deg: Angle | None = None
    step_mm: Position = 0.0
    mirror: Literal["none", "alternate"] = "none"
    fit: bool = False

    @field_validator("fit")
    @classmethod
    def _meets(cls, fit: bool, info: ValidationInfo) -> bool:
        if fit and (info.data.get("every_deg") is not None or info.data.get("step_mm")):
            raise ValueError("false where every_deg or step_mm is given: only copies once round can meet")
        if fit and info.data.get("mirror") == "alternate" and info.data.get("times", 0) % 2:
            raise ValueError(
                "false where an odd number of copies alternate: the last and the first would be alike and not meet; "
                "an even number does"
            )
        return fit

    def placements(self, first: Placement) -> tuple[Placement, ...]:
        """Where each copy lies, the first one first. A mirrored copy is turned the other way, as its image would be;
        each copy has an eye of its own, that sees it as the eye of the first sees that.
        """
        return tuple(self._placement(first, k) for k in range(self.times))

    def _placement(self, first: Placement, k: int) -> Placement:
        mirrored = self.mirror == "alternate" and k % 2 == 1
        way = -1.0 if mirrored else 1.0
        along = k * self.step_mm
        angle = first.angle_deg + k * (360.0 / self.times if self.every_deg is None else self.every_deg)
        eye = first.eye
        if eye is not None:
            aside = way * (eye.angle_deg - first.angle_deg)
            eye = replace(eye, x_mm=eye.x_mm + along, angle_deg=angle + aside)
        return replace(
            first,
            x_mm=first.x_mm + along,
            angle_deg=angle,
            mirror=first.mirror != mirrored,
            turn_deg=way * first.turn_deg + 0.0,  # no -0
            eye=eye,
        )


class BorderDocument(Document):
    """A border in the place of a file: once round the blank, or a frame round another piece of art.

    times null is as many motifs as look well; a line has none. around : place in `artwork` of the piece that a frame
    goes round. margin_mm : from that piece's extent to the frame. corner_mm : radius of a frame's middle line at its
    corners; null is the margin and half the height.
    """

    kind: Literal["line", "double", "rope", "wave", "zigzag", "leaves"]
    height_mm: Length = 3.0
    along: Literal["circle", "frame"] = "circle"
    times: Annotated[int, Field(ge=1, le=MOST)] | None = None
    around: Annotated[int, Field(ge=0)] | None = Field(default=None, validate_default=True)
    margin_mm: Annotated[float, Field(ge=0, le=1000)] = 0.0
    corner_mm: Length | None = None

    @field_validator("times")
    @classmethod
    def _has_motifs(cls, times: int | None, info: ValidationInfo) -> int | None:
        if times is not None and info.data.get("kind") in ("line", "double"):
            raise ValueError("none: a line has no motifs")
        return times

    @field_validator("around")
    @classmethod
    def _of_a_frame(cls, around: int | None, info: ValidationInfo) -> int | None:
        along = info.data.get("along")
        if along == "frame" and around is None:
            raise ValueError("the place in artwork, from 0, of the piece that the frame goes round")
        if along == "circle" and around is not None:
            raise ValueError("none: this border goes round the blank")
        return around

    @field_validator("margin_mm", "corner_mm")
    @classmethod
    def _shapes_a_frame(cls, length_mm: float | None, info: ValidationInfo) -> float | None:
        if info.data.get("along") == "circle" and length_mm:
            raise ValueError("none: only a frame has a margin and corners")
        height = info.data.get("height_mm")
        if info.field_name == "corner_mm" and length_mm and height and length_mm < 0.5 * height:
            raise ValueError("at least half of height_mm")
        return length_mm

    def value(self) -> Border:
        """The border as its drawing takes it."""
        return Border(
            kind=Kind(self.kind),
            height_mm=self.height_mm,
            times=self.times,
            margin_mm=self.margin_mm,
            corner_mm=self.corner_mm,
        )


class _Placed(Protocol):
    """What is asked of a placement's document."""

    @property
    def width_mm(self) -> float | None: ...
    @property
    def height_mm(self) -> float | None: ...
    @property
    def turn_deg(self) -> float: ...
    @property
    def projection(self) -> str: ...


class Arranged(Protocol):
    """What is asked of an artwork's document."""

    @property
    def placement(self) -> _Placed:
        """Where its first copy lies."""

    @property
    def repeat(self) -> RepeatDocument | None:
        """Its copies; None: it is one."""

    @property
    def border(self) -> BorderDocument | None:
        """What it is where it is a border or a frame."""


def copies_of(artwork: Sequence[Arranged], placements: Sequence[Placement], k: int) -> tuple[Placement, ...]:
    """Where every copy of a piece of art lies, from the placements of all first copies.

    A frame's copies lie as those of the piece that it goes round, and are mirrored where those are its mirror images;
    their size is not said.
    """
    border, repeat = artwork[k].border, artwork[k].repeat
    if border is not None and border.around is not None:
        inner = copies_of(artwork, placements, border.around)
        mirrored = [place.mirror != inner[0].mirror for place in inner]
        return tuple(
            replace(place, width_mm=None, height_mm=None, mirror=image)
            for place, image in zip(inner, mirrored, strict=True)
        )
    return (placements[k],) if repeat is None else repeat.placements(placements[k])


def arranging_problems(artwork: Sequence[Arranged]) -> list[Problem]:
    """What of copies, borders and frames does not fit together; looked at before any copy is made."""
    problems = [problem for k in range(len(artwork)) for problem in _problems(artwork, k)]
    if problems:
        return problems
    pieces = 0
    for k, item in enumerate(artwork):
        source = artwork[item.border.around] if item.border and item.border.around is not None else item
        count = source.repeat.times if source.repeat is not None else 1
        pieces += count
        if pieces > MOST_PIECES:
            place = pointer("artwork", k, "repeat", "times") if item.repeat else pointer("artwork", k, "border")
            return [Problem(pointer=place, given=count, allowed=f"at most {MOST_PIECES} pieces in the whole job")]
    return []


def _problems(artwork: Sequence[Arranged], k: int) -> Iterator[Problem]:
    item = artwork[k]
    place = item.placement

    def problem(given: str | float | None, allowed: str, *where: str) -> Problem:
        return Problem(pointer=pointer("artwork", k, *where), given=given, allowed=allowed)

    if item.repeat is not None and item.repeat.fit:
        if place.width_mm is not None:
            yield problem(place.width_mm, "no width where copies are fitted round", "placement", "width_mm")
        if not _level(place.turn_deg):
            yield problem(place.turn_deg, "0 or 180 where copies are fitted round", "placement", "turn_deg")
    if item.border is None:
        return
    if item.border.around is not None:
        inner = artwork[item.border.around] if item.border.around < len(artwork) else None
        if inner is None or item.border.around == k or inner.border is not None:
            yield problem(item.border.around, "a piece of art that is no border itself", "border", "around")
        if item.repeat is not None:
            yield problem(None, "none: a frame goes round every copy of its piece", "repeat")
        return
    for name, size in (("width_mm", place.width_mm), ("height_mm", place.height_mm)):
        if size is not None:
            yield problem(size, "none: the border's own height and the blank's girth are its size", "placement", name)
    if not _level(place.turn_deg):
        yield problem(place.turn_deg, "0 or 180: a border round the blank lies level", "placement", "turn_deg")
    if place.projection not in CLOSING:
        allowed = f"{', '.join(CLOSING)}: a border closes where straight lines across the sheet are circles"
        yield problem(place.projection, allowed, "placement", "projection")
    if item.repeat is not None and item.repeat.fit:
        yield problem(None, "false: a border fits round the blank by itself", "repeat", "fit")


def _level(turn_deg: float) -> bool:
    return abs((turn_deg + 90.0) % 180.0 - 90.0) < SMALL_DEG
