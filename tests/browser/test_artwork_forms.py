"""Lettering, styles, photographs and several tools on the page: pure figures first, then a person's way."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.bench import (
    SIZES,
    add_svg,
    new_job,
    open_bench,
    open_empty,
    operation,
    planned,
    set_field,
    violations,
)

LUMA = """(image) => { const c = new OffscreenCanvas(image.naturalWidth, image.naturalHeight).getContext('2d');
  c.drawImage(image, 0, 0); const d = c.getImageData(0, 0, image.naturalWidth, image.naturalHeight).data;
  let sum = 0; for (let i = 0; i < d.length; i += 4) sum += d[i]; return sum / (d.length / 4); }"""


def picture():
    """A grey ramp as a PNG."""
    held = BytesIO()
    Image.fromarray(np.tile(np.linspace(0, 255, 120).astype("u1"), (80, 1))).save(held, "PNG")
    return {"name": "ramp.png", "mimeType": "image/png", "buffer": held.getvalue()}


def test_the_paper_is_that_of_the_readers_country(core):
    told = core("paper", "given.map(m.paperOf)", ["en-US", "es-MX", "fr-CA", "en-GB", "de", "pt-BR", "en", "?"])
    assert told == ["letter", "letter", "letter", "a4", "a4", "a4", "a4", "a4"]


def test_the_tool_in_the_spindle_is_that_of_the_stroke(core):
    tools = [{"id": "flat-1", "form": "flat", "diameter_mm": 1}, {"id": "v", "form": "cone", "angle_deg": 30}]
    used = [{"id": "v", "from_stroke": 1, "to_stroke": 4}, {"id": "flat-1", "from_stroke": 5, "to_stroke": 9}]
    doc = {"artwork": [{}], "tools": tools}
    state = {"doc": doc, "selected": 0, "library": {"tools": []}, "view": {"of": doc, "meta": {"tools": used}}}
    got = core("tools", "[0, 1, 4, 5, 9].map((stroke) => m.toolAt(given, stroke).id)", state)
    assert got == ["v", "v", "v", "flat-1", "flat-1"]
    assert core("tools", "m.toolAt(given, 2)", state) == {**tools[1], "diameter_mm": 3.175, "tip_mm": 0.1}
    assert core("tools", "m.toolAt(given, 7).id", state | {"view": {"of": doc, "meta": {}}}) == "flat-1"


def test_a_tool_that_clears_is_chosen_made_and_taken_away(core):
    doc = {"artwork": [{"marking": {"style": "v-depth"}}, {"marking": {"style": "relief"}}]}
    made = core("tools", "m.withClearing(given, 0, m.NEW_CLEARING)", doc)
    assert [one["id"] for one in made["tools"]] == ["cone-60", "clearing"]  # what cuts the pieces stays the first
    assert made["artwork"] == [{"marking": {"style": "v-depth", "clearing_tool": "clearing"}}, doc["artwork"][1]]
    again = core("tools", "m.withClearing(given, 1, m.NEW_CLEARING)", made)
    assert [one["id"] for one in again["tools"]] == ["cone-60", "clearing", "clearing-2"]
    assert core("tools", "m.withClearing(given, 1, 'clearing')", made)["tools"] == made["tools"]
    assert core("tools", "m.withClearing(given, 0, '')", made)["artwork"] == doc["artwork"]


def test_a_curve_rises_from_end_to_end_whatever_is_done_to_it(core):
    ask = "m.movedTo(given.points, given.k, given.to)"
    points = [[0, 0.1], [0.5, 0.4], [1, 0.9]]
    for k, to, meant in (
        (1, [0.9, 0.8], [0.9, 0.8]),
        (1, [2, 2], [0.98, 0.9]),  # neither past its neighbour nor above it
        (1, [-1, -1], [0.02, 0.1]),
        (0, [0.5, 0.7], [0, 0.4]),  # an end stays at its edge
    ):
        got = core("curve", ask, {"points": points, "k": k, "to": to})
        assert got[k] == meant and got[:k] + got[k + 1 :] == points[:k] + points[k + 1 :]
        assert got == sorted(got) and [y for _, y in got] == sorted(y for _, y in got)
    added = core("curve", "m.withPoint(given, [0.25, 0.95])", points)
    assert added == {"points": [[0, 0.1], [0.25, 0.4], [0.5, 0.4], [1, 0.9]], "k": 1}
    assert core("curve", "m.withPoint(given, [0.51, 0.5])", points) is None
    assert core("curve", "[m.without(given, 0) === given, m.without(given, 1).length]", points) == [True, 2]
    assert core("curve", "[m.isStraight(m.STRAIGHT), m.isStraight(given)]", points) == [True, False]


def lettering(page, address):
    """A new job with a piece of lettering; the form of its artwork."""
    open_bench(page, address)
    new_job(page)
    form = operation(page, "Artwork")
    form.get_by_role("button", name="Add lettering").click()
    return form


def test_lettering_is_typed_cut_and_printed_on_paper(page, address):
    form = lettering(page, address)
    form.get_by_label("Words", exact=True).fill("Bean")
    set_field(form, "Height of a capital", "6")
    operation(page, "Marking").get_by_label("centreline", exact=True).check(force=True)
    planned(page)
    expect(page.locator("button.op", has_text="Marking")).to_contain_text("strokes")
    expect(operation(page, "Artwork").get_by_role("radio", name="Bean")).to_be_checked()
    paper = page.get_by_role("link", name="Paper", exact=True)
    with page.expect_download() as waiting:
        paper.click()
    with open(waiting.value.path(), "rb") as file:
        assert file.read(5) == b"%PDF-"
    set_field(operation(page, "Artwork"), "Height of a capital", "5")
    expect(paper).to_have_attribute("aria-disabled", "true")  # until the new plan is there
    planned(page)
    expect(paper).to_have_attribute("aria-disabled", "false")


def test_what_sizes_lettering_stands_in_its_row_and_what_comes_of_it_is_told(page, address):
    form = lettering(page, address)
    set_field(form, "Height of a capital", "6")
    row = form.locator(".art", has_text="Seed swap")
    expect(row).to_contain_text("lettering, 6 mm")
    set_field(operation(page, "Placement"), "Width", "40")
    operation(page, "Artwork")
    expect(row).to_contain_text("lettering, 40 mm wide")
    expect(page.get_by_role("list", name="Findings")).to_contain_text("placement.width_mm says", timeout=30_000)
    set_field(operation(page, "Placement"), "Height", "5")
    operation(page, "Artwork")
    expect(row).to_contain_text("lettering, 5 mm high")
    expect(page.get_by_role("list", name="Findings")).to_contain_text("placement.height_mm says", timeout=30_000)


def test_letters_that_a_face_does_not_have_are_named_one_by_one_and_shut_the_program(page, address):
    form = lettering(page, address)
    form.get_by_label("Words", exact=True).fill("Beet\nזרע\nبذور")
    findings = page.get_by_role("list", name="Findings")
    for code, name in (("05D6", "hebrew letter zayin"), ("05E2", "hebrew letter ayin"), ("0628", "arabic letter beh")):
        expect(findings).to_contain_text(f"U+{code} ({name})", timeout=30_000)
    expect(findings).to_contain_text("upload a font that has them")
    expect(page.get_by_text("Engraving: shut")).to_be_visible()


def test_a_style_brings_its_own_fields_and_keeps_what_it_shares(page, address):
    open_empty(page, address)
    add_svg(page)
    form = operation(page, "Marking")
    set_field(form, "Pitch on the skin", "0.4")
    for style, there, gone in (
        ("rings", "Join the rings into spirals", "Angle of the lines"),
        ("halftone", "Least depth", "Join the rings into spirals"),
        ("stipple", "Seed of the pattern", "Pitch on the skin"),
        ("v-depth", "Clearing tool", "Seed of the pattern"),
        ("hatch", "Cross it with a second set of lines", "Clearing tool"),
    ):
        form.get_by_label(style, exact=True).check(force=True)
        expect(form.get_by_label(there, exact=True)).to_be_visible()
        expect(form.get_by_label(gone, exact=True)).to_have_count(0)
        if style in ("rings", "halftone"):
            expect(form.get_by_label("Pitch on the skin", exact=True)).to_have_value("0.4")
    form.get_by_label("one helix", exact=True).check(force=True)
    expect(form.get_by_label("Angle of the lines", exact=True)).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(form.get_by_label("Angle of the lines", exact=True)).to_be_visible()


def luma(form):
    """Mean grey of the picture as it will be cut, once it is that of the document."""
    expect(form.locator("figure.picture-look")).not_to_have_attribute("aria-busy", "true", timeout=30_000)
    return form.get_by_alt_text("The picture as it will be cut").evaluate(LUMA)


def test_a_pictures_look_and_curve_follow_the_hand(page, address):
    open_empty(page, address)
    form = operation(page, "Artwork")
    form.get_by_label("Artwork file").set_input_files(picture())
    operation(page, "Marking").get_by_label("halftone", exact=True).check(force=True)
    form = operation(page, "Artwork")
    plain = luma(form)
    form.get_by_text("Light and dark", exact=True).click()
    set_field(form, "Black from", "150")
    assert luma(form) < plain - 20

    curve = form.get_by_role("group", name="Curve of the greys")
    box = curve.bounding_box()
    curve.click(position={"x": box["width"] / 2, "y": box["height"] / 2})
    expect(curve.get_by_role("slider")).to_have_count(3)
    middle = curve.get_by_role("slider").nth(1)
    level = int(middle.get_attribute("aria-valuenow"))
    middle.focus()
    dark = luma(form)
    for _ in range(2):
        page.keyboard.press("Shift+ArrowUp")
    expect(middle).to_have_attribute("aria-valuenow", str(level + 20))
    expect(middle).to_be_focused()
    assert luma(form) > dark + 5
    page.keyboard.press("Delete")
    expect(curve.get_by_role("slider")).to_have_count(2)


def test_two_pieces_are_cut_by_two_tools_and_the_moment_tells_which(page, address):
    open_bench(page, address)
    new_job(page)
    add_svg(page)
    planned(page)
    operation(page, "Artwork").get_by_role("button", name="Add a border").click()
    set_field(operation(page, "Placement"), "Station x", "75")
    tool = operation(page, "Tool and machine")
    tool.get_by_label("this piece alone", exact=True).check(force=True)
    tool.get_by_label("ball", exact=True).check(force=True)
    planned(page)
    told = page.locator(".figs")
    scrub = page.get_by_label("Moment of the program")
    scrub.focus()
    page.keyboard.press("ArrowRight")
    first = told.inner_text()
    scrub.evaluate(
        "(range) => { range.value = range.max; range.dispatchEvent(new Event('input', { bubbles: true })); }"
    )
    expect(told).not_to_have_text(first)
    last = told.inner_text()
    assert ("own-ball" in first) != ("own-ball" in last)
    assert ("cone-60" in first) != ("cone-60" in last)
    with page.context.expect_page() as waiting:
        page.get_by_role("link", name="Sheet", exact=True).click()
    expect(waiting.value.locator("main")).to_contain_text("own-ball")
    assert violations(waiting.value) == []


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_the_forms_at_every_size(browser, address, width, height, scheme):
    with browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme) as context:
        page = context.new_page()
        open_empty(page, address)
        form = operation(page, "Artwork")
        form.get_by_label("Artwork file").set_input_files(picture())
        expect(form.get_by_role("radio")).to_have_count(1)
        form.get_by_role("button", name="Add lettering").click()
        form.get_by_role("button", name="Add a border").click()
        for k, style in enumerate(("halftone", "v-depth", "rings")):
            operation(page, "Artwork").locator("input[name=art-selected]").nth(k).check(force=True)
            operation(page, "Marking").get_by_label(style, exact=True).check(force=True)
            for title in ("Artwork", "Placement", "Marking"):
                form = operation(page, title)
                form.evaluate("(one) => one.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
                if title == "Placement":
                    form.get_by_label(("fitted", "from-view", "conformal")[k], exact=True).check(force=True)
                assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
                assert violations(page, ".card") == [], (title, style)
