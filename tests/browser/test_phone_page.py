"""The phone's page: photographs one after another, each kept until the bench has it, by hand and by keys."""

import httpx
import pytest
from playwright.sync_api import expect

from tests.browser.bench import violations
from tests.browser.photographed import picture

ANGLES = [0, 40, 80]
SIZES = [(390, 844, "light"), (320, 568, "dark"), (844, 390, "light")]


@pytest.fixture
def opened(address):
    """What opening the door told."""
    where = f"{address}/api/measure/phone"
    told = httpx.post(where, json={"angles_deg": ANGLES, "address": "127.0.0.1"}, timeout=20)
    assert told.status_code == 201
    yield told.json()
    httpx.delete(where, timeout=20)


@pytest.fixture
def bench(address):
    """Asks the bench's side for the asset of each number."""

    def ask():
        told = httpx.get(f"{address}/api/measure/phone", timeout=20).json()
        return [one["asset"] and one["asset"]["id"] for one in told["photographs"]]

    return ask


@pytest.fixture
def phone(browser, opened):
    faults = []
    with browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True) as context:
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
        door = opened["url"].split("/p/")[0]
        page.on("request", lambda r: None if r.url.startswith((door, "blob:")) else faults.append(r.url))
        page.goto(opened["url"])
        page.faults = faults
        page.on("filechooser", lambda _: None)  # from the beginning, so that no window of the system is waited for
        yield page
    assert [one for one in faults if "Failed to load resource" not in one] == []


def take(page, turn=0, name="IMG.png"):
    page.locator("#picture").set_input_files({"name": name, "mimeType": "image/png", "buffer": picture(turn)})


def test_one_after_another_to_the_end(phone, bench):
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 1 of 3")
    for i, angle in enumerate(ANGLES):
        expect(phone.locator("#turn")).to_have_text(f"Turn to A = {angle}°")
        expect(phone.get_by_role("heading", level=1)).to_have_text(f"Photograph {i + 1} of 3")
        take(phone, i)
    expect(phone.locator("#turn")).to_have_text("All are taken")
    expect(phone.get_by_role("status")).to_have_text("The bench has all photographs. You can put the phone away.")
    assert len(set(bench())) == 3 and None not in bench()
    assert phone.faults == []


def test_taken_again_the_last_counts(phone, bench):
    take(phone, 0)
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 2 of 3")
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    first = bench()[0]
    phone.get_by_text("All photographs", exact=True).click()
    phone.get_by_role("button", name="1: 0° taken").click()
    expect(phone.locator("#take-words")).to_have_text("Take it again")
    take(phone, 9)
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    assert bench()[0] != first and bench()[1:] == [None, None]
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 2 of 3")


def test_a_line_that_drops_loses_nothing(phone, bench):
    expect(phone.locator("#turn")).to_have_text("Turn to A = 0°")
    phone.context.set_offline(True)
    take(phone, 0)
    expect(phone.get_by_role("status")).to_contain_text("kept here and sent again")
    take(phone, 1)
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 3 of 3")
    phone.get_by_text("All photographs", exact=True).click()
    expect(phone.get_by_role("button", name="waits")).to_have_count(2)
    assert bench() == [None] * 3
    phone.context.set_offline(False)
    expect(phone.get_by_role("button", name="taken")).to_have_count(2)
    assert len(set(bench()[:2])) == 2 and bench()[2] is None


def test_a_busy_bench_is_asked_again(phone, bench):
    asked = []

    def busy_once(route):
        asked.append(route.request.url)
        if len(asked) == 1:
            return route.fulfill(status=503, headers={"Retry-After": "1"}, json={"detail": "Busy."})
        return route.continue_()

    phone.route("**/photo/*", busy_once)
    take(phone, 0)
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    assert len(asked) == 2 and bench()[0]


def test_what_is_no_photograph_is_told_and_asked_for_again(phone, bench):
    phone.locator("#picture").set_input_files(
        {"name": "notes.heic", "mimeType": "image/heic", "buffer": b"\x00\x00\x00\x18ftypheic"}
    )
    expect(phone.get_by_role("status")).to_contain_text("Photograph 1 was not taken: Send a JPEG or PNG")
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 1 of 3")
    assert bench() == [None] * 3


def test_a_page_opened_anew_goes_on_where_it_stood(phone, bench):
    take(phone, 0)
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    phone.reload()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 2 of 3")


def test_a_photograph_that_is_there_before_the_page_knows_its_angles_is_sent(phone, bench):
    """As where a phone has closed the page while its camera was open."""
    held = []

    def hold(route):
        held.append(route)

    phone.route("**/state", hold)
    phone.reload()
    take(phone, 0)
    phone.wait_for_timeout(50)
    held[0].continue_()
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    assert bench()[0] and bench()[1:] == [None, None]


def test_a_closed_door_is_told(phone, opened, address, browser):
    expect(phone.locator("#turn")).to_have_text("Turn to A = 0°")
    phone.route("**/photo/*", lambda route: route.fulfill(status=404, json={}))
    take(phone, 0)
    expect(phone.locator("#turn")).to_have_text("This page is closed")
    expect(phone.locator("#take")).to_be_hidden()


def test_by_keys_alone(phone, bench):
    expect(phone.locator("#turn")).to_have_text("Turn to A = 0°")
    expect(phone.locator("#take")).to_be_visible()
    phone.keyboard.press("Tab")
    expect(phone.locator("#picture")).to_be_focused()
    with phone.expect_file_chooser() as waiting:
        phone.keyboard.press("Enter")
    waiting.value.set_files({"name": "IMG.png", "mimeType": "image/png", "buffer": picture()})
    expect(phone.get_by_role("status")).to_have_text("The bench has 1.")
    phone.keyboard.press("Tab")
    phone.keyboard.press("Enter")
    phone.keyboard.press("Tab")
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("heading", level=1)).to_have_text("Photograph 1 of 3")


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_it_at_every_size(browser, opened, width, height, scheme):
    with browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme) as context:
        page = context.new_page()
        page.goto(opened["url"])
        expect(page.locator("#turn")).to_have_text("Turn to A = 0°")
        page.get_by_text("All photographs", exact=True).click()
        take(page)
        expect(page.get_by_role("status")).to_have_text("The bench has 1.")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        small = """() => [...document.querySelectorAll('button, summary, label')].filter((one) => one.offsetParent)
          .map((one) => one.getBoundingClientRect()).filter((box) => box.height < 44 || box.width < 44).length"""
        assert page.evaluate(small) == 0
        assert violations(page) == []


def test_nothing_is_used_that_plain_http_lacks(opened):
    """The page as a phone sees it: at a name that is no trustworthy origin, where the browser holds such APIs back."""
    text = httpx.get(opened["url"] + "/phone.js", timeout=20).raise_for_status().text
    lacking = ("randomUUID", "crypto.subtle", "clipboard", "serviceWorker", "getUserMedia", "navigator.storage")
    lacking += ("navigator.locks", "wakeLock", "showSaveFilePicker", "showOpenFilePicker", "mediaDevices", "caches")
    assert [name for name in lacking if name in text] == []
