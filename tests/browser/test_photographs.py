"""The photographs way of the measuring bench: its pure modules, and a person's way through it by mouse and by keys."""

from itertools import pairwise

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser.bench import open_bench, operation
from tests.browser.measured import lobed
from tests.browser.photographed import BODY, HIGH, MOUNT, WIDE, levels, measured, outline, picture, told_field
from tests.browser.test_page import AXE, SIZES, downloaded

SLOW_MS = 60_000  # a loaded machine stores eight pictures


@pytest.fixture
def core(page, address):
    """`core(module, expression, given)`: the value of an expression in which the module's names stand under `m`."""
    page.goto(address + "/")

    def ask(module, expression, given=None):
        place = f"/static/js/core/photographs/{module}.js"
        source = f"async (given) => {{ const m = await import('{place}'); return {expression}; }}"
        return page.evaluate(source, given)

    return ask


def test_even_angles_make_one_turn(core):
    for count in (1, 7, 24, 72):
        angles = core("project", f"m.evenAngles({count})")
        assert len(angles) == count and angles[0] == 0
        assert all(abs(angle - 360 * i / count) < 1e-4 for i, angle in enumerate(angles))


def test_another_number_keeps_the_pictures_in_their_places(core):
    held = core(
        "project",
        """(() => { let doc = m.withPicture(m.emptyProject(), 2, 'a', 'a.jpg'); doc = m.withCount(doc, 8);
        const { length } = doc.photos;
        const [most, least] = [900, 0].map((count) => m.withCount(doc, count).photos.length);
        return [length, doc.photos[2].asset, doc.photos[2].angle_deg, most, least]; })()""",
    )
    assert held == [8, "a", 90, 72, 1]


def test_another_picture_loses_what_was_mended_on_the_one_before(core):
    got = core(
        "project",
        """(() => { let doc = m.withPicture(m.emptyProject(), 0, 'a', 'a');
        doc = m.withLasso(doc, 0, 'include', [[0, 0], [1, 0], [1, 1]]);
        doc = m.withMoved(doc, 0, [1, 1], [2, 2]); doc = m.withMoved(doc, 0, [1, 1], [3, 3]);
        const other = m.withPicture(doc, 0, 'b', 'b').photos[0].include;
        return [doc.photos[0].moved, m.withPicture(doc, 0, 'a', 'a') === doc, other,
          m.withoutMending(doc, 0).photos[0]]; })()""",
    )
    assert got[0] == [{"from_px": [1, 1], "to_px": [3, 3]}]
    assert got[1] is True and got[2] == []
    assert got[3] == {"angle_deg": 0, "asset": "a", "name": "a", "include": [], "exclude": [], "moved": []}


def test_files_are_taken_as_a_person_counts(core):
    names = ["IMG_10.jpg", "img_9.jpg", "IMG_2.jpg", "IMG_1.jpg"]
    got = core("asking", "m.inNameOrder(given.map((name) => ({ name }))).map((one) => one.name)", names)
    assert got == ["IMG_1.jpg", "IMG_2.jpg", "img_9.jpg", "IMG_10.jpg"]


def test_what_is_missing_is_told_until_nothing_is(core):
    got = core(
        "asking",
        """(() => { const photo = { asset: 'a', angle_deg: 0, include: [], exclude: [], moved: [] };
        const bare = { ...photo, asset: null };
        const setup = { count: 1, far: false, camera_deg: 0, k1: 0, axis_sigma_px: 1 };
        const axis = { from_px: [0, 0], to_px: [9, 0] };
        const full = { setup: { ...setup, length_mm: 80, camera_mm: 300 }, axis, photos: [photo] };
        const far = { ...full, setup: { ...setup, length_mm: 80, far: true } };
        return [m.missing({ setup, axis: null, photos: [bare] }).length, m.missing(full), m.missing(far),
          m.missing({ ...full, photos: [photo, photo, photo] }).length,
          m.missing({ ...full, photos: [...Array(9).fill(photo), bare] }).length, m.silhouettesBody(full),
          m.missing({ ...full, axis: { from_px: [4, 4], to_px: [4, 4] } }).length]; })()""",
    )
    assert [got[0], got[1], got[2], got[3], got[4], got[6]] == [4, [], [], 1, 1, 1]
    assert got[5] == {
        "photos": [{"asset": "a", "angle_deg": 0}],
        "axis": {"from_px": [0, 0], "to_px": [9, 0]},
        "length_mm": 80,
        "camera_mm": 300,
        "camera_deg": 0,
        "axis_sigma_px": 1,
    }


