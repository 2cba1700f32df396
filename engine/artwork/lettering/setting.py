"""Lettering to a drawing: lines set, letters drawn, united, and bent where they run along an arc."""

from dataclasses import dataclass

import numpy as np
import shapely
from fontTools.misc.transform import Transform

from engine.artwork.drawing import Drawing
from engine.artwork.fills import fill
from engine.artwork.lettering.arc import Arc
from engine.artwork.lettering.characters import lines_of, refuse_undrawn, refuse_unknown
from engine.artwork.lettering.face import Face, SetLine
from engine.artwork.lettering.faces import face_of
from engine.artwork.lettering.text import Align, Text
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.regions import Objects, flat_lines, polygons_of, rings_of
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import EmptyError, TooBigError
from engine.kernel.ragged import Ragged

__all__ = ["CHORD_MM", "Lettering", "set_text"]

CHORD_MM = 0.002  # of flattened curves at the size asked
SIDE_CHORDS = 20_000  # small lettering may be enlarged by its placement
SHARE = {Align.LEFT: 0.0, Align.CENTRE: 0.5, Align.RIGHT: 1.0}
WHERE = "text/string"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lettering:
    """Lettering on its sheet, lines running to the right. capital_mm : height of a plain capital. arc : what its lines
    follow, None where they are straight.
    """

    drawing: Drawing
    capital_mm: float
    arc: Arc | None = None


def set_text(text: Text, font: bytes | None = None, *, limits: Limits | None = None) -> Lettering:
    """The lettering that `text` asks for; `font` holds the bytes of an uploaded font, None takes a shipped face.

    The drawing's extent is by advance width, from the first line's ascent to the last line's descent; lettering along
    an arc takes the box of that strip. Overlapping outlines are united by the nonzero rule.

    Raises
    ------
    ArtworkError, which names what of the text or the font is wrong.
    """
    limits, notes = limits or Limits(), Notes()
    lines = lines_of(text.string, notes, limits)
    face = face_of(text.font, font, limits)
    scale = text.size_mm / face.capital(notes)
    set_lines = [face.line(line, text, text.letter_spacing_mm / scale, notes) for line in lines]
    mend = "upload a font that has them" if face.filled else "take an outline face, or upload a font that has them"
    refuse_unknown((c for line in set_lines for c in line.unknown), face.name, f"{mend}; or use other letters")
    refuse_undrawn((c for line in set_lines for c in line.undrawn), face.name)
    strip = _Strip(text, face, set_lines, scale)
    strip.refuse_too_large(limits)
    arc = None if text.radius_mm is None else Arc.around(text.radius_mm, strip.width, strip.high, strip.low)
    width, height, middle = strip.extent if arc is None else arc.extent(strip.width, strip.high, strip.low)
    chord = min(CHORD_MM, max(width, height) / SIDE_CHORDS)
    regions, strokes = _drawn(face, strip, chord, limits)
    if not len(regions) and not len(strokes):
        raise EmptyError("the letters of the text leave nothing to cut", where=WHERE, hint="type some words")
    rings, open_lines = rings_of(regions), flat_lines(strokes)
    if arc is not None:
        rings, open_lines = arc.bent(rings, chord), arc.bent(open_lines, chord)
    drawing = Drawing(
        width_mm=width,
        height_mm=height,
        rings=_shifted(rings, middle),
        lines=_shifted(open_lines, middle),
        notes=notes.all(),
    )
    return Lettering(drawing=drawing, capital_mm=text.size_mm, arc=None if arc is None else arc.seen_from(middle))


class _Strip:
    """The block of lines in mm: the first line's foot at y = 0, x = 0 at the middle of the longest line."""

    def __init__(self, text: Text, face: Face, lines: list[SetLine], scale: float) -> None:
        self.scale = scale
        self.width = max(line.advance for line in lines) * scale
        step = face.pitch * scale * text.line_spacing
        self.high, self.low = face.ascent * scale, face.descent * scale - step * (len(lines) - 1)
        self.glyphs: Ints = np.concatenate([line.glyphs for line in lines])
        places = [
            line.places * scale
            + ((self.width - line.advance * scale) * SHARE[text.align] - self.width / 2, -step * number)
            for number, line in enumerate(lines)
        ]
        self.places: Floats = np.concatenate(places)

    @property
    def extent(self) -> tuple[float, float, Floats]:
        """Width, height and middle."""
        return self.width, self.high - self.low, np.array([0.0, (self.high + self.low) / 2])

    def refuse_too_large(self, limits: Limits) -> None:
        """TooBigError, EmptyError."""
        if len(self.glyphs) > limits.glyphs:
            raise TooBigError(f"the text is set in over {limits.glyphs:,} glyphs", where=WHERE)
        if not self.width > 0:
            raise EmptyError("the text has no width", where=WHERE, hint="type some words")
        longest = max(self.width, self.high - self.low)
        if not longest < limits.side_mm:
            raise TooBigError(f"the lettering is {longest:.0f} mm of at most {limits.side_mm:g}", where="text/size_mm")


def _drawn(face: Face, strip: _Strip, chord: float, limits: Limits) -> tuple[Objects, Objects]:
    """(regions, linestrings) of every letter at its place; each different letter is drawn once."""
    kinds, first = np.unique(strip.glyphs, return_inverse=True)
    regions: list[Objects] = []
    strokes: list[Objects] = []
    left = limits.points
    for k, glyph in enumerate(kinds.tolist()):
        outline = face.letter(glyph)
        places = strip.places[first == k]
        matrix = Transform(strip.scale, 0, 0, strip.scale, 0, 0)
        points, offsets, _ = outline.flatten(matrix, chord, limits.points, "text/font")
        left -= len(points) * len(places)
        if left < 0:
            raise TooBigError(f"the letters flatten to over {limits.points:,} points", where=WHERE)
        if face.filled:
            regions.append(_at(fill(points, offsets, "nonzero", limits, "text/font"), places))
        elif len(points):
            owner = Ragged(points=points, offsets=offsets).owner
            lines = np.atleast_1d(np.asarray(shapely.linestrings(points, indices=owner), object))
            strokes.append(_at(lines, places))
    return _united(_joined(regions)), _joined(strokes)


def _joined(parts: list[Objects]) -> Objects:
    return np.concatenate(parts) if parts else np.zeros(0, object)


def _at(shapes: Objects, places: Floats) -> Objects:
    """Copies of the shapes at each of the places (n, 2)."""
    points = shapely.get_coordinates(shapes)
    copies = np.tile(shapes, len(places))
    return np.asarray(shapely.set_coordinates(copies, (places[:, None] + points[None]).reshape(-1, 2)), object)


def _united(regions: Objects) -> Objects:
    """The regions with those that touch united."""
    one, other = shapely.STRtree(regions).query(regions, predicate="intersects")
    meets = np.zeros(len(regions), np.bool_)
    meets[one[one != other]] = True
    if not meets.any():
        return regions
    return np.concatenate([regions[~meets], polygons_of(shapely.union_all(regions[meets]))])


def _shifted(part: Ragged, middle: Floats) -> Ragged:
    return Ragged(points=part.points - middle, offsets=part.offsets)
