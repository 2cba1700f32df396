"""Lettering as drawn: against the fonts' own curves, advances and kerning, read here by another library."""

import io
import re
import unicodedata
from itertools import pairwise

import numpy as np
import pytest
import shapely
from fontTools.pens.basePen import BasePen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from scipy.spatial import cKDTree

from engine.artwork.lettering import FACES, Align, Along, Direction, Text, set_text
from engine.kernel.errors import ArtworkError, EmptyError, TooBigError
from tests.artwork.lettering.fonts import ARABIC, ASCENT, CAPITAL, DESCENT, HEBREW, WIDTHS, collection, font, shipped

UNITS = 1000
REGULAR = TTFont(io.BytesIO(shipped()))


class Fine(BasePen):
    """The referee's pen: contours as points, each curve in 400 even steps of its own formula."""

    def __init__(self, glyphs):
        super().__init__(glyphs)
        self.contours = []

    def _moveTo(self, to):
        self.contours.append([to])

    def _lineTo(self, to):
        self.contours[-1].append(to)

    def _curveToOne(self, a, b, to):
        t = np.linspace(0, 1, 401)[1:, None]
        p = [np.array(q, float) for q in (self.contours[-1][-1], a, b, to)]
        curve = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
        self.contours[-1] += [tuple(q) for q in curve]

    def _qCurveToOne(self, a, to):
        t = np.linspace(0, 1, 401)[1:, None]
        p = [np.array(q, float) for q in (self.contours[-1][-1], a, to)]
        self.contours[-1] += [tuple(q) for q in (1 - t) ** 2 * p[0] + 2 * t * (1 - t) * p[1] + t * t * p[2]]


def true_outline(held, character):
    """The edge of a letter's filled shape, font units."""
    glyphs = held.getGlyphSet()
    pen = Fine(glyphs)
    glyphs[held.getBestCmap()[ord(character)]].draw(pen)
    solid = [shapely.Polygon(c).buffer(0) for c in pen.contours if len(c) > 3]
    holes = [p for p, c in zip(solid, pen.contours, strict=True) if shapely.LinearRing(c).is_ccw != is_outer_ccw(held)]
    shells = [p for p in solid if p not in holes]
    return shapely.difference(shapely.union_all(shells), shapely.union_all(holes)).boundary


def is_outer_ccw(held):
    return "CFF " in held  # PostScript outlines run counter-clockwise, TrueType ones clockwise


def edge(drawing):
    return shapely.union_all([shapely.LineString(drawing.rings[k]) for k in range(len(drawing.rings))])


@pytest.mark.parametrize("kind", ["otf", "ttf"])
@pytest.mark.parametrize("character", "HS&ő")
def test_outlines_keep_to_the_fonts_own_curves(kind, character):
    data, size = shipped(kind=kind), 60.0
    held = TTFont(io.BytesIO(data))
    drawing = set_text(Text(string=character, size_mm=size), data).drawing
    scale = size / CAPITALS[kind]
    true = shapely.transform(true_outline(held, character), lambda p: p * scale)
    left = held["hmtx"][held.getBestCmap()[ord(character)]][0] * scale / 2
    middle = (held["hhea"].ascent + held["hhea"].descent) * scale / 2
    ours = shapely.transform(edge(drawing), lambda p: p + (left, middle))
    one, other = (shapely.get_coordinates(line.segmentize(0.002)) for line in (ours, true))
    assert max(cKDTree(one).query(other)[0].max(), cKDTree(other).query(one)[0].max()) < 0.0025


CAPITALS = {"otf": 656, "ttf": 656}  # of the H, read off the font


def advance(words):
    """Width of a line in font units: the font's advances and the pair adjustments of its `kern` feature."""
    names = [REGULAR.getBestCmap()[ord(c)] for c in words]
    return sum(REGULAR["hmtx"][n][0] for n in names) + sum(kerned(a, b) for a, b in pairwise(names))


