"""A person's way through the bench, from an empty job to a program in hand."""

import json
import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.bench import (
    SIZES,
    SVG,
    TOLD,
    add_svg,
    new_job,
    open_bench,
    open_empty,
    operation,
    planned,
    set_field,
    violations,
)  # fmt: skip


def engraving(page):
    return page.get_by_role("link", name="Engraving", exact=True)


def acknowledge_all(page):
    for box in page.locator(".findings input[type=checkbox]").all():
        box.check()
    planned(page)


def downloaded(page, press):
    with page.expect_download() as waiting:
        press()
    with open(waiting.value.path(), encoding="ascii") as file:
        return waiting.value.suggested_filename, file.read()


def test_the_whole_job_by_mouse(page, address):
    open_bench(page, address)
    new_job(page)
    blank = operation(page, "Blank")
    blank.get_by_label("cone", exact=True).check(force=True)
    set_field(blank, "Diameter at the end", "36")
    add_svg(page)
    planned(page)
    place = operation(page, "Placement")
    set_field(place, "Station x", "50")
    place.get_by_label("conformal", exact=True).check(force=True)
    set_field(operation(page, "Marking"), "Depth", "0.3")
    planned(page)
    acknowledge_all(page)
    name, text = downloaded(page, engraving(page).click)
    assert re.fullmatch(r"new-job-engrave-[0-9A-Z]{4}-[0-9A-Z]{4}\.ngc", name)
    assert page.locator(".program code").inner_text() in text
    assert "(stroke 1)" in text
    for link in ("Walk", "Air run"):
        assert downloaded(page, page.get_by_role("link", name=link, exact=True).click)[1].rstrip()


def test_the_whole_job_by_keyboard(page, address):
    """Tab, arrows, Enter and Space alone, but for choosing the file in the system's own window."""
    open_bench(page, address)
    keys = page.keyboard

    def go(label):
        for _ in range(160):
            keys.press("Tab")
            told = page.evaluate(TOLD)
            if (told or "").replace("\n", " ").startswith(label):
                return
        pytest.fail(f"the Tab key never came to {label}")

    go("Jobs")
    keys.press("Enter")
    go("New job")
    keys.press("Enter")
    with page.expect_file_chooser() as waiting:
        go("Add artwork")
        keys.press("Enter")
    waiting.value.set_files({"name": "sprig.svg", "mimeType": "image/svg+xml", "buffer": SVG.encode()})
    planned(page)
    go("3 Placement")
    keys.press("Enter")
    go("Station x")
    keys.type("48")
    keys.press("ArrowUp")
    go("Unwrapped sheet")
    for _ in range(3):
        keys.press("Shift+ArrowDown")
    planned(page)
    assert operation(page, "Placement").get_by_label("Station x", exact=True).input_value() == "45.1"
    for _ in range(page.locator(".findings input[type=checkbox]").count()):
        go("acknowledge")
        keys.press("Space")
        planned(page)
    go("Engraving")
    name, text = downloaded(page, lambda: keys.press("Enter"))
    assert name.endswith(".ngc")
    assert "(stroke 1)" in text


def test_the_advice_to_cut_deeper_is_taken_by_one_click(page, address):
    open_bench(page, address)
    new_job(page)
    add_svg(page)
    planned(page)
    set_field(operation(page, "Blank"), "Known to ±", "0.12")
    planned(page)
    page.get_by_text("may stay unmarked").first.wait_for()
    proof = operation(page, "Proof")
    proof.get_by_role("button", name="Cut that deep").click()
    planned(page)
    depth = operation(page, "Marking").get_by_label("Depth", exact=True)
    assert float(depth.input_value()) > 0.2
    assert "stay unmarked" not in page.locator(".findings").inner_text()


