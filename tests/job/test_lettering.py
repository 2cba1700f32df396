"""Lettering in a job: exactly one of asset and text, each fault at its field, and the whole way to a program."""

import re
from itertools import pairwise

import numpy as np
import pytest

import engine
from engine.job import Known, read_job
from engine.kernel.errors import JobError
from tests.artwork.lettering.fonts import HEBREW, font
from tests.job.documents import DRAWING, KNOWN, LEAST, put

FONT = "f" * 64
WITH_FONT = Known(assets=dict(KNOWN.assets) | {FONT: "font"})
TEXT = {"string": "Seed swap", "size_mm": 6}
ART = {
    "text": TEXT,
    "placement": {"x_mm": 45, "angle_deg": 30},
    "marking": {"style": "outline"},
    "depth_mm": 0.2,
}
LONG = "Scarlet runner beans saved by the members of plot 7"
CALLED = {
    "Seed swap": "Seed swap",
    "Seed swap\nbeans of plot 7": "Seed swap",
    " \n\n\t Swede \t of  bed 2 \r\n7": "Swede of bed 2",
    LONG: "Scarlet runner beans saved by the…",
    "Scarlet runner beans of all the members 7": "Scarlet runner beans of all the members…",  # a word ends at the limit
    "x" * 40: "x" * 40,
    "x" * 41: "x" * 39 + "…",
    "a " + "x" * 60: "a " + "x" * 37 + "…",
    "🌱" * 41: "🌱" * 39 + "…",
    "<b>Beet</b> & chard": "<b>Beet</b> & chard",
    "two\u2028lines": "two",
}
FIT = {"times": 3, "fit": True}
DOCUMENT = LEAST | {"artwork": [ART]}


def asked(**changes):
    return put(DOCUMENT, "/artwork/0/text", TEXT | changes)


def problems(document, known=KNOWN):
    with pytest.raises(JobError) as caught:
        read_job(document, known=known)
    return {problem.pointer: problem for problem in caught.value.problems}


def test_lettering_needs_words_and_a_height_alone():
    job = read_job(DOCUMENT, known=KNOWN)
    (item,) = job.items
    assert item.asset is None and item.text is not None
    defaults = dict(job.defaults)
    assert defaults["/artwork/0/text/font"] == "sans" and defaults["/artwork/0/text/true_size"] is True
    assert "/artwork/0/asset" not in defaults
    assert not any("text" in place for place in dict(read_job(LEAST, known=KNOWN).defaults))


def test_a_projection_that_is_named_is_kept_to():
    placed = put(DOCUMENT, "/artwork/0/placement/projection", "true-width")
    assert read_job(placed, known=KNOWN).items[0].text.true_size is False
    both = put(placed, "/artwork/0/text/true_size", True)
    assert read_job(both, known=KNOWN).items[0].text.true_size is True


@pytest.mark.parametrize(
    ("along", "turn"),
    [({"along": "axis"}, 90), ({"along": "helix", "climb_deg": 20}, 20), ({"along": "arc", "radius_mm": -9}, 0)],
)
def test_lines_turn_the_placement(along, turn):
    turned = put(asked(**along), "/artwork/0/placement/turn_deg", 5)
    assert read_job(turned, known=KNOWN).items[0].placement.turn_deg == turn + 5


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"size_mm": 0}, "/artwork/0/text/size_mm"),
        ({"size_mm": "6"}, "/artwork/0/text/size_mm"),
        ({"string": ""}, "/artwork/0/text/string"),
        ({"string": "a\x07"}, "/artwork/0/text/string"),
        ({"string": "a" * 2001}, "/artwork/0/text/string"),
        ({"font": "nix"}, "/artwork/0/text/font"),
        ({"font": DRAWING}, "/artwork/0/text/font"),
        ({"align": "middle"}, "/artwork/0/text/align"),
        ({"direction": "up"}, "/artwork/0/text/direction"),
        ({"along": "spiral"}, "/artwork/0/text/along"),
        ({"along": "arc"}, "/artwork/0/text/radius_mm"),
        ({"along": "arc", "radius_mm": 0.0}, "/artwork/0/text/radius_mm"),
        ({"radius_mm": 20}, "/artwork/0/text/radius_mm"),
        ({"climb_deg": 20}, "/artwork/0/text/climb_deg"),
        ({"along": "helix", "climb_deg": 91}, "/artwork/0/text/climb_deg"),
        ({"features": ["kerning"]}, "/artwork/0/text/features/0"),
        ({"line_spacing": 0}, "/artwork/0/text/line_spacing"),
        ({"letter_spacing_mm": 101}, "/artwork/0/text/letter_spacing_mm"),
        ({"colour": "red"}, "/artwork/0/text/colour"),
    ],
)
def test_each_fault_is_told_at_its_field(changes, pointer):
    assert set(problems(asked(**changes))) == {pointer}