def kerned(left, right):
    gpos = REGULAR["GPOS"].table
    wanted = {k for f in gpos.FeatureList.FeatureRecord if f.FeatureTag == "kern" for k in f.Feature.LookupListIndex}
    for k in sorted(wanted):
        for held in gpos.LookupList.Lookup[k].SubTable:
            table = getattr(held, "ExtSubTable", held)
            if table.LookupType != 2 or left not in table.Coverage.glyphs:
                continue
            if table.Format == 1:
                pairs = table.PairSet[table.Coverage.glyphs.index(left)].PairValueRecord
                found = [p.Value1.XAdvance for p in pairs if p.SecondGlyph == right]
                if found:
                    return found[0]
                continue
            one, two = table.ClassDef1.classDefs.get(left, 0), table.ClassDef2.classDefs.get(right, 0)
            return table.Class1Record[one].Class2Record[two].Value1.XAdvance
    return 0


@pytest.mark.parametrize("words", ["AVATAR", "Torte", "Seed swap 2026", "LYTa", "HHH"])
def test_lines_are_as_wide_as_the_font_says(words):
    drawing = set_text(Text(string=words, size_mm=5.0)).drawing
    assert drawing.width_mm == pytest.approx(advance(words) * 5.0 / 656, abs=0.001)


def test_kerning_is_there_at_all():
    plain = set_text(Text(string="AVATAR", features=("-kern",))).drawing.width_mm
    assert plain - set_text(Text(string="AVATAR")).drawing.width_mm > 0.5


def test_features_are_used_and_those_that_are_not_there_are_told():
    plain, old = (set_text(Text(string="3579", features=f)).drawing for f in ((), ("onum",)))
    assert plain.rings.points[:, 1].min() != pytest.approx(old.rings.points[:, 1].min(), abs=0.2)
    assert not old.notes
    told = set_text(Text(string="2026", features=("onum", "zzzz", "-yyyy"))).drawing.notes
    assert [(note.code, "zzzz" in note.message) for note in told] == [("feature", True)]


def test_the_strip_is_from_the_first_ascent_to_the_last_descent():
    one, two = (set_text(Text(string=s, size_mm=7.0), font()).drawing for s in ("ab", "ab\nH"))
    scale = 7.0 / CAPITAL
    assert one.height_mm == pytest.approx((ASCENT - DESCENT) * scale)
    assert two.height_mm == pytest.approx(2 * (ASCENT - DESCENT) * scale)
    assert one.rings.points[:, 1].min() == pytest.approx(-one.height_mm / 2 - DESCENT * scale)
    wide = set_text(Text(string="ab\nH", size_mm=7.0, line_spacing=1.5), font()).drawing
    assert wide.height_mm == pytest.approx(2.5 * (ASCENT - DESCENT) * scale)


@pytest.mark.parametrize("face", FACES)
def test_a_plain_capital_is_as_tall_as_asked(face):
    drawing = set_text(Text(string="H", font=face, size_mm=8.0)).drawing
    y = np.concatenate([drawing.rings.points, drawing.lines.points])[:, 1]
    assert y.max() - y.min() == pytest.approx(8.0, abs=1e-6)
    assert bool(len(drawing.lines)) == face.startswith(("single", "double"))


@pytest.mark.parametrize(("align", "begin"), [(Align.LEFT, 0.0), (Align.CENTRE, 0.5), (Align.RIGHT, 1.0)])
def test_lines_are_aligned(align, begin):
    drawing = set_text(Text(string="HHHH\nH", size_mm=7.0, align=align), font()).drawing
    short = drawing.rings[len(drawing.rings) - 1][:, 0].min() + drawing.width_mm / 2
    assert short == pytest.approx(3 * 4.0 * begin + 0.5)


