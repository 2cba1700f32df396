"""What a face is to the setting of lines, whether its letters are outlines or single strokes."""

from dataclasses import dataclass
from typing import Protocol

from engine.artwork.lettering.text import Text
from engine.artwork.notes import Notes
from engine.artwork.svg_outline import Outline
from engine.kernel.arrays import Floats, Ints, frozen_floats, frozen_ints

__all__ = ["Face", "SetLine"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetLine:
    """A line as set, in units of its face. glyphs : (n,) numbers. places : (n, 2) where each has its origin, the line's
    foot at 0, its beginning on the left at 0. advance : the line's width. unknown : what of it the face does not have.
    undrawn : what it has and draws nothing for.
    """

    glyphs: Ints
    places: Floats
    advance: float
    unknown: tuple[str, ...] = ()
    undrawn: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "glyphs", frozen_ints(self.glyphs))
        object.__setattr__(self, "places", frozen_floats(self.places))


class Face(Protocol):
    """A face: its measures in its own units, lines set in it, and its letters."""

    @property
    def name(self) -> str:
        """What messages call it."""

    @property
    def filled(self) -> bool:
        """True where letters are closed outlines, False where they are strokes."""

    @property
    def ascent(self) -> float:
        """From a line's foot up to the top of its strip."""

    @property
    def descent(self) -> float:
        """From a line's foot down to the bottom of its strip, below 0."""

    @property
    def pitch(self) -> float:
        """From one line's foot to the next one's."""

    def capital(self, notes: Notes) -> float:
        """Height of a plain capital; what stands in for it is noted."""

    def line(self, text: str, asked: Text, spacing: float, notes: Notes) -> SetLine:
        """One line set; `spacing` is added between letters, and what is set otherwise than typed is noted."""

    def letter(self, glyph: int) -> Outline:
        """A letter's outline or strokes, the foot of the line at y = 0, y up."""