def test_a_nudge_of_the_axis_asks_for_no_edge_anew(core):
    got = core(
        "asking",
        """(() => { const photo = { asset: 'a', angle_deg: 0, include: [], exclude: [], moved: [] };
        const key = (x, extra) => m.outlineKey(
          { photos: [{ ...photo, ...extra }], axis: x === null ? null : { from_px: [31, 32], to_px: [x, 40] } }, 0);
        return [key(501) === key(501.25), key(501) === key(560), key(501) === key(501, { threshold: 9 }),
          m.outlineBody({ photos: [photo], axis: { from_px: [5, 5], to_px: [5, 5] } }, 0), key(null)]; })()""",
    )
    assert got[:3] == [True, False, False]
    assert got[3] == {"photo": {"asset": "a"}} and got[4] == '{"photo":{"asset":"a"}}'


BODY_OF = """(() => { const field = m.fieldOf(given.field);
  const mask = m.bodyOf(field, given.threshold, given.include ?? [], given.exclude ?? []);
  return Array.from(mask); })()"""


def body(core, **given):
    return core("mask", BODY_OF, {"field": told_field(), **given})


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
        "mask",
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
        "sight",
        """(() => { const at = [123, 77]; let sight = m.wholeSight(4000, 3000, 500, 340);
        const before = m.toPicture(sight, at); sight = m.zoomed(sight, at, 7, 0.01);
        return [before, m.toPicture(sight, at), m.toCanvas(sight, before)]; })()""",
    )
    assert got[0] == pytest.approx(got[1]) and got[2] == pytest.approx([123, 77])


# The way itself

# Colours of three places of the picture: in the piece, in the speck, beside.
SHADE = """() => { const c = document.querySelector('.desk-stage canvas.hand'); const g = c.getContext('2d');
  const s = Math.min(c.width / 600, c.height / 400);
  const [left, top] = [(c.width - 600 * s) / 2, (c.height - 400 * s) / 2];
  const at = ([x, y]) => [...g.getImageData(left + x * s, top + y * s, 1, 1).data];
  return [[300, 230], [40, 40], [560, 360]].map(at); }"""
LET_GO = """(one, value) => { one.value = value;
  for (const kind of ['input', 'change']) one.dispatchEvent(new Event(kind, { bubbles: true })); }"""
OPEN = """(angles_deg) => fetch('/api/measure/phone', { method: 'POST', headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify({ angles_deg, address: '127.0.0.1' }) }).then((one) => one.json())"""


@pytest.fixture
def way(page, address):
    page.goto(address + "/")
    asked = measured(page)
    page.evaluate(MOUNT)
    return page, asked


def files(count):
    return [{"name": f"turn {i + 1}.png", "mimeType": "image/png", "buffer": picture(i)} for i in range(count)]


def choose(page, count):
    page.get_by_label("Pictures, in name order").set_input_files(files(count)[::-1])
    expect(page.locator(".photos li")).to_have_count(count)
    expect(page.locator(".photos .photo", has_text="no picture")).to_have_count(0, timeout=SLOW_MS)


def until(page, expression):
    """Wait until an expression holds; the page's policy lets no text be run in it, so it is asked from outside."""
    for _ in range(400):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"it never came to {expression}")


def type_in(page, label, text):
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")


def on_canvas(page, x, y):
    """Where a place of the picture is on the screen, the whole picture being shown."""
    box = page.locator(".desk-stage canvas.hand").bounding_box()
    zoom = min(box["width"] / WIDE, box["height"] / HIGH)
    return box["x"] + (box["width"] - WIDE * zoom) / 2 + x * zoom, box["y"] + (
        box["height"] - HIGH * zoom
    ) / 2 + y * zoom


def drag(page, *places):
    page.locator(".desk-stage").scroll_into_view_if_needed()
    points = [on_canvas(page, *place) for place in places]
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point, steps=4)
    page.mouse.up()