def test_letters_are_spaced_between_and_not_behind():
    plain, wide = (
        set_text(Text(string="HHH", size_mm=7.0, letter_spacing_mm=gap), font()).drawing.width_mm for gap in (0, 1.5)
    )
    assert wide - plain == pytest.approx(2 * 1.5)
    # A ligature of the shipped face is parted: two letters and one gap more.
    narrow, loose = (set_text(Text(string="ffl", letter_spacing_mm=gap)).drawing for gap in (0, 0.5))
    assert loose.width_mm - narrow.width_mm > 0.9


def lefts(drawing, scale=1.0):
    """Where each letter begins, from the line's left, in the order of the text's letters as drawn."""
    return [(drawing.rings[k][:, 0].min() + drawing.width_mm / 2) / scale for k in range(len(drawing.rings))]


@pytest.mark.parametrize("words", [HEBREW, ARABIC])
def test_right_to_left_words_run_right_to_left(words):
    drawing = set_text(Text(string=words, size_mm=7.0), font()).drawing
    widths = [WIDTHS[c] / 100 for c in reversed(words)]
    assert sorted(lefts(drawing)) == pytest.approx([0.5 + sum(widths[:k]) for k in range(len(words))])
    spans = sorted((run[:, 0].min(), np.ptp(run[:, 0])) for run in (drawing.rings[k] for k in range(len(words))))
    assert [span for _, span in spans] == pytest.approx([w / 2 for w in widths])


def test_a_mixed_line_is_set_in_the_order_in_which_it_is_read():
    drawing = set_text(Text(string="a אב", size_mm=7.0, direction=Direction.LTR), font()).drawing
    turned = set_text(Text(string="a אב", size_mm=7.0, direction=Direction.RTL), font()).drawing
    a, gap, alef, bet = (WIDTHS[c] / 100 for c in "a אב")
    assert sorted(lefts(drawing)) == pytest.approx([0.5, 0.5 + a + gap, 0.5 + a + gap + bet])
    assert sorted(lefts(turned)) == pytest.approx([0.5, 0.5 + bet, 0.5 + bet + alef + gap])


def test_marks_sit_on_their_letters():
    composed, apart = (set_text(Text(string=s)).drawing for s in ("é", "e\u0301"))
    assert composed.rings.points == pytest.approx(apart.rings.points)
    marked = set_text(Text(string="q\u0303")).drawing  # no such letter in Unicode: the font's own placing
    plain = set_text(Text(string="q")).drawing
    assert marked.width_mm == pytest.approx(plain.width_mm)
    tilde = marked.rings[int(np.argmax([marked.rings[k][:, 1].max() for k in range(len(marked.rings))]))]
    assert abs(tilde[:, 0].mean()) < 0.3 * plain.width_mm


def test_unknown_characters_are_named_each():
    with pytest.raises(ArtworkError) as caught:
        set_text(Text(string="Beet 中 \U0001f955 ק beet 中"))
    for named in ("'中' U+4E2D", "U+1F955 (carrot)", "U+05E7 (hebrew letter qof)"):
        assert named in str(caught.value)
    assert caught.value.where == "text/string" and caught.value.message.count("U+4E2D") == 1
    with pytest.raises(ArtworkError, match=r"'ß' U\+00DF"):
        set_text(Text(string="süß", font="single-line"))


SCRIPTS = {
    "hebrew": "זרע",
    "points": "שָׁלוֹם",
    "arabic": "بذور",
    "a ligature": "لا",
    "n'ko": "ߛߌ",
    "devanagari": "बीज",
    "tamil": "விதை",
    "thai": "เมล็ด",
    "han": "种子",
    "mixed": "Seed זרע 7 بذور",
}


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("script", SCRIPTS)
def test_every_character_of_a_script_that_a_shipped_face_does_not_have_is_named_once(face, script):
    words = SCRIPTS[script]
    foreign = [c for c in words if ord(c) > 0x500]
    assert not {*foreign} & {chr(code) for code in REGULAR.getBestCmap()}
    with pytest.raises(ArtworkError) as caught:
        set_text(Text(string=f"Beet\n{words}\n7{words}", font=face))
    for c in foreign:
        assert caught.value.message.count(f"U+{ord(c):04X}") == 1
        assert unicodedata.name(c).lower() in caught.value.message
    assert caught.value.message.count("U+") == len({*foreign}) and "upload a font" in caught.value.hint


