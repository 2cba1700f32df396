"""How tests use the measuring bench: its dialog, before measuring routes that are made up."""

import json

from playwright.sync_api import expect

from tests.browser.bench import open_empty, operation
from tests.browser.measured import lobed

ASSET = "ab" * 32
PASTE = """(field, text) => { const data = new DataTransfer(); data.setData('text', text);
  field.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true })); }"""


class Fake:
    """The measuring routes: remembers what they were asked and answers what they are told to."""

    def __init__(self, page):
        self.asked = []
        self.answers = {}
        self.usual = lobed(stations=31, angles=72, readings=120, wild=2, unseen=lambda x, deg: deg > 330)
        page.route("**/api/measure/**", self.measure)
        page.route("**/api/assets", lambda route: route.fulfill(status=201, json={"id": ASSET, "kind": "log"}))

    def measure(self, route):
        name = route.request.url.rsplit("/", 1)[1]
        self.asked.append((name, json.loads(route.request.post_data or "null")))
        route.fulfill(**self.answers.get(name, {"json": self.usual}))


def measuring(page, address, way=None):
    """The dialog, opened on an empty job."""
    open_empty(page, address)
    return reopened(page, way)


def reopened(page, way=None):
    operation(page, "Blank").get_by_role("button", name="Measure …").click()
    dialog = page.get_by_role("dialog", name="Measure the blank")
    if way:
        choose(dialog, way)
    return dialog


def choose(dialog, label):
    dialog.get_by_label(label, exact=True).check(force=True)


def press(dialog, name, *, barred=False):
    """`barred`: the button is told as one that cannot be pressed yet; pressing it must do nothing but say why."""
    button = dialog.get_by_role("button", name=name, exact=True)
    expect(button).to_have_attribute("aria-disabled", "true") if barred else None
    button.click(force=barred)


def typed(page, *lines):
    """Readings as fingers type them: Tab to the right, Enter down; each line begins again in the first column."""
    for row, cells in enumerate(lines):
        page.get_by_label(f"Station x, row {row + 1}").focus()
        for cell in cells:
            page.keyboard.type(cell)
            page.keyboard.press("Tab")


def filled(page, *lines):
    """The same readings as from a spreadsheet, in one go."""
    text = "\n".join("\t".join(cells) for cells in lines) + "\n"
    page.get_by_label("Station x, row 1").evaluate(PASTE, text)


def last_blank(page, act):
    """The blank of the job that is planned after `act`."""
    with page.expect_request(lambda r: r.url.endswith("/api/plan") and r.method == "POST") as waiting:
        act()
    return json.loads(waiting.value.post_data)["blank"]
