"""TrueType and OpenType fonts: bytes to a face whose lines are shaped and whose letters are outlines.

Shaping (kerning, ligatures, marks, scripts that run right to left) and the reading of the tables are HarfBuzz's, which
bounds recursion, operations and points of hostile fonts. Source of the formats: ISO/IEC 14496-22 (Open Font Format).
"""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import uharfbuzz as hb

from engine.artwork.lettering.bidi import Run, runs_of
from engine.artwork.lettering.face import SetLine
from engine.artwork.lettering.text import Direction, Text
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.svg_outline import Outline
from engine.kernel.errors import NotArtworkError, TooBigError

__all__ = ["OutlineFace", "outline_face", "read_font"]

FINER = 64  # steps a font unit in which positions are told
NEEDED = ("cmap", "head", "hhea", "hmtx", "maxp")
OUTLINES = ("glyf", "CFF ", "CFF2")
SPACED = ("liga", "clig")  # ligatures that letter spacing would tear
SEEN = "LNPS"  # letters, numbers, punctuation, symbols: Unicode's general categories
BLANKS = "\u115f\u1160\u2800\u3164\uffa0"  # fillers and the blank Braille pattern, of those categories and empty
WHERE = "text/font"
RIGHTWARD = {Direction.AUTO: None, Direction.LTR: True, Direction.RTL: False}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineFace:
    """A face of outlines; measures in `FINER` steps a font unit. most_points : of one letter. features : by tag."""

    name: str
    font: hb.Font
    ascent: float
    descent: float
    pitch: float
    count: int
    most_points: int
    features: frozenset[str]

    @property
    def filled(self) -> bool:
        """Always: letters are closed outlines."""
        return True

    def capital(self, notes: Notes) -> float:
        """Height of the H; where there is none, what the font states of capitals, else its ascent: noted."""
        if self.count > 1:
            notes.add("collection", f"of the collection's {self.count} faces the first, {self.name}, is used", WHERE)
        glyph = self.font.get_nominal_glyph(ord("H"))
        extents = self.font.get_glyph_extents(glyph) if glyph else None
        if extents is not None and extents.height < 0:
            return float(-extents.height)
        stated = self.font.get_metric_position(hb.OTMetricsTag.CAP_HEIGHT)
        what = "the height of capitals that it states" if stated and stated > 0 else "its ascent"
        notes.add("capital", f"the face {self.name} has no H: its size is {what}", "text/size_mm")
        return float(stated) if stated and stated > 0 else self.ascent

    def line(self, text: str, asked: Text, spacing: float, notes: Notes) -> SetLine:
        """One line shaped, run by run, from the left; `spacing` goes between clusters and parts ligatures."""
        features = {tag.removeprefix("-"): not tag.startswith("-") for tag in asked.features}
        for tag in sorted(tag for tag, wanted in features.items() if wanted and tag not in self.features):
            notes.add("feature", f"the face {self.name} has no feature {tag}", "text/features")
        if spacing:
            features = dict.fromkeys(SPACED, False) | features
        glyphs: list[int] = []
        rows: list[tuple[float, ...]] = []
        unknown, used = set[int](), dict[tuple[str, int], None]()
        for run in runs_of(text, RIGHTWARD[asked.direction]):
            buffer = self._shaped(text, run, features)
            infos, positions = buffer.glyph_infos, buffer.glyph_positions
            clusters = [info.cluster for info in infos]
            ends = [a != b for a, b in zip(clusters, [*clusters[1:], -1], strict=True)]
            glyphs += [info.codepoint for info in infos]
            rows += [(*p.position, float(end)) for p, end in zip(positions, ends, strict=True)]
            unknown |= set(_unknown(infos, run))
            used |= dict.fromkeys((text[info.cluster], info.codepoint) for info in infos)
        table = np.array(rows).reshape(-1, 5)
        advances = table[:, 2:4] + np.outer(table[:, 4], (spacing, 0.0))
        pen = np.concatenate([np.zeros((1, 2)), np.cumsum(advances, axis=0)])
        width = float(pen[-1, 0]) - (spacing if len(rows) else 0.0)
        missing = tuple(text[k] for k in sorted(unknown))
        places = pen[:-1] + table[:, :2]
        undrawn = tuple(c for c, glyph in used if self._draws_nothing(c, glyph))
        return SetLine(
            glyphs=np.array(glyphs, np.int64), places=places, advance=width, unknown=missing, undrawn=undrawn
        )

    def _draws_nothing(self, character: str, glyph: int) -> bool:
        """Whether the face's own glyph of a character that is seen is empty, as that of a broken font is. What shaping
        put in its place may be: some fonts draw a ligature in one glyph and nothing in the others.
        """
        seen = unicodedata.category(character)[0] in SEEN and character not in BLANKS
        own = bool(glyph) and seen and self.font.get_nominal_glyph(ord(character)) == glyph
        return own and not self.letter(glyph).is_drawn

    def _shaped(self, text: str, run: Run, features: dict[str, bool]) -> hb.Buffer:
        buffer = hb.Buffer()
        buffer.add_codepoints([ord(c) for c in text], run.start, run.end - run.start)
        buffer.cluster_level = hb.BufferClusterLevel.MONOTONE_CHARACTERS
        buffer.direction, buffer.script = ("ltr" if run.rightward else "rtl"), run.script
        hb.shape(self.font, buffer, features)
        return buffer

    def letter(self, glyph: int) -> Outline:
        """A letter's outline. TooBigError beyond `most_points`."""
        pen = _Pen(self.most_points)
        self.font.draw_glyph_with_pen(glyph, pen)
        if pen.left < 0:
            raise TooBigError(f"a letter of the font has over {self.most_points:,} points", where=WHERE)
        return pen.outline