@pytest.mark.parametrize("face", ["sans", "single-line"])
def test_what_a_face_does_not_have_is_told_of_all_lines_at_once_however_much_it_is(face):
    lines = [chr(0x5D0 + k) for k in range(27)], [chr(0x4E00 + k) for k in range(60)]
    with pytest.raises(ArtworkError) as caught:
        set_text(Text(string="Beet\n" + "\n".join(map("".join, lines)), font=face))
    told = re.findall(r"U\+([0-9A-F]{4,6})", caught.value.message)
    assert told == [f"{ord(c):04X}" for c in [*lines[0], *lines[1]][:48]]
    assert "79 more: " in caught.value.message and caught.value.message.endswith(" ...")


def test_nothing_is_dropped():
    held = set(REGULAR.getBestCmap())
    alone = area(set_text(Text(string="H")).drawing)
    for c in map(chr, (*range(0x21, 0x180), *range(0x180, 0x600, 3), 0x34F)):
        blank = ord(c) in (0xA0, 0xAD, 0x34F)  # a space, and two that are not to be seen
        try:
            drawing = set_text(Text(string=f"H{c}")).drawing
        except ArtworkError:
            assert ord(c) not in held or ord(c) < 0xA0
            continue
        assert blank or area(drawing) > alone + 0.01, hex(ord(c))


def area(drawing):
    return sum(shapely.Polygon(run).exterior.is_ccw * shapely.Polygon(run).area for run in runs_in(drawing))


@pytest.mark.parametrize(
    ("string", "says"),
    [
        ("a\x07b", "U+0007"), ("a\x00", "U+0000"), ("\u202eabc", "U+202E"), ("a\u2067b", "U+2067"), ("a\x85", "U+0085"),
    ],
)  # fmt: skip
def test_what_is_no_letter_is_refused_by_name(string, says):
    with pytest.raises(ArtworkError) as caught:
        set_text(Text(string=string))
    assert says in str(caught.value) and caught.value.where == "text/string"


def test_tabs_are_spaces_and_told():
    drawing = set_text(Text(string="a\tb")).drawing
    assert drawing.width_mm == pytest.approx(set_text(Text(string="a b")).drawing.width_mm)
    assert [note.code for note in drawing.notes] == ["tab"]


def test_lines_part_at_every_kind_of_line_end():
    tall = {set_text(Text(string=s)).drawing.height_mm for s in ("a\nb", "a\r\nb", "a\u2028b", "a\u2029b")}
    assert len(tall) == 1
    assert set_text(Text(string="a\n\nb")).drawing.height_mm > tall.pop() * 1.4


@pytest.mark.parametrize("string", ["", "  ", "\n\n", "\u00a0"])
def test_a_text_without_letters_is_told(string):
    with pytest.raises(EmptyError):
        set_text(Text(string=string))


def test_too_long_and_too_large():
    with pytest.raises(TooBigError, match="2,000"):
        set_text(Text(string="a" * 2001))
    with pytest.raises(TooBigError, match="mm of at most"):
        set_text(Text(string="a" * 500, size_mm=1000.0))
    assert len(set_text(Text(string="ab\n" * 600)).drawing.rings) == 600 * 4


