"""The document of lettering: what was typed, in which face, how tall, and what its lines run along."""

import re
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from engine.artwork import Limits
from engine.artwork.lettering import Align, Along, Direction, Text
from engine.job.reading import LONGEST_MM, SHORTEST_MM, Document, Name

__all__ = ["TextDocument", "first_words"]

MOST_CALLED = 40  # characters of a text that stand for it where it is named

Feature = Annotated[str, Field(pattern=r"^-?[A-Za-z0-9]{4}$")]


class TextDocument(Document):
    """Lettering in the place of a file.

    font : a shipped face's name, or the id of an uploaded font. size_mm : height of a plain capital. true_size null :
    letters stand at their true height on the skin where the placement names no projection.
    """

    string: Annotated[
        str, Field(min_length=1, max_length=Limits().characters, pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$")
    ]
    font: Name = "sans"
    size_mm: Annotated[float, Field(ge=0.1, le=1_000)]
    align: Literal["left", "centre", "right"] = "centre"
    line_spacing: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    letter_spacing_mm: Annotated[float, Field(ge=-100, le=100)] = 0.0
    direction: Literal["auto", "ltr", "rtl"] = "auto"
    features: Annotated[tuple[Feature, ...], Field(max_length=32)] = ()
    along: Literal["line", "axis", "helix", "arc"] = "line"
    radius_mm: Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM)] | None = Field(
        default=None, validate_default=True
    )
    climb_deg: Annotated[float, Field(ge=-90, le=90)] = Field(default=0.0, validate_default=True)
    true_size: bool | None = None

    @field_validator("radius_mm")
    @classmethod
    def _of_an_arc(cls, radius_mm: float | None, info: ValidationInfo) -> float | None:
        if "along" not in info.data:
            return radius_mm
        if (info.data["along"] == "arc") != (radius_mm is not None):
            raise ValueError("a radius, along an arc; none otherwise")
        if radius_mm is not None and abs(radius_mm) < SHORTEST_MM:
            raise ValueError(f"a radius of {SHORTEST_MM:g} mm at least; below 0 the arc bulges down")
        return radius_mm

    @field_validator("climb_deg")
    @classmethod
    def _of_a_helix(cls, climb_deg: float, info: ValidationInfo) -> float:
        if info.data.get("along", "helix") != "helix" and climb_deg:
            raise ValueError("0: only a helix climbs")
        return climb_deg

    def value(self, *, true_size: bool) -> Text:
        """The lettering as its setting takes it; `true_size` stands in where the document says nothing of it."""
        return Text(
            string=self.string,
            font=self.font,
            size_mm=self.size_mm,
            align=Align(self.align),
            line_spacing=self.line_spacing,
            letter_spacing_mm=self.letter_spacing_mm,
            direction=Direction(self.direction),
            features=self.features,
            along=Along(self.along),
            radius_mm=self.radius_mm,
            climb_deg=self.climb_deg,
            true_size=true_size if self.true_size is None else self.true_size,
        )


def first_words(string: str) -> str:
    """What a text is called: its first line that is not blank, shortened at a word; empty where there is none."""
    lines = (re.sub("[ \t]+", " ", line).strip(" ") for line in re.split("[\n\r\u2028\u2029]", string))
    line = next((line for line in lines if line), "")
    if len(line) <= MOST_CALLED:
        return line
    head = line[: MOST_CALLED - 1]
    end = head.rfind(" ") if line[MOST_CALLED - 1] != " " else len(head)
    return (head[:end] if end > MOST_CALLED // 2 else head).rstrip(" ") + "…"
