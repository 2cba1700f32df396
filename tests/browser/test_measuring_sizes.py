"""The measuring bench at every size, in both grounds: everyone can use it, nothing is cut or askew."""

from contextlib import ExitStack
from functools import cache

import pytest
from playwright.sync_api import expect

from tests.browser.bench import SIZES, violations
from tests.browser.measuring_bench import Fake, choose, filled, measuring, press


@pytest.fixture(scope="module")
def measured_in(browser, address):
    """`measured_in(scheme)`: the dialog with a measured skin and everything opened, one for each ground."""
    with ExitStack() as left:

        @cache
        def opened(scheme):
            page = left.enter_context(browser.new_context(color_scheme=scheme, reduced_motion="reduce")).new_page()
            Fake(page)
            dialog = measuring(page, address)
            filled(page, ("0", "30"), ("40", "36"))
            press(dialog, "Measure")
            expect(dialog.get_by_text("Measured.")).to_be_visible()
            for fold in dialog.locator("summary").all():
                fold.click()
            return page, dialog

        yield opened


@pytest.mark.parametrize(("width", "height", "scheme"), SIZES)
def test_everyone_can_use_the_measuring_bench_at_every_size(measured_in, width, height, scheme):
    page, dialog = measured_in(scheme)
    page.set_viewport_size({"width": width, "height": height})
    assert violations(page, ".measure") == []
    assert min(dialog.locator(".how dd").evaluate_all("all => all.map((one) => one.clientWidth)")) > 120
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert dialog.evaluate("one => one.scrollWidth <= one.clientWidth")
    for way in ("Probe", "Scan", "Table of readings", "Same blank again") if width == 390 else ():
        choose(dialog, way)
        assert violations(page, ".measure-form") == []


# Fields side by side whose entries do not stand on one line: the words above one of them need more lines.
ASKEW = """(form) => [...form.querySelectorAll('.fields')].flatMap((grid) => {
  const rows = new Map();
  for (const field of grid.querySelectorAll('.field:has(.label)')) {
    const [top, entry] = [field, field.querySelector('input')].map((one) => one.getBoundingClientRect().top);
    rows.set(top, [...(rows.get(top) ?? []), [entry, field.innerText]]);
  }
  const askew = [...rows.values()].filter((row) => row.some(([entry]) => entry !== row[0][0]));
  return askew.map((row) => row.map(([, words]) => words));
})"""


@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_fields_side_by_side_stand_on_one_line(measured_in, width):
    page, dialog = measured_in("light")
    page.set_viewport_size({"width": width, "height": 900})
    for way in ("Callipers", "Probe", "Photographs", "Scan", "Table of readings", "Same blank again"):
        choose(dialog, way)
        dialog.locator(".measure-form details").evaluate_all("all => all.forEach((one) => { one.open = true; })")
        assert dialog.locator(".measure-form").evaluate(ASKEW) == []
    choose(dialog, "Callipers")