def test_from_pictures_to_a_skin_by_mouse(way):
    page, asked = way
    choose(page, 8)
    type_in(page, "Length between the points", "90")
    type_in(page, "Camera to the axis", "300")
    expect(page.locator(".desk-state")).to_contain_text("Two bodies stand out.", timeout=SLOW_MS)
    drag(page, (100, 200), (500, 200))
    drag(page, (500, 200), (505, 204))
    go = page.get_by_role("button", name="Work out the skin")
    expect(go).to_have_attribute("aria-disabled", "false")
    go.click()
    until(page, "window.bench.answers.length === 1")
    (sent,) = asked["silhouettes"]
    assert [one["angle_deg"] for one in sent["photos"]] == [45.0 * i for i in range(8)]
    assert len({one["asset"] for one in sent["photos"]}) == 8
    assert sent["length_mm"] == 90 and sent["camera_mm"] == 300 and "k1" not in sent
    for end, wanted in (("from_px", (100, 200)), ("to_px", (505, 204))):
        assert sent["axis"][end] == pytest.approx(wanted, abs=5)
    names = page.evaluate("window.kept.own.state.doc.photos.map((one) => one.name)")
    assert names == [f"turn {i + 1}.png" for i in range(8)]


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
    page.wait_for_timeout(600)
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
    drag(page, (x, BODY[1]), (x, BODY[1] - 20))
    until(page, "window.kept.own.state.doc.photos[0].moved.length === 1")
    page.wait_for_timeout(600)
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


def test_what_was_done_is_kept_while_another_way_is_looked_at(way):
    page, _ = way
    choose(page, 8)
    type_in(page, "Length between the points", "77")
    page.evaluate("window.way.dispose()")
    assert page.locator(".photographs").count() == 0
    page.evaluate("document.querySelector('main').remove()")
    page.evaluate(MOUNT)
    expect(page.get_by_label("Length between the points", exact=True)).to_have_value("77")
    expect(page.locator(".photos .photo", has_text="no picture")).to_have_count(0, timeout=SLOW_MS)


def test_the_program_that_turns_and_the_card_of_the_lens(way):
    page, asked = way
    for fold in page.locator("summary").all():
        fold.click()
    type_in(page, "Number of photographs", "12")
    page.get_by_label("At each angle it waits").select_option("5")
    name, text = downloaded(page, page.get_by_role("button", name="Program that turns and waits").click)
    assert (name, text) == ("turn-24.ngc", "(turn)\nM2\n")
    assert asked["turn-program"] == [{"angles_deg": [30.0 * i for i in range(12)], "machine": "seed-fair", "wait": 5}]
    hrefs = page.locator("a[download]").evaluate_all("all => all.map((one) => one.getAttribute('href'))")
    assert hrefs == ["/api/measure/card.svg?paper=a4", "/api/measure/card.svg?paper=letter"]
    page.get_by_label("Pictures of the card").set_input_files(files(2))
    expect(page.get_by_label("Distortion k₁", exact=True)).to_have_value("−0.08")
    assert len(asked["lens"][0]["photos"]) == 2


CLIP = """async () => {
  const canvas = document.createElement('canvas'); [canvas.width, canvas.height] = [320, 240];
  const g = canvas.getContext('2d');
  const recorder = new MediaRecorder(canvas.captureStream(25), { mimeType: 'video/webm' });
  const parts = []; recorder.ondataavailable = (event) => parts.push(event.data);
  const ended = new Promise((resolve) => { recorder.onstop = resolve; });
  recorder.start();
  for (let i = 0; i < 24; i += 1) {
    g.fillStyle = `hsl(${i * 15} 80% 50%)`; g.fillRect(0, 0, 320, 240);
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
  recorder.stop(); await ended;
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer()); return Array.from(bytes); }"""


