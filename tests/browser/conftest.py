"""One server and one browser for the suite; a fresh page for each test, which fails on any error the page tells."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.chromium import NoChromiumError, chromium
from tests.browser.photographed import laid, measured, still
from tests.browser.serving import serving


@pytest.fixture(scope="session", autouse=True)
def patience() -> None:
    """A machine that does other things as well takes its time."""
    expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    try:
        with chromium() as found:
            yield found
    except NoChromiumError as exc:
        pytest.fail(str(exc), pytrace=False)


@pytest.fixture(scope="session")
def address(tmp_path_factory) -> Iterator[str]:
    with serving(tmp_path_factory.mktemp("bench")) as found:
        yield found


@pytest.fixture
def faults() -> list[str]:
    """What went wrong in the page: exceptions, console errors, requests that went elsewhere."""
    return []


def _watch(page: Page, address: str, faults: list[str]) -> None:
    page.set_default_timeout(20_000)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" and "status of 4" not in m.text else None)
    page.on("request", lambda r: None if r.url.startswith((address, "blob:")) else faults.append(r.url))


@pytest.fixture
def page(browser: Browser, address: str, faults: list[str]) -> Iterator[Page]:
    with browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce") as context:
        page = context.new_page()
        _watch(page, address, faults)
        yield page
    assert faults == []


@pytest.fixture(scope="session")
def core(browser: Browser, address: str) -> Iterator[Callable[..., Any]]:
    """`core(module, expression, given)`: the value of an expression in which a pure module's names stand under `m`.

    One page for all of them: what is pure remembers nothing.
    """
    faults: list[str] = []
    with browser.new_context() as context:
        page = context.new_page()
        _watch(page, address, faults)
        page.goto(address + "/static/measure.css")  # of the same origin, and without a bench that plans

        def ask(module: str, expression: str, given: Any = None) -> Any:
            source = (
                f"async (given) => {{ const m = await import('/static/js/core/{module}.js'); return {expression}; }}"
            )
            return page.evaluate(source, given)

        yield ask
    assert faults == []


@pytest.fixture
def way(page: Page, address: str) -> tuple[Page, dict[str, list]]:
    """The photographs' way alone in a page, and what the measuring routes were asked."""
    still(page, address)
    asked = measured(page)
    laid(page)
    return page, asked
