"""Mending a photograph: its mask, lassos, axis and edge, by mouse and by keys; the edge that the server finds."""

import pytest
from playwright.sync_api import expect

from tests.browser.bench import until
from tests.browser.photographed import BODY, HIGH, SLOW_MS, WIDE, choose, drag, laid, levels, outline, still, told_field

BODY_OF = """(() => { const field = m.fieldOf(given.field);
  const mask = m.bodyOf(field, given.threshold, given.include ?? [], given.exclude ?? []);
  return Array.from(mask); })()"""


def body(core, **given):
    return core("photographs/mask", BODY_OF, {"field": told_field(), **given})


def test_the_mask_is_the_largest_body_above_the_threshold(core):
    field = levels()
    only = (field == 200).astype(int).ravel().tolist()
    assert body(core, threshold=25.0) == only  # the speck, 120 x 0.25 = 30 far, stands out but is no part of the body
    assert body(core, threshold=49.9) == only
    assert sum(body(core, threshold=50.0)) == 0  # 200 x 0.25 is not more than 50
    assert sum(body(core, threshold=2.4)) == field.size  # everything stands out


def test_lassos_add_and_take_away_and_holes_are_filled(core):
    only = (levels() == 200).sum()
    left, top, right, bottom = BODY
    bridge = [[60, 20], [140, 20], [140, 140], [60, 140]]  # joins the speck's side with the piece
    assert sum(body(core, threshold=25.0, include=[bridge])) > only
    half = [
        [left - 9, top - 9],
        [(left + right) / 2, top - 9],
        [(left + right) / 2, bottom + 9],
        [left - 9, bottom + 9],
    ]
    assert sum(body(core, threshold=25.0, exclude=[half])) == pytest.approx(only / 2, rel=0.03)
    hole = [[200, 160], [300, 160], [300, 220], [200, 220]]
    assert sum(body(core, threshold=25.0, exclude=[hole])) == only


