"""One server and one browser for the suite; a fresh page for each test, which fails on any error the page tells."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.chromium import NoChromiumError, chromium
from tests.browser.serving import serving


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


@pytest.fixture
def page(browser: Browser, address: str, faults: list[str]) -> Iterator[Page]:
    with browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce") as context:
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console", lambda m: faults.append(m.text) if m.type == "error" and "status of 4" not in m.text else None
        )
        page.on("request", lambda r: None if r.url.startswith((address, "blob:")) else faults.append(r.url))
        yield page
    assert faults == []