def test_exactly_one_of_asset_and_text():
    assert problems(put(DOCUMENT, "/artwork/0/asset", DRAWING))["/artwork/0/asset"].allowed.startswith("an asset or a")
    neither = problems(put(DOCUMENT, "/artwork/0/text", ...))["/artwork/0/asset"]
    assert neither.allowed == "this field is needed, or text, or border"
    assert set(problems(put(put(DOCUMENT, "/artwork/0/text", ...), "/artwork/0/asset", FONT), WITH_FONT)) == {
        "/artwork/0/asset"
    }


def test_an_uploaded_font_is_an_asset():
    job = read_job(asked(font=FONT, string="Hab " + HEBREW), known=WITH_FONT)
    done = engine.plan(job, {FONT: font()})
    assert done.report["strokes"] > 6 and "engrave" in done.programs
    broken = engine.plan(job, {FONT: font()[:300]})
    assert [finding.where.pointer for finding in broken.findings] == ["/artwork/0/text/font"]
    assert not broken.programs


def findings(document):
    job = read_job(document, known=KNOWN)
    return {finding.code: finding for finding in engine.plan(job, {}).findings}


@pytest.mark.parametrize("string", CALLED)
def test_lettering_without_a_name_is_called_by_its_first_words(string):
    (item,) = read_job(asked(string=string), known=KNOWN).items
    assert (item.label, item.called) == (CALLED[string], f"{CALLED[string]} (art 1)")
    (named,) = read_job(put(asked(string=string), "/artwork/0/name", "rim"), known=KNOWN).items
    assert (named.label, named.called) == ("rim", "rim (art 1)")


def test_a_drawing_and_blank_words_are_called_by_their_number():
    for document in (LEAST, asked(string=" \n ")):
        (item,) = read_job(document, known=KNOWN).items
        assert (item.label, item.called) == ("art 1", "art 1")


@pytest.mark.parametrize("direction", ["auto", "ltr", "rtl"])
@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ("Beet 中", ["4E2D"]),
        ("Seed זרע 7", ["05D6", "05E8", "05E2"]),
        ("Beet\nبذور\nזרע", ["0628", "0630", "0648", "0631", "05D6", "05E8", "05E2"]),
    ],
)
def test_unknown_characters_withhold_the_program_and_are_named_in_the_order_typed(words, codes, direction):
    job = read_job(asked(string=words, direction=direction), known=KNOWN)
    done = engine.plan(job, {})
    (told,) = done.report["findings"]
    assert told["code"] == "artwork-fault" and told["where"] == {"pointer": "/artwork/0/text/string"}
    assert re.findall(r"U\+([0-9A-F]+)", told["message"]) == codes and "upload a font" in told["advice"]
    assert not done.programs


def test_what_is_noted_of_a_text_stands_at_its_field():
    document = put(asked(string="a\tb"), "/artwork/0/tone", {})
    found = findings(document)
    assert found["tab"].where.pointer == "/artwork/0/text/string"
    assert found["tone"].where.pointer == "/artwork/0/tone"


def test_letters_that_a_projection_leaves_off_their_size_are_told():
    cone = {"shape": "cone", "diameter_mm": 60, "end_diameter_mm": 30, "length_mm": 90}
    plain = put(put(asked(along="axis", size_mm=5), "/blank", cone), "/artwork/0/placement/projection", "equidistant")
    found = findings(plain)["letters-off-size"]
    assert found.where.pointer == "/artwork/0/text" and "5 mm" in found.message
    assert "letters-off-size" not in findings(put(plain, "/artwork/0/placement/projection", ...))
    assert "letters-off-size" not in findings(put(plain, "/artwork/0/placement/projection", "true-width"))


