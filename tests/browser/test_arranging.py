"""Copies, borders and frames on the page: pure figures first, then a person's way."""

import pytest
from playwright.sync_api import expect

from engine.job import read_job
from tests.browser.bench import add_svg, new_job, open_bench, operation, planned, set_field
from tests.job.documents import DRAWING, KNOWN

PLACED = {"x_mm": 10, "angle_deg": 5, "turn_deg": 30, "width_mm": 4, "mirror": True}
REPEATS = [
    {"times": 3},
    {"times": 4, "every_deg": -20, "step_mm": 2.5, "mirror": "alternate"},
    {"times": 2, "mirror": "alternate"},
]


def document(*artwork):
    blank = {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90}
    more = {"asset": DRAWING, "placement": {"x_mm": 30}}
    items = [(more if "border" not in item else {}) | {"depth_mm": 0.2} | item for item in artwork]
    return {"schema": "roundwright.job/1", "name": "Fair", "blank": blank, "artwork": items}


@pytest.mark.parametrize("repeat", REPEATS)
def test_the_page_lays_copies_where_the_plan_does(core, repeat):
    frame = {"border": {"kind": "line", "along": "frame", "around": 0}}
    doc = document({"placement": PLACED, "repeat": repeat}, frame)
    items = read_job(doc, known=KNOWN).items
    for index in (0, 1):
        shown = core("arranging", f"m.copiesOf(given, {index})", doc)
        meant = [item.placement for item in items if item.index == index]
        names = ("x_mm", "angle_deg", "turn_deg", "mirror")
        told = [[one["placement"].get(name, False) for name in names] for one in shown]
        assert told == [[getattr(place, name) for name in names] for place in meant]


def test_pieces_line_up_with_the_first_and_spread_evenly_in_their_order(core):
    doc = document(*({"placement": {"x_mm": x, "angle_deg": a}} for x, a in ((10, 20), (20, 350), (30, 90), (40, 25))))
    for how, name, meant in (
        ("x", "x_mm", [10, 20, 10, 10]),
        ("theta", "angle_deg", [20, 350, 20, 20]),
        ("spread", "angle_deg", [20, 350, -100, 140]),
    ):
        made = core("arranging", f"m.arranged(given, [0, 2, 3], '{how}')", doc)
        assert [item["placement"][name] for item in made["artwork"]] == meant
        read_job(made, known=KNOWN)
    assert core("arranging", "m.arranged(given, [2], 'x') === given", doc)


def test_a_frame_is_moved_and_counted_as_its_piece(core):
    frame = {"border": {"kind": "line", "along": "frame", "around": 1}}
    doc = document({"placement": {"x_mm": 10}}, {"placement": {"x_mm": 20, "angle_deg": 40}}, frame)
    assert core("arranging", "[0, 1, 2].map((k) => m.rootOf(given, k))", doc) == [0, 1, 1]
    made = core("arranging", "m.arranged(given, [0, 2], 'x')", doc)
    assert made["artwork"][1]["placement"]["x_mm"] == 10 and made["artwork"][2] == doc["artwork"][2]


def test_taking_a_piece_away_takes_its_frame_and_leaves_others_round_theirs(core):
    frames = [{"border": {"kind": "line", "along": "frame", "around": k}} for k in (0, 2)]
    doc = document({"name": "a"}, frames[0], {"name": "c"}, frames[1])
    left = core("arranging", "m.withoutArt(given, 0)", doc)
    assert [item.get("name") for item in left["artwork"]] == ["c", None]
    assert left["artwork"][1]["border"]["around"] == 0
    read_job(left, known=KNOWN)


def test_fitting_leaves_out_what_it_forbids_and_the_document_is_taken(core):
    doc = document({"placement": PLACED, "repeat": {"times": 5, "every_deg": 10, "step_mm": 1}})
    made = core("arranging", "m.fitted(given.artwork[0], true)", doc)
    assert made["repeat"] == {"times": 5, "fit": True} and {"width_mm", "turn_deg"}.isdisjoint(made["placement"])
    read_job(document(made), known=KNOWN)
    assert core("arranging", "m.fitted(given.artwork[0], false)", document(made))["repeat"] == {"times": 5}


@pytest.mark.parametrize("seam", [180, -180, 0, 75, -130])
def test_the_sheet_opens_at_the_seam_and_holds_one_turn(core, seam):
    expression = """(() => { const c = m.createChart(0, 90, 20, given); const v = { scale: 3, left: 11, top: 7 };
      const box = m.sheetBox(c, v); const rad = (given * Math.PI) / 180;
      const off = (m.toSheet(c, v, box.left, 0)[1] - rad) / m.TURN;
      const zero = m.toScreen(c, v, 0, 0)[0];
      return [Math.abs(off - Math.round(off)) < 1e-9, zero >= box.left - 1e-9 && zero <= box.right + 1e-9,
        m.seamTurns(rad - 0.1, rad + 0.1, c.left).length, m.seamTurns(rad + 1, rad + 1.1, c.left).length]; })()"""
    assert core("chart", expression, seam) == [True, True, 2, 1]


def arts(page):
    return page.evaluate("[...document.querySelectorAll('.art .name')].map((e) => e.textContent)")


def test_a_piece_is_repeated_framed_and_bordered_and_one_drag_moves_all(page, address):
    open_bench(page, address)
    new_job(page)
    add_svg(page)
    planned(page)
    place = operation(page, "Placement")
    set_field(place, "Width", "10")
    place.get_by_text("Arranging", exact=True).click()
    place.get_by_role("button", name="Repeat it round").click()
    set_field(place, "Copies", "4")
    place.get_by_role("button", name="Frame it").click()
    planned(page)
    operation(page, "Artwork").get_by_role("button", name="Add a border").click()
    planned(page)
    assert arts(page) == ["sprig.svg", "line frame", "wave border"]
    set_field(operation(page, "Placement"), "Station x", "75")
    planned(page)
    told = page.locator("#sheet-now")
    operation(page, "Artwork").get_by_role("radio").nth(1).check(force=True)
    expect(told).to_contain_text("4 copies")
    sheet = page.get_by_role("application", name="Unwrapped sheet")
    sheet.focus()
    sheet.press("Shift+ArrowUp")
    planned(page)
    place = operation(page, "Placement")
    expect(place.get_by_text("A frame lies where")).to_be_visible()
    operation(page, "Artwork").get_by_role("radio").nth(0).check(force=True)
    expect(operation(page, "Placement").get_by_label("Station x", exact=True)).to_have_value("46")
    expect(operation(page, "Placement").get_by_text("Together with sprig.svg")).to_be_visible()
    assert page.locator(".findings .word.bad").count() == 0