def test_a_program_taken_before_the_job_changed_is_called_stale(page, address):
    open_bench(page, address)
    gate = page.locator(".gate")
    name, _ = downloaded(page, lambda: page.get_by_role("link", name="Engraving").click())
    assert "stale" not in gate.inner_text()
    station = operation(page, "Placement").get_by_label("Station x", exact=True)
    station.fill(str(float(station.input_value()) + 1))
    station.press("Enter")
    planned(page)
    gate.get_by_text("is stale: the job has changed").wait_for()
    code = "-".join(name.removesuffix(".ngc").rsplit("-", 2)[1:])
    assert f"engraving {code} taken" in gate.inner_text()


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_it_at_every_size(browser, address, width, height, scheme):
    with browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme) as context:
        page = open_bench(context.new_page(), address)
        for title in ("Blank", "Placement", "Tool and machine", "Proof", "Program"):
            form = operation(page, title)
            for fold in form.locator("summary").all():
                if fold.is_visible():
                    fold.click()
            if title == "Proof":
                picture = form.get_by_alt_text("The carving beside what was asked")
                assert picture.evaluate("one => one.decode().then(() => one.naturalWidth)") > 400
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            assert violations(page) == []


def test_art_is_moved_by_hand_and_back_by_undo(page, address):
    open_bench(page, address)
    new_job(page)
    add_svg(page)
    planned(page)
    sheet = page.get_by_label("Unwrapped sheet", exact=True)
    box = sheet.bounding_box()
    middle = (box["x"] + box["width"] / 2 + 12, box["y"] + box["height"] / 2)
    station = operation(page, "Placement").get_by_label("Station x", exact=True)
    before = station.input_value()
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 30, middle[1] - 40, steps=8)
    page.mouse.up()
    moved = float(station.input_value())
    assert moved > float(before)
    assert float(operation(page, "Placement").get_by_label("Angle θ", exact=True).input_value()) > 0
    planned(page)
    page.get_by_role("button", name="Undo: move the art").click()
    assert station.input_value() == before
    page.get_by_role("button", name="Redo: move the art").click()
    assert float(station.input_value()) == moved


def test_a_field_says_what_it_will_not_take(page, address):
    open_bench(page, address)
    new_job(page)
    blank = operation(page, "Blank")
    set_field(blank, "Diameter", "4,5")
    expect(blank.get_by_text("A comma can mean")).to_be_visible()
    set_field(blank, "Diameter", "20000")
    expect(blank.get_by_text("The server asks for a number of 10000 or less.")).to_be_visible()
    expect(page.locator(".findings .bad").first).to_be_visible()
    page.locator(".findings").get_by_role("button", name="show").first.click()
    expect(blank.get_by_label("Diameter", exact=True)).to_be_focused()
    set_field(blank, "Diameter", "44")
    planned(page)
    expect(blank.get_by_label("Diameter", exact=True)).not_to_have_attribute("aria-invalid", "true")


def test_inches_are_a_way_of_showing(page, address):
    open_bench(page, address)
    new_job(page)
    page.get_by_label("inch", exact=True).check(force=True)
    blank = operation(page, "Blank")
    set_field(blank, "Diameter", "1 3/8")
    assert blank.get_by_label("Diameter", exact=True).input_value() == "1.375"
    page.get_by_label("mm", exact=True).check(force=True)
    assert blank.get_by_label("Diameter", exact=True).input_value() == "34.925"


def test_stations_are_pasted_from_a_spreadsheet(page, address):
    open_bench(page, address)
    new_job(page)
    blank = operation(page, "Blank")
    blank.get_by_label("calliper stations", exact=True).check(force=True)
    blank.get_by_label("Diameter", exact=True).evaluate(
        """(field, text) => { const data = new DataTransfer(); data.setData('text', text);
        field.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
      }""",
        "x\td\n0\t30\n12\t36.5\n30\t40\n55\t33\n",
    )
    expect(blank.get_by_label("Diameter at station 2", exact=True)).to_have_value("36.5")
    expect(page.locator("button.op").first).to_contain_text("4 stations")
    planned(page)
    expect(page.locator("button.op").first).to_contain_text("55.0 mm long")


