"""The bench as a person meets it: what they look for, and how they wait."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

PLANNED_MS = 60_000  # a cold worker on a loaded machine compiles first

SIZES = [(1440, 900, "light"), (1440, 900, "dark"), (1024, 768, "light"), (390, 844, "light")]
# What has the focus, in the words by which it is told.
TOLD = """(() => { const e = document.activeElement;
  return e.getAttribute('aria-label') || e.labels?.[0]?.innerText || e.innerText; })()"""
AXE = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">'
    '<path d="M3 10a7 7 0 0 1 14 0z"/><rect x="20" y="4" width="7" height="12"/></svg>'
)


def open_bench(page: Page, address: str) -> Page:
    """The page, once its first plan is done."""
    page.goto(address + "/")
    planned(page)
    return page


def planned(page: Page) -> None:
    """Wait until the plan on the bench is that of the document."""
    expect(page.locator("section.program")).to_have_class("program", timeout=PLANNED_MS)


def operation(page: Page, title: str) -> Locator:
    """The form of an operation of the route card, opened."""
    button = page.locator("button.op").filter(has=page.get_by_text(title, exact=True))
    if button.get_attribute("aria-expanded") == "false":
        button.click()
    return page.get_by_role("group", name=title, exact=True)


def set_field(form: Locator, label: str, text: str) -> None:
    """Type into a field and leave it."""
    field = form.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")


def add_svg(page: Page, text: str = SVG, name: str = "sprig.svg") -> None:
    """Give the bench a drawing by its file field."""
    form = operation(page, "Artwork")
    form.get_by_label("Artwork file").set_input_files(
        {"name": name, "mimeType": "image/svg+xml", "buffer": text.encode()}
    )
    expect(form.get_by_role("radio")).not_to_have_count(0)


def new_job(page: Page) -> None:
    """An empty job on the bench."""
    page.get_by_role("button", name="Jobs").click()
    page.get_by_role("button", name="New job").click()
    expect(page.get_by_label("Name of the job")).to_have_value("New job")


def violations(page: Page, within: str | None = None) -> list[tuple[str, list[str]]]:
    """What keeps people out: the rules of WCAG 2.2, levels A and AA, that are broken, and where."""
    found = Axe().run(page, context=within, options=AXE).response["violations"]
    return [(one["id"], [node["target"] for node in one["nodes"]]) for one in found]


def until(page: Page, expression: str) -> None:
    """Wait until an expression holds; the page's policy lets no text be run in it, so it is asked from outside."""
    for _ in range(400):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"it never came to {expression}")


def open_empty(page: Page, address: str) -> None:
    """The page on an empty job that is not planned: for what is done beside planning."""
    page.route("**/api/jobs/*", lambda route: route.fulfill(status=404, json={}))  # no job to open with
    page.route("**/api/plan", lambda route: route.fulfill(status=422, json={}))
    page.goto(address + "/")
    expect(page.get_by_label("Name of the job")).to_have_value("New job")
