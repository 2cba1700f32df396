"""Single-stroke faces: letters as the lines that a point follows, each drawn once.

Source of the letters: A. V. Hershey, Calligraphy for computers (1967), as shipped in the package hershey-fonts; in its
data y runs down, the foot of a line is at 9 and the top of a capital at -12.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from HersheyFonts import HersheyFonts

from engine.artwork.lettering.face import SetLine
from engine.artwork.lettering.marks import STAND_INS, Letter, composed
from engine.artwork.lettering.text import Text
from engine.artwork.notes import Notes
from engine.artwork.svg_outline import Outline
from engine.kernel.errors import ArtworkError

__all__ = ["StrokeFace", "stroke_face"]

FOOT, CAPITAL = 9.0, 21.0
ASCENT, DESCENT = 25.0, -7.0  # as far as brackets and tails reach
PITCH = 40.0  # 1.9 capitals, as the outline faces that are shipped; the data states none
DEGREE = "\x7f"  # "with the degree circle tacked on at the end": the data's own words


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeFace:
    """letters : by character, its width and its strokes, y up from the foot, x from the letter's left side."""

    name: str
    letters: Mapping[str, Letter]

    @property
    def filled(self) -> bool:
        """Never: these are strokes."""
        return False

    @property
    def ascent(self) -> float:
        """As far up as brackets reach."""
        return ASCENT

    @property
    def descent(self) -> float:
        """As far down as tails reach, below 0."""
        return DESCENT

    @property
    def pitch(self) -> float:
        """From one line's foot to the next one's."""
        return PITCH

    def capital(self, notes: Notes) -> float:
        """Height of a plain capital."""
        return CAPITAL

    def line(self, text: str, asked: Text, spacing: float, notes: Notes) -> SetLine:
        """One line, letter by letter from the left: these faces hold no script that runs the other way."""
        if asked.features:
            raise ArtworkError("a single-stroke face has no features", where="text/features", hint="leave them out")
        for c in dict.fromkeys(text):
            if c in STAND_INS:
                notes.add("stand-in", f"the face {self.name} sets {c!r} as {STAND_INS[c]!r}", "text/string")
        text = "".join(STAND_INS.get(c, c) for c in text)
        drawn = {c: self._drawn(c) for c in text}
        unknown = tuple(c for c, letter in drawn.items() if letter is None)
        text = "".join(c for c in text if drawn[c] is not None)
        widths = np.array([letter[0] + spacing for letter in map(drawn.__getitem__, text) if letter is not None])
        begins = np.concatenate([np.zeros(1), np.cumsum(widths)])
        places = np.stack([begins[:-1], np.zeros(len(text))], axis=1)
        advance = float(begins[-1]) - (spacing if text else 0.0)
        glyphs = np.array([ord(c) for c in text], np.int64)
        return SetLine(glyphs=glyphs, places=places, advance=advance, unknown=unknown)

    def _drawn(self, character: str) -> Letter | None:
        return self.letters.get(character) or composed(character, self.letters)

    def letter(self, glyph: int) -> Outline:
        """A letter's strokes."""
        pen = Outline()
        _, strokes = self._drawn(chr(glyph)) or self.letters[" "]
        for stroke in strokes:
            pen.move(stroke[0])
            for point in stroke[1:]:
                pen.line(point)
        return pen


@lru_cache(maxsize=8)
def stroke_face(name: str, table: str) -> StrokeFace:
    """The face that the package calls `table`."""
    held = HersheyFonts()
    held.load_default_font(table)
    letters: dict[str, Letter] = {}
    for character, glyph in held.all_glyphs.items():
        left = float(glyph.left_offset)
        strokes = tuple(tuple((x - left, FOOT - y) for x, y in stroke) for stroke in glyph.strokes if len(stroke) > 1)
        letters["°" if character == DEGREE else character] = (float(glyph.char_width), strokes)
    letters["\u00a0"] = letters[" "]
    return StrokeFace(name=name, letters=letters)