def _unknown(infos: list[hb.GlyphInfo], run: Run) -> Iterator[int]:
    """Places of the characters that became the glyph which stands for what a font does not have."""
    starts = sorted({info.cluster for info in infos})
    for info in infos:
        if info.codepoint == 0:
            later = [start for start in starts if start > info.cluster]
            yield from range(info.cluster, later[0] if later else run.end)


class _Pen:
    """What HarfBuzz draws with, to an outline; it stops at the limit, for what it raises would be lost on the way."""

    def __init__(self, most: int) -> None:
        self.outline, self.left = Outline(), most

    def moveTo(self, to: tuple[float, float]) -> None:
        self.outline.move(to)

    def lineTo(self, to: tuple[float, float]) -> None:
        if self._room():
            self.outline.line(to)

    def qCurveTo(self, a: tuple[float, float], to: tuple[float, float]) -> None:
        if self._room():
            self.outline.quadratic(a, to)

    def curveTo(self, a: tuple[float, float], b: tuple[float, float], to: tuple[float, float]) -> None:
        if self._room():
            self.outline.cubic(a, b, to)

    def closePath(self) -> None:
        if self._room():
            self.outline.close()

    def _room(self) -> bool:
        self.left -= 1
        return self.left >= 0


@lru_cache(maxsize=4)  # of 20 MiB at most each
def outline_face(data: bytes, name: str, limits: Limits) -> OutlineFace:
    """The face in a font's bytes, in its default instance; of a collection the first.

    Raises
    ------
    NotArtworkError, TooBigError.
    """
    face = read_font(data, limits, WHERE)
    font = hb.Font(face)
    font.scale = (face.upem * FINER, face.upem * FINER)
    measures = font.get_font_extents("ltr")
    ascent, descent = float(measures.ascender), float(measures.descender)
    if not 0 < ascent - descent < 100 * face.upem * FINER:
        raise NotArtworkError("the font states no height of its lines", where=WHERE, hint="use another font")
    return OutlineFace(
        name=name or _said_name(face),
        font=font,
        ascent=ascent,
        descent=descent,
        pitch=ascent - descent + max(0.0, float(measures.line_gap)),
        count=_count(data),
        most_points=limits.path_numbers,
        features=_features(face),
    )


def read_font(data: bytes, limits: Limits, where: str = "file") -> hb.Face:
    """The (first) face, its tables there and its letters countable; `where` names the bytes in an error.

    Raises
    ------
    NotArtworkError, TooBigError.
    """
    if len(data) > limits.font_bytes:
        raise TooBigError(f"the font has {len(data):,} bytes of at most {limits.font_bytes:,}", where=where)
    count = _tables(data)
    if count > limits.font_tables:
        raise TooBigError(f"the font has {count} tables of at most {limits.font_tables}", where=where)
    face = hb.Face(hb.Blob(data))
    missing = [tag for tag in NEEDED if not len(face.reference_table(tag))]
    if missing or not face.glyph_count:
        what = f"it has no table {missing[0]}" if missing else "it has no letters"
        raise NotArtworkError(f"the font is broken: {what}", where=where, hint="take it from its source again")
    if not any(len(face.reference_table(tag)) for tag in OUTLINES):
        raise NotArtworkError("the font has pictures, no outlines", where=where, hint="use a font of outlines")
    return face


def _tables(data: bytes) -> int:
    """How many tables the (first) face states."""
    at = int.from_bytes(data[12:16], "big") if data[:4] == b"ttcf" else 0
    return int.from_bytes(data[at + 4 : at + 6], "big")


def _features(face: hb.Face) -> frozenset[str]:
    """Tags of the features that the font has in some script; none where the tags are no letters."""
    try:
        return frozenset(
            tag
            for table in ("GSUB", "GPOS")
            for script in range(len(face.get_table_script_tags(table)))
            for tag in face.get_language_feature_tags(table, script)
        )
    except UnicodeDecodeError:
        return frozenset()


def _said_name(face: hb.Face) -> str:
    """The font's own name, as far as it can be shown."""
    said = face.get_name(hb.OTNameIdPredefined.FULL_NAME) or ""
    return "".join(c for c in said if c.isprintable())[:80] or "that was uploaded"


def _count(data: bytes) -> int:
    """How many faces the bytes hold."""
    return int.from_bytes(data[8:12], "big") if data[:4] == b"ttcf" else 1