def test_frames_of_a_clip_are_taken_at_even_times(way):
    page, _ = way
    clip = bytes(page.evaluate(CLIP))
    type_in(page, "Number of photographs", "8")
    page.get_by_label("Clip of one turn").set_input_files(
        {"name": "float.webm", "mimeType": "video/webm", "buffer": clip}
    )
    until(page, "window.bench.told.includes('8 frames are stored.')")
    photos = page.evaluate("window.kept.own.state.doc.photos.map(({ asset, name }) => [asset, name])")
    assert len({asset for asset, _ in photos}) == 8, "frames repeat"
    times = [float(name.split()[1]) for _, name in photos]
    steps = [b - a for a, b in pairwise(times)]
    assert times[0] == 0 and max(steps) - min(steps) < 0.021


def test_a_phone_brings_its_pictures_onto_the_bench(way, browser):
    page, _ = way
    type_in(page, "Number of photographs", "8")
    opened = page.evaluate(OPEN, [0, 45, 90])
    page.evaluate("window.way.dispose()")
    page.evaluate("document.querySelector('main').remove()")
    page.evaluate(MOUNT)  # a page that is open already is shown again
    expect(page.get_by_alt_text("Code with the address")).to_be_visible()
    expect(page.locator(".phone-code code")).to_have_text(opened["url"])
    with browser.new_context(viewport={"width": 390, "height": 844}) as context:
        phone = context.new_page()
        phone.goto(opened["url"])
        phone.locator("#picture").set_input_files(files(1)[0])
        expect(page.get_by_text("1 of 3 photographs have come.")).to_be_visible()
        expect(page.locator(".photos .photo").first).not_to_contain_text("no picture")
        page.get_by_role("button", name="Close the phone").click()
        expect(page.get_by_role("button", name="Take them with a phone")).to_be_visible()
        phone.locator("#picture").set_input_files(files(2)[1])
        expect(phone.locator("#told")).to_contain_text("kept here and sent again")


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_it_at_every_size(browser, address, width, height, scheme):
    with browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme) as context:
        page = context.new_page()
        page.goto(address + "/")
        measured(page)
        page.evaluate(MOUNT)
        choose(page, 8)
        expect(page.locator(".desk-state")).to_contain_text("Two bodies", timeout=SLOW_MS)
        for fold in page.locator("summary").all():
            fold.click()
        for enlarged in (False, True):
            if enlarged:
                page.get_by_role("button", name="Enlarge").click()
                expect(page.get_by_role("dialog")).to_be_visible()
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            found = Axe().run(page, options=AXE).response["violations"]
            assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found] == []
        page.get_by_role("button", name="back to the form").click()
        expect(page.get_by_role("button", name="Enlarge")).to_be_focused()


def test_it_is_one_of_the_ways_of_the_bench(page, address):
    """In the dialog itself: the way is chosen, and what the server answers is plotted."""
    asked = measured(page, lobed(stations=9, angles=24))
    open_bench(page, address)
    operation(page, "Blank").get_by_role("button", name="Measure …").click()
    dialog = page.get_by_role("dialog", name="Measure the blank")
    dialog.get_by_label("Photographs", exact=True).check(force=True)
    choose(page, 8)
    type_in(page, "Length between the points", "90")
    type_in(page, "Camera to the axis", "300")
    drag(page, (100, 200), (500, 200))
    dialog.get_by_role("button", name="Work out the skin").click()
    expect(dialog.locator(".face.map")).to_be_visible()
    expect(dialog.get_by_role("button", name="Use this skin")).to_have_attribute("aria-disabled", "false")
    assert len(asked["silhouettes"]) == 1
    found = Axe().run(page, options=AXE).response["violations"]
    assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found] == []


def test_the_server_finds_the_edge_that_is_drawn(page, address):
    """No answer is made up here: each point of the edge lies on the rounded frame of the drawn piece."""
    page.goto(address + "/")
    page.evaluate(MOUNT)
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


def test_a_busy_server_is_asked_for_the_edge_again(way, faults):
    page, asked = way
    refused = []

    def busy_once(route):
        if refused:
            return route.fallback()
        refused.append(route.request.url)
        return route.fulfill(status=503, headers={"Retry-After": "1"}, json={"detail": "Busy."})

    page.route("**/api/measure/outline", busy_once)
    choose(page, 1)
    expect(page.locator(".photos .photo")).to_contain_text("look at it")
    assert len(refused) == 1 and len(asked["outline"]) == 1
    assert len(faults) == 1 and "status of 503" in faults[0]  # the browser's own words
    faults.clear()