def test_the_engraving_is_shut_until_every_warning_is_seen(page, address):
    open_bench(page, address)
    new_job(page)
    add_svg(page)
    blank = operation(page, "Blank")
    set_field(blank, "Known to ±", "0.2")  # deeper doubt than the cut: the plan warns
    planned(page)
    ticks = page.locator(".findings input[type=checkbox]")
    expect(ticks).not_to_have_count(0)
    expect(engraving(page)).to_have_attribute("aria-disabled", "true")
    expect(page.locator(".gate")).to_contain_text("acknowledged")
    acknowledge_all(page)
    expect(engraving(page)).to_have_attribute("aria-disabled", "false")
    ticks.first.uncheck()
    expect(engraving(page)).to_have_attribute("aria-disabled", "true")


def test_a_job_is_saved_found_again_and_never_overwritten_unasked(page, address, browser):
    open_bench(page, address)
    new_job(page)
    set_field(page.locator("header"), "Name of the job", "Duck egg, bed 3")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".saved")).to_contain_text("Saved")
    page.get_by_role("button", name="Jobs").click()
    page.get_by_role("button", name=re.compile("^Duck egg, bed 3")).click()
    planned(page)
    listed = page.request.get(address + "/api/jobs").json()["items"]
    held = next(one for one in listed if one["name"] == "Duck egg, bed 3")
    job = page.request.get(f"{address}/api/jobs/{held['id']}").json()["job"]
    other = page.request.put(
        f"{address}/api/jobs/{held['id']}",
        headers={"If-Match": held["etag"], "Content-Type": "application/json"},
        data=json.dumps({**job, "name": "Duck egg, bed 4"}),
    )
    assert other.ok
    set_field(page.locator("header"), "Name of the job", "Duck egg, mine")
    page.get_by_role("button", name="Save", exact=True).click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Someone else saved this job")
    dialog.get_by_role("button", name="Take theirs").click()
    expect(page.get_by_label("Name of the job")).to_have_value("Duck egg, bed 4")


def test_the_moment_scrubbed_is_told_and_shown(page, address):
    open_bench(page, address)
    scrub = page.get_by_label("Moment of the program")
    scrub.focus()
    before = page.locator(".figs").inner_text()
    for _ in range(5):
        page.keyboard.press("PageUp")
    after = page.locator(".figs").inner_text()
    assert before != after
    assert after.startswith("2:30 of")


def test_the_sheet_stands_on_its_own(page, address):
    open_bench(page, address)
    with page.context.expect_page() as waiting:
        page.get_by_role("link", name="Sheet", exact=True).click()
    sheet = waiting.value
    expect(sheet.get_by_role("heading", level=1)).to_have_text(page.get_by_label("Name of the job").input_value())
    expect(sheet.get_by_role("heading", name="3 Touch off")).to_be_visible()
    assert violations(sheet) == []


HOSTILE = [
    "<img src=x onerror=window.pwned=1>",
    "</script><script>window.pwned=1</script>",
    "{{7*7}}",
    "'\"><svg onload=window.pwned=1>",
]


def test_words_stay_words(page, address, faults):
    open_bench(page, address)
    new_job(page)
    for text in HOSTILE:
        set_field(page.locator("header"), "Name of the job", text)
        set_field(operation(page, "Blank"), "Material", text)
        add_svg(page, name=f"{text}.svg".replace("/", ""))
        planned(page)
        assert page.title().startswith(text)
    assert page.evaluate("window.pwned === undefined")


# Of a canvas on which nothing but the carving lies: the share that is cut, and how many shades it has.
CUT = """(canvas) => {
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  let cut = 0; const kinds = new Set();
  for (let i = 0; i < data.length; i += 4) if (data[i + 3] === 255) { cut += 1; kinds.add(data[i + 1]); }
  return [cut / (canvas.width * canvas.height), kinds.size]; }"""