def capital_mm(document):
    """How tall the H of a plan on the house's cylinder stands: along its axis, read off the strokes."""
    x = engine.plan(read_job(document, known=KNOWN), {}).preview["stroke_x"]
    return float(x.max() - x.min())


@pytest.mark.parametrize(
    ("size", "fields", "stretched"),
    [
        ({"placement": {"width_mm": 40}}, ["placement.width_mm"], False),
        ({"placement": {"height_mm": 5}}, ["placement.height_mm"], False),
        ({"placement": {"width_mm": 40, "height_mm": 9}}, ["placement.height_mm", "placement.width_mm"], True),
        ({"repeat": FIT}, ["repeat.fit"], False),
        ({"repeat": FIT, "placement": {"height_mm": 9}}, ["placement.height_mm", "repeat.fit"], True),
    ],
)
def test_a_text_that_its_size_does_not_size_says_how_tall_its_capitals_are_and_why(size, fields, stretched):
    art = ART | {"text": {"string": "H", "size_mm": 6, "font": "single-line"}, "direction": "any"} | size
    document = DOCUMENT | {"artwork": [art | {"placement": ART["placement"] | size.get("placement", {})}]}
    found = findings(document)["letters-resized"]
    assert found.where.pointer == "/artwork/0/text/size_mm" and found.message.startswith(f"{fields[0]} says")
    assert f"capitals are {capital_mm(document):.2f} mm high" in found.message and "asks for 6" in found.message
    assert found.advice.startswith(f"leave {' and '.join(fields)} out")
    assert ("as wide as the face" in found.message) is stretched
    plain = DOCUMENT | {"artwork": [art | {"placement": ART["placement"], "repeat": None}]}
    assert "letters-resized" not in findings(plain) and capital_mm(plain) == pytest.approx(6.0, abs=0.002)


def test_a_width_that_leaves_capitals_as_asked_to_a_fiftieth_of_a_mm_is_not_told():
    width = {
        h: engine.plan(read_job(asked(size_mm=h), known=KNOWN), {}).preview_meta["arts"][0]["width_mm"]
        for h in (6, 6.01, 6.03)
    }
    told = [
        "letters-resized" in findings(put(DOCUMENT, "/artwork/0/placement/width_mm", wide)) for wide in width.values()
    ]
    assert told == [False, False, True]


def test_an_arc_that_is_resized_with_its_letters_is_told_with_its_radius():
    plain = asked(along="arc", radius_mm=30)
    width = engine.plan(read_job(plain, known=KNOWN), {}).preview_meta["arts"][0]["width_mm"]
    found = findings(put(plain, "/artwork/0/placement/width_mm", 0.8 * width))["letters-resized"]
    assert "capitals are 4.80 mm high" in found.message and "its arc's radius is 24 mm" in found.message


def test_a_stroke_of_a_program_is_as_long_as_its_letter_is_tall():
    # The proof's own reading of the text: an H of one size on the ovoid, along its axis.
    ovoid = {"shape": "ovoid", "length_mm": 57, "breadth_mm": 44, "shift_mm": 2, "quarter_diameter_mm": 36.5}
    document = put(asked(string="HHH", font="single-line", along="axis"), "/blank", ovoid)
    document = put(put(document, "/artwork/0/placement/x_mm", 28), "/artwork/0/direction", "any")
    job = read_job(document, known=KNOWN)
    done = engine.plan(job, {})
    strokes = done.preview
    offsets, x, theta = (strokes[name] for name in ("stroke_offset", "stroke_x", "stroke_theta"))
    skin = job.blank.skin({})
    r = skin.radius(x.astype(float), theta.astype(float))
    points = np.stack([x, r * np.cos(theta), r * np.sin(theta)], axis=1)
    lengths = sorted(
        float(np.linalg.norm(np.diff(points[a:b], axis=0), axis=1).sum()) for a, b in pairwise(offsets.tolist())
    )
    assert lengths[-6:] == pytest.approx([6.0] * 6, abs=0.02)