def test_a_lasso_covers_the_cells_whose_middles_it_holds(core):
    corners = [[10.0, 10.0], [100.0, 12.0], [61.0, 61.0], [90.0, 110.0], [15.0, 95.0]]
    got = core(
        "photographs/mask",
        """(() => { const field = { width: 40, height: 40, scale_px: 4 }; const out = Array(1600).fill(0);
        m.runsIn(given, field, (row, from, to) => out.fill(1, row * 40 + from, row * 40 + to)); return out; })()""",
        corners,
    )
    middles = [((i % 40 + 0.5) * 4, (i // 40 + 0.5) * 4) for i in range(1600)]
    assert got == [int(inside(corners, x, y)) for x, y in middles]


def inside(corners, x, y):
    """Winding by crossings (O'Rourke, Computational Geometry in C, section 7.4)."""
    odd = False
    for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
        if (ay <= y) != (by <= y) and x >= ax + (y - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def test_a_place_of_the_picture_stays_under_the_pointer(core):
    got = core(
        "photographs/sight",
        """(() => { const at = [123, 77]; let sight = m.wholeSight(4000, 3000, 500, 340);
        const before = m.toPicture(sight, at); sight = m.zoomed(sight, at, 7, 0.01);
        return [before, m.toPicture(sight, at), m.toCanvas(sight, before)]; })()""",
    )
    assert got[0] == pytest.approx(got[1]) and got[2] == pytest.approx([123, 77])


# Colours of three places of the picture: in the piece, in the speck, beside.
SHADE = """() => { const c = document.querySelector('.desk-stage canvas.hand'); const g = c.getContext('2d');
  const s = Math.min(c.width / 600, c.height / 400);
  const [left, top] = [(c.width - 600 * s) / 2, (c.height - 400 * s) / 2];
  const at = ([x, y]) => [...g.getImageData(left + x * s, top + y * s, 1, 1).data];
  return [[300, 230], [40, 40], [560, 360]].map(at); }"""
LET_GO = """(one, value) => { one.value = value;
  for (const kind of ['input', 'change']) one.dispatchEvent(new Event(kind, { bubbles: true })); }"""


def test_the_threshold_shows_at_once_and_is_asked_once(way):
    page, asked = way
    choose(page, 1)
    slider = page.get_by_label("Threshold")
    expect(slider).to_be_enabled()
    before = len(asked["outline"])
    until(page, f"({SHADE})()[0][2] > 90")  # blue over a piece of (176, 116, 40)
    tinted = page.evaluate(SHADE)
    set_slider = "(one, value) => { one.value = value; one.dispatchEvent(new Event('input', { bubbles: true })); }"
    slider.evaluate(set_slider, 60)
    until(page, f"({SHADE})()[0].join() === '176,116,40,255'")
    assert tinted[1:] == page.evaluate(SHADE)[1:], "what is no part of the body is tinted"
    assert len(asked["outline"]) == before
    slider.evaluate(LET_GO, 20)
    until(page, "window.kept.own.state.doc.photos[0].threshold === 20")
    until(page, "Object.keys(window.kept.own.state.outlines).length === 2")  # that is after a short rest
    expect(page.locator(".desk-state")).to_contain_text("Two bodies")
    assert [one["photo"].get("threshold") for one in asked["outline"][before:]] == [20]
    page.get_by_role("button", name="Automatic").click()
    assert page.evaluate("'threshold' in window.kept.own.state.doc.photos[0]") is False


def test_mending_by_mouse_is_sent_and_undone(way):
    page, asked = way
    choose(page, 1)
    expect(page.locator(".desk-state")).to_contain_text("Two bodies", timeout=SLOW_MS)
    page.get_by_label("Take away", exact=True).check(force=True)
    drag(page, (10, 10), (80, 10), (80, 80), (10, 80))
    page.get_by_label("Add", exact=True).check(force=True)
    drag(page, (470, 150), (520, 150), (520, 250), (470, 250))
    page.get_by_label("Move a point", exact=True).check(force=True)
    x = outline()["points_px"][30][0]
    with page.expect_request(lambda one: one.url.endswith("/outline") and "moved" in one.post_data):
        drag(page, (x, BODY[1]), (x, BODY[1] - 20))
    until(page, "window.kept.own.state.doc.photos[0].moved.length === 1")
    photo = asked["outline"][-1]["photo"]
    assert len(photo["include"]) == len(photo["exclude"]) == 1
    ((was, to),) = photo["moved"]
    assert was == pytest.approx([x, BODY[1]], abs=0.02) and to == pytest.approx([x, BODY[1] - 20], abs=2.5)
    for left in ((1, 1, 0), (0, 1, 0), (0, 0, 0)):
        page.get_by_role("button", name="Undo").click()
        got = page.evaluate(
            "['include', 'exclude', 'moved'].map((what) => window.kept.own.state.doc.photos[0][what].length)"
        )
        assert tuple(got) == left
    page.get_by_role("button", name="Redo").click()
    page.get_by_role("button", name="give up what was mended").click()
    assert page.evaluate("window.kept.own.state.doc.photos[0].exclude.length") == 0


def test_axis_lasso_and_edge_by_keys_alone(way):
    page, _ = way
    choose(page, 1)
    expect(page.locator(".desk-state")).to_contain_text("Two bodies", timeout=SLOW_MS)
    keys = page.keyboard
    canvas = page.locator(".desk-stage canvas.hand")
    canvas.focus()
    keys.press("Enter")
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown", "Enter", "ArrowUp"):
        keys.press(key)
    axis = page.evaluate("window.kept.own.state.doc.axis")
    assert axis == {"from_px": [60.5, 210], "to_px": [540, 199.75]}
    expect(page.locator(".loupe")).to_be_visible()
    page.get_by_label("Take away", exact=True).focus()
    page.get_by_label("Take away", exact=True).check(force=True)
    canvas.focus()
    for key in (" ", "ArrowRight", " ", "ArrowDown", " ", "Enter"):
        keys.press(key)
    (corners,) = page.evaluate("window.kept.own.state.doc.photos[0].exclude")
    assert len(corners) == 3
    page.get_by_label("Move a point", exact=True).check(force=True)
    canvas.focus()
    for key in ("PageDown", "PageDown", "ArrowUp", "ArrowUp", "Enter"):
        keys.press(key)
    ((moved),) = page.evaluate("window.kept.own.state.doc.photos[0].moved")
    assert moved["to_px"] == [moved["from_px"][0], moved["from_px"][1] - 0.5]
    keys.press("Control+z")
    assert page.evaluate("window.kept.own.state.doc.photos[0].moved") == []


def test_the_server_finds_the_edge_that_is_drawn(page, address):
    """No answer is made up here: each point of the edge lies on the rounded frame of the drawn piece."""
    still(page, address)
    laid(page)
    choose(page, 1)
    expect(page.locator(".photos .photo")).to_contain_text("edge found", timeout=SLOW_MS)
    points = page.evaluate("Object.values(window.kept.own.state.outlines)[0].points_px")
    left, top, right, bottom = BODY[0], BODY[1], BODY[2] + 1, BODY[3] + 1  # the far corners are pixels of the piece
    assert len(points) > 100
    for x, y in points:
        dx = max(left + 60 - x, 0, x - (right - 60))
        dy = max(top + 60 - y, 0, y - (bottom - 60))
        beside = (dx**2 + dy**2) ** 0.5 - 60
        assert abs(beside) < 1.0, (x, y)
    covered = "([one]) => [one.width * one.scale_px, one.height * one.scale_px]"
    field = page.evaluate(f"({covered})([...window.kept.fields.values()])")
    assert field == pytest.approx([WIDE, HIGH], abs=4)