def test_along_an_arc_heights_and_the_foot_are_kept():
    for radius in (25.0, -25.0):
        flat = set_text(Text(string="HHH", font="single-line", size_mm=6.0))
        bent = set_text(Text(string="HHH", font="single-line", size_mm=6.0, along=Along.ARC, radius_mm=radius))
        assert bent.arc is not None
        stems = [k for k in range(9) if k % 3 != 2]
        for k in stems:
            out = np.hypot(*(bent.drawing.lines[k] - bent.arc.centre_mm).T)
            assert np.ptp(out) == pytest.approx(6.0)
            assert (out.min() if radius > 0 else out.max()) == pytest.approx(25.0)
        along, above = bent.arc.taken(bent.drawing.lines.points)
        assert np.ptp(along) == pytest.approx(np.ptp(flat.drawing.lines.points[:, 0]))
        assert bent.arc.put(along, above) == pytest.approx(bent.drawing.lines.points)
        # The box is the bent strip's: a little more than the ink's, all round.
        assert (np.abs(bent.drawing.lines.points) <= [bent.drawing.width_mm / 2, bent.drawing.height_mm / 2]).all()


def test_an_arcs_straight_lines_are_bent_within_the_chord():
    bent = set_text(Text(string="TTT", font="single-line", size_mm=6.0, along=Along.ARC, radius_mm=15.0))
    for run in (bent.drawing.lines[k] for k in range(6)):
        _, above = bent.arc.taken(np.concatenate([run, 0.5 * (run[1:] + run[:-1])]))
        assert above == pytest.approx(6.0, abs=0.002) or np.ptp(above) == pytest.approx(6.0)


@pytest.mark.parametrize(("radius", "string"), [(3.0, "HH\nHH\nHH"), (-5.0, "H"), (10.0, "H" * 30)])
def test_an_arc_too_small_is_refused(radius, string):
    with pytest.raises(ArtworkError) as caught:
        set_text(Text(string=string, size_mm=6.0, along=Along.ARC, radius_mm=radius))
    assert caught.value.where == "text/radius_mm"


def test_overlapping_outlines_are_united():
    crossing = font(glyphs={"u0061": crossed()})
    (ring,) = runs_in(set_text(Text(string="a", size_mm=7.0), crossing).drawing)
    assert abs(shapely.Polygon(ring).area) == pytest.approx((2 * 4 + 2 * 4 - 4) * 1.0)  # two bars less their crossing
    together = set_text(Text(string="HH", size_mm=7.0, letter_spacing_mm=-3.0), font()).drawing
    assert len(together.rings) == 1  # bars 2 wide, 1 apart


def crossed():
    pen = TTGlyphPen(None)
    for box in ((50, 100, 450, 300), (150, 0, 350, 400)):
        pen.moveTo((box[0], box[1]))
        for x, y in ((box[0], box[3]), (box[2], box[3]), (box[2], box[1])):
            pen.lineTo((x, y))
        pen.closePath()
    return pen.glyph()


def runs_in(drawing):
    return [drawing.rings[k] for k in range(len(drawing.rings))]


def test_a_variable_font_stands_at_its_default():
    plain, varied = (set_text(Text(string="Hab"), data).drawing for data in (font(), font(variable=True)))
    assert varied.rings.points == pytest.approx(plain.rings.points)


def test_of_a_collection_the_first_face_is_used_and_told():
    drawing = set_text(Text(string="Hab"), collection(font(), font(dict(WIDTHS, a=900)))).drawing
    assert drawing.rings.points == pytest.approx(set_text(Text(string="Hab"), font()).drawing.rings.points)
    assert [note.code for note in drawing.notes] == ["collection"]


def test_a_face_without_capitals_is_sized_by_what_it_states():
    for measures, tall in ((True, 650), (False, ASCENT)):
        drawing = set_text(Text(string="ab", size_mm=6.5), font({"a": 400, "b": 500}, measures=measures)).drawing
        assert np.ptp(drawing.rings.points[:, 1]) == pytest.approx(CAPITAL * 6.5 / tall)
        assert [note.code for note in drawing.notes] == ["capital"]


def test_the_same_text_is_the_same_to_the_bit():
    one, two = (set_text(Text(string="Kürbis\nfloat", along=Along.ARC, radius_mm=30.0)) for _ in range(2))
    assert one.drawing.rings.points.tobytes() == two.drawing.rings.points.tobytes()