def test_the_carving_is_shaded_on_the_sheet_and_in_the_round(page, address):
    """Both views show the cut in many shades; without the carving the sheet is bare."""
    open_bench(page, address)
    for name, down in (("art", "false"), ("strokes", "false"), ("proof", "true")):
        chip = page.get_by_role("button", name=name, exact=True)
        if chip.get_attribute("aria-pressed") != down:
            chip.click()
    work = page.locator("section[data-view=unwrapped] canvas").nth(1)
    page.wait_for_timeout(500)
    share, kinds = work.evaluate(CUT)
    assert share > 0.005 and kinds > 20
    picture = Image.open(BytesIO(page.get_by_label("Wrapped view of the blank").screenshot())).convert("L")
    lit = np.asarray(picture, np.float64)
    high, wide = lit.shape
    middle = lit[high // 3 : -high // 4, wide // 3 : -wide // 3]
    edges = np.abs(np.diff(middle, axis=1)) > 15  # a bare blank is smooth
    assert edges.mean() > 0.01 and middle.min() > 15
    page.get_by_role("button", name="proof", exact=True).click()
    page.wait_for_timeout(500)
    assert work.evaluate(CUT)[0] == 0
    expect(page.get_by_text("mm on the skin")).to_be_hidden()
    page.get_by_role("button", name="stretch", exact=True).click()
    expect(page.get_by_text("1 mm of the sheet is")).to_be_visible()


def test_a_busy_server_is_asked_again_and_is_no_fault_of_the_job(page, address, faults):
    open_bench(page, address)
    new_job(page)
    refused = []

    def busy_twice(route):
        if route.request.method != "POST" or len(refused) == 2:
            return route.continue_()
        refused.append(route.request.url)
        problem = {"type": "/problems/busy", "title": "The server is busy", "status": 503, "detail": "Try again."}
        return route.fulfill(status=503, headers={"Retry-After": "1"}, json=problem)

    page.route("**/api/plan", busy_twice)
    add_svg(page)
    planned(page)
    assert len(refused) == 2
    assert engraving(page).get_attribute("aria-disabled") == "false"
    assert page.locator(".findings .word", has_text="Error").count() == 0
    assert len(faults) == 2 and all("status of 503" in told for told in faults)  # the browser's own words on the two
    faults.clear()


def test_a_scan_is_no_artwork_and_the_page_says_where_it_belongs(page, address):
    open_bench(page, address)
    form = operation(page, "Artwork")
    mesh = {
        "name": "gourd.obj",
        "mimeType": "model/obj",
        "buffer": b"v 0 0 0\nv 9 0 0\nv 0 9 0\nv 0 0 9\nf 1 2 3\nf 1 4 2\nf 1 3 4\nf 2 4 3\n",
    }
    before = form.get_by_role("radio").count()
    form.get_by_label("Artwork file").set_input_files(mesh)
    expect(page.get_by_text("gourd.obj is a scan: choose Measure …")).to_be_visible()
    assert form.get_by_role("radio").count() == before


@pytest.mark.parametrize(("width", "height"), sorted({size[:2] for size in SIZES}))
def test_what_the_head_says_leaves_its_choices_whole(page, address, width, height):
    """A long word is cut short itself; a choice whose end is clipped cannot be read."""
    page.set_viewport_size({"width": width, "height": height})
    open_empty(page, address)
    expect(page.locator(".saved")).to_contain_text("is not there")
    page.get_by_role("button", name="Add lettering").click()  # there is something to save: its button grows bolder
    sides = page.locator(".head .pair, .head .steps").evaluate_all(
        "(all) => all.map((e) => [e.scrollWidth, e.clientWidth])"
    )
    assert len(sides) == 3 and all(held <= shown for held, shown in sides), sides
