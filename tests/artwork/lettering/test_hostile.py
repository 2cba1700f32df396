"""Fonts that are broken or made to hurt: refused as artwork, or read; never anything else, and never for long."""

import io
import struct
from itertools import pairwise

import numpy as np
import pytest
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from engine.artwork import Limits, describe, read_artwork
from engine.artwork.lettering import Text, set_text
from engine.kernel.errors import ArtworkError, NotArtworkError, TooBigError
from tests.artwork.lettering.fonts import HEBREW, WIDTHS, collection, font, saved, shipped
from tests.artwork.test_hostile import broken

LETTERS = Text(string="Habc (12)\n" + HEBREW)
SEEDS = {
    "truetype": font(),
    "variable": font(variable=True),
    "collection": collection(font(), font(dict(WIDTHS, a=900))),
    "shipped": shipped("Light"),
    "shipped truetype": shipped("Light", "ttf"),
}


@pytest.mark.parametrize("name", SEEDS)
def test_fonts_that_went_wrong_are_refused_or_read(name):
    rng = np.random.default_rng(len(name))
    refused = []
    for turn in range(60):
        data = broken(SEEDS[name], rng, turn % 5)
        try:
            set_text(Text(string="Habc") if "shipped" in name else LETTERS, data)
        except ArtworkError as exc:
            refused.append(exc)
    assert len(refused) > 3 and all(exc.where for exc in refused)


@pytest.mark.parametrize("wrong", ["a", "-", "2", "א"])
def test_a_character_for_which_a_font_draws_nothing_is_named_and_none_is_left_out(wrong):
    """As a font does whose letter is damaged; a blank between words is empty by its nature."""
    held = TTFont(io.BytesIO(font()))
    held["glyf"][f"u{ord(wrong):04X}"] = TTGlyphPen(None).glyph()
    data = saved(held)
    with pytest.raises(ArtworkError, match=f"draws nothing for '{wrong}' U\\+{ord(wrong):04X}") as caught:
        set_text(Text(string=f"H b\nc{wrong}d"), data)
    assert caught.value.where == "text/string" and "another" in caught.value.hint
    assert len(set_text(Text(string="H b\ncd"), data).drawing.rings) == 4


def test_a_damaged_letter_of_a_shipped_font_is_named():
    """Its charstring begins with a number that the format keeps free (Type 2 charstring format, operator 2)."""
    data = shipped()
    held = TTFont(io.BytesIO(data))
    letters = held["CFF "].cff.topDictIndex[0].CharStrings
    own = letters["g"].bytecode
    assert data.count(own) == 1
    with pytest.raises(ArtworkError, match="draws nothing for 'g'"):
        set_text(Text(string="Eggs"), data.replace(own, b"\x02" * len(own)))


@pytest.mark.parametrize("table", ["cmap", "glyf", "loca", "head", "hhea", "hmtx", "maxp", "GPOS", "GSUB"])
def test_bytes_wrong_in_one_table(table):
    data = shipped("Light", "ttf")
    rng, refused = np.random.default_rng(3), []
    at, size = next(
        struct.unpack(">II", data[r + 8 : r + 16])
        for r in range(12, 12 + 16 * data[5], 16)
        if data[r : r + 4] == table.encode()
    )
    for _ in range(12):
        held = bytearray(data)
        for place in rng.integers(at, at + size, 30).tolist():
            held[place] = int(rng.integers(256))
        try:
            set_text(Text(string="AVATAR ffl q\u0303"), bytes(held))
        except ArtworkError as exc:
            refused.append(exc)
    assert all(exc.where for exc in refused)


def composite(parts):
    """A letter made of others: `parts` names them."""
    pen = TTGlyphPen(dict.fromkeys(parts))
    for name in parts:
        pen.addComponent(name, (1, 0, 0, 1, 10, 0))
    return pen.glyph()


def rewired(data, glyph, part, other):
    """The font with one part of a composite letter made another letter: two bytes of it."""
    held = TTFont(io.BytesIO(data))
    table = held.reader.tables["glyf"]
    at = table.offset + held["loca"].locations[held.getGlyphID(glyph)] + 10
    for _ in range(part):
        at += 8 if struct.unpack(">H", data[at : at + 2])[0] & 1 else 6
    return data[: at + 2] + struct.pack(">H", held.getGlyphID(other)) + data[at + 4 :]


def test_a_letter_made_of_itself_ends():
    data = font(glyphs={"u0061": composite(["u0062", "u0048"]), "u0062": composite(["u0048", "u0048"])})
    assert len(set_text(Text(string="a"), data).drawing.rings) == 1
    drawing = set_text(Text(string="Ha"), rewired(data, "u0062", 0, "u0061")).drawing
    assert len(drawing.rings) == 2


def test_letters_that_double_thirty_times_end():
    names = ["u0061", *(f"deep{k}" for k in range(30))]
    glyphs = {one: composite([two, "u0048"]) for one, two in pairwise(names)}
    data = font(glyphs={**glyphs, names[-1]: composite(["u0048"])})
    for one, two in pairwise(names):
        data = rewired(data, one, 1, two)
    with pytest.raises(ArtworkError, match="draws nothing for 'a'"):
        set_text(Text(string="Ha"), data)


def test_limits():
    with pytest.raises(TooBigError, match="bytes"):
        set_text(LETTERS, font(), limits=Limits(font_bytes=100))
    with pytest.raises(TooBigError, match="bytes"):
        describe(font(), limits=Limits(font_bytes=100))
    with pytest.raises(TooBigError, match="points"):
        set_text(LETTERS, font(), limits=Limits(path_numbers=3))
    with pytest.raises(TooBigError, match="flatten"):
        set_text(LETTERS, font(), limits=Limits(points=30))


@pytest.mark.parametrize("table", ["cmap", "head", "hhea", "hmtx", "maxp", "glyf"])
def test_a_font_without_a_table_is_refused_at_both_doors(table):
    held = TTFont(io.BytesIO(font()))
    out = io.BytesIO()
    held.save(out)
    data = bytearray(out.getvalue())
    row = next(r for r in range(12, 12 + 16 * data[5], 16) if data[r : r + 4] == table.encode())
    data[row : row + 4] = b"lost"
    for door in (lambda d: set_text(LETTERS, d), describe):
        with pytest.raises(NotArtworkError, match=f"no table {table}" if table != "glyf" else "no outlines"):
            door(bytes(data))


def test_a_font_is_described_and_is_no_artwork():
    told = describe(font())
    assert (told.kind, told.media_type, told.width, told.height) == ("font", "font/ttf", 1000, len(WIDTHS) + 1)
    assert describe(shipped()).media_type == "font/otf"
    assert describe(collection(font(), font())).media_type == "font/collection"
    with pytest.raises(NotArtworkError, match="font of a text"):
        read_artwork(font())
    for packed in (b"wOFF\0\1\0\0", b"wOF2\0\1\0\0"):
        with pytest.raises(NotArtworkError, match="unpack"):
            describe(packed)
