"""Measuring by photographs: getting the pictures, what is asked and told about them, and the way to a skin."""

import time
from itertools import pairwise

import httpx
import pytest
from playwright.sync_api import expect

from tests.browser.bench import SIZES, open_empty, operation, until, violations
from tests.browser.measured import lobed
from tests.browser.photographed import SLOW_MS, choose, drag, files, laid, measured, still, type_in
from tests.browser.test_page import downloaded

OPEN = """(angles_deg) => fetch('/api/measure/phone', { method: 'POST', headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify({ angles_deg, address: '127.0.0.1' }) }).then((one) => one.json())"""


def test_even_angles_make_one_turn(core):
    for count in (1, 7, 24, 72):
        angles = core("photographs/project", f"m.evenAngles({count})")
        assert len(angles) == count and angles[0] == 0
        assert all(abs(angle - 360 * i / count) < 1e-4 for i, angle in enumerate(angles))


def test_another_number_keeps_the_pictures_in_their_places(core):
    held = core(
        "photographs/project",
        """(() => { let doc = m.withPicture(m.emptyProject(), 2, 'a', 'a.jpg'); doc = m.withCount(doc, 8);
        const { length } = doc.photos;
        const [most, least] = [900, 0].map((count) => m.withCount(doc, count).photos.length);
        return [length, doc.photos[2].asset, doc.photos[2].angle_deg, most, least]; })()""",
    )
    assert held == [8, "a", 90, 72, 1]


def test_another_picture_loses_what_was_mended_on_the_one_before(core):
    got = core(
        "photographs/project",
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
    got = core("photographs/asking", "m.inNameOrder(given.map((name) => ({ name }))).map((one) => one.name)", names)
    assert got == ["IMG_1.jpg", "IMG_2.jpg", "img_9.jpg", "IMG_10.jpg"]


def test_what_is_missing_is_told_until_nothing_is(core):
    got = core(
        "photographs/asking",
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
        "photographs/asking",
        """(() => { const photo = { asset: 'a', angle_deg: 0, include: [], exclude: [], moved: [] };
        const key = (x, extra) => m.outlineKey(
          { photos: [{ ...photo, ...extra }], axis: x === null ? null : { from_px: [31, 32], to_px: [x, 40] } }, 0);
        return [key(501) === key(501.25), key(501) === key(560), key(501) === key(501, { threshold: 9 }),
          m.outlineBody({ photos: [photo], axis: { from_px: [5, 5], to_px: [5, 5] } }, 0), key(null)]; })()""",
    )
    assert got[:3] == [True, False, False]
    assert got[3] == {"photo": {"asset": "a"}} and got[4] == '{"photo":{"asset":"a"}}'


def test_from_pictures_to_a_skin_by_mouse(way):
    page, asked = way
    choose(page, 8)
    type_in(page, "Between the points", "90")
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


def test_what_was_done_is_kept_while_another_way_is_looked_at(way):
    page, _ = way
    choose(page, 2)
    type_in(page, "Between the points", "77")
    page.evaluate("window.way.dispose()")
    assert page.locator(".photographs").count() == 0
    laid(page)
    expect(page.get_by_label("Between the points", exact=True)).to_have_value("77")
    expect(page.locator(".photos .photo", has_text="no picture")).to_have_count(0, timeout=SLOW_MS)


def test_the_program_that_turns_and_the_card_of_the_lens(way):
    page, asked = way
    for fold in page.locator("summary").all():
        fold.click()
    type_in(page, "Number of photographs", "12")
    page.get_by_label("At each angle it waits").select_option("5")
    name, text = downloaded(page, page.get_by_role("button", name="Program that turns and waits").click)
    assert (name, text) == ("turn-program.ngc", "(turn)\nM2\n")
    expect(page.get_by_text("about 1:15 min to run.")).to_be_visible()
    expect(page.get_by_role("list", name="Findings of turn-program.ngc")).to_have_text(
        "NoteIt waits 12 times. Press cycle start."
    )
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
  for (let i = 0; i < 10; i += 1) {
    g.fillStyle = `hsl(${i * 36} 80% 50%)`; g.fillRect(0, 0, 320, 240);
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
  recorder.stop(); await ended;
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer()); return Array.from(bytes); }"""


def test_frames_of_a_clip_are_taken_at_even_times(way):
    page, _ = way
    clip = bytes(page.evaluate(CLIP))
    type_in(page, "Number of photographs", "5")
    page.get_by_label("Clip of one turn").set_input_files(
        {"name": "float.webm", "mimeType": "video/webm", "buffer": clip}
    )
    until(page, "window.bench.told.includes('5 frames are stored.')")
    photos = page.evaluate("window.kept.own.state.doc.photos.map(({ asset, name }) => [asset, name])")
    assert len({asset for asset, _ in photos}) == 5, "frames repeat"
    times = [float(name.split()[1]) for _, name in photos]
    steps = [b - a for a, b in pairwise(times)]
    assert times[0] == 0 and max(steps) - min(steps) < 0.021


def gone(url):
    """Wait until nobody answers there: for a moment a door that is being closed still says so."""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        try:
            httpx.get(url, timeout=2)
        except httpx.TransportError:
            return
        time.sleep(0.05)
    raise AssertionError(f"{url} still answers")


def test_a_phone_brings_its_pictures_onto_the_bench(way, browser):
    page, _ = way
    type_in(page, "Number of photographs", "3")
    opened = page.evaluate(OPEN, [0, 45, 90])
    laid(page)  # a phone's page that is open already is shown again
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
        gone(opened["url"])
        phone.locator("#picture").set_input_files(files(2)[1])
        expect(phone.locator("#told")).to_contain_text("kept here and sent again")


@pytest.fixture(scope="module")
def unfolded(browser, address):
    """The way with two pictures and everything opened; for tests that leave it as it was."""
    with browser.new_context(reduced_motion="reduce") as context:
        page = context.new_page()
        still(page, address)
        measured(page)
        laid(page)
        choose(page, 2)
        expect(page.locator(".desk-state")).to_contain_text("Two bodies", timeout=SLOW_MS)
        for fold in page.locator("summary").all():
            fold.click()
        yield page


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_it_at_every_size(unfolded, width, height, scheme):
    page = unfolded
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate("(ground) => { document.documentElement.dataset.ground = ground; }", scheme)
    for enlarged in (False, True):
        if enlarged:
            page.get_by_role("button", name="Enlarge").click()
            expect(page.get_by_role("dialog")).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert violations(page) == []
    page.get_by_role("button", name="back to the form").click()
    expect(page.get_by_role("button", name="Enlarge")).to_be_focused()


def test_it_is_one_of_the_ways_of_the_bench(page, address):
    """In the dialog itself: the way is chosen, and what the server answers is plotted."""
    asked = measured(page, lobed(stations=9, angles=24))
    open_empty(page, address)
    operation(page, "Blank").get_by_role("button", name="Measure …").click()
    dialog = page.get_by_role("dialog", name="Measure the blank")
    dialog.get_by_label("Photographs", exact=True).check(force=True)
    choose(page, 1)
    type_in(page, "Between the points", "90")
    type_in(page, "Camera to the axis", "300")
    drag(page, (100, 200), (500, 200))
    dialog.get_by_role("button", name="Work out the skin").click()
    expect(dialog.locator(".face.map")).to_be_visible()
    expect(dialog.get_by_role("button", name="Use this skin")).to_have_attribute("aria-disabled", "false")
    assert len(asked["silhouettes"]) == 1
    assert violations(page) == []


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
