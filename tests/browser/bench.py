"""The bench as a person meets it: what they look for, and how they wait."""

from playwright.sync_api import Locator, Page, expect

PLANNED_MS = 60_000  # a cold worker on a loaded machine compiles first

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
