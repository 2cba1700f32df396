"""Fonts for the tests: a shipped one as its own file, and small ones made here, whose every measure is known."""

import io
from importlib.resources import files

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTCollection, TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation

HEBREW, ARABIC = "אבגד", "بسم"
WIDTHS = {c: 400 + 50 * k for k, c in enumerate("Habcd12(). -%" + HEBREW + ARABIC)}
CAPITAL, ASCENT, DESCENT = 700, 900, -300


def shipped(style="Regular", kind="otf"):
    return files("font_source_sans_pro").joinpath("files", f"SourceSansPro-{style}.{kind}").read_bytes()


def bar(width, height=CAPITAL, low=0, pen=None):
    """A bar as wide as half the letter's advance, on the foot, left side at 50."""
    pen = pen or TTGlyphPen(None)
    pen.moveTo((50, low))
    for x, y in ((50, height), (50 + width // 2, height), (50 + width // 2, low)):
        pen.lineTo((x, y))
    pen.closePath()
    return pen


def font(characters=WIDTHS, *, glyphs=None, variable=False, measures=True, family="Bars"):
    """A TrueType font of bars: the bytes. glyphs : more letters by name, drawn."""
    names = {c: f"u{ord(c):04X}" for c in characters}
    drawn = {".notdef": bar(500).glyph()}
    for c, name in names.items():
        drawn[name] = TTGlyphPen(None).glyph() if c == " " else bar(characters[c]).glyph()
    advances = {".notdef": 500} | {names[c]: characters[c] for c in characters}
    for name, glyph in (glyphs or {}).items():
        drawn[name] = glyph
        advances.setdefault(name, 600)
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(list(drawn))
    builder.setupCharacterMap({ord(c): name for c, name in names.items()})
    builder.setupGlyf(drawn)
    builder.setupHorizontalMetrics({name: (advances[name], 50) for name in drawn})
    builder.setupHorizontalHeader(ascent=ASCENT, descent=DESCENT)
    builder.setupNameTable({"familyName": family, "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=ASCENT, sTypoDescender=DESCENT, sCapHeight=650 if measures else 0, version=4)
    builder.setupPost()
    if variable:
        builder.setupFvar([("wght", 400, 400, 900, "Weight")], [])
        wider = [(0, 0), (0, 0), (200, 0), (200, 0), (0, 0), (0, 0), (0, 0), (0, 0)]
        builder.setupGvar({names["H"]: [TupleVariation({"wght": (0, 1, 1)}, wider)]})
    return saved(builder.font)


def saved(held):
    out = io.BytesIO()
    held.save(out)
    return out.getvalue()


def collection(*members):
    held = TTCollection()
    held.fonts = [TTFont(io.BytesIO(data)) for data in members]
    return saved(held)
