"""Finding a Chromium that can be started, and the arguments it needs here."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Error, Playwright, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# A picture in the round without a graphics card, all else drawn without that detour; small shared memory.
ARGUMENTS = [
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-compositing",
    "--disable-dev-shm-usage",
]
NO_CHROMIUM = "no Chromium could be started: install one (for example `playwright install --with-deps chromium`)"


class NoChromiumError(RuntimeError):
    """No browser on this machine, and none could be fetched."""


def _launch(playwright: Playwright, path: str | None) -> Browser | None:
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    arguments = [*ARGUMENTS, "--no-sandbox"] if root else ARGUMENTS
    try:
        return playwright.chromium.launch(executable_path=path, args=arguments)
    except Error:
        return None


def start(playwright: Playwright) -> Browser:
    """The browser: one on the path, else playwright's own, else that one fetched. NoChromiumError where none starts."""
    for path in [*filter(None, map(shutil.which, NAMES)), None]:
        browser = _launch(playwright, path)
        if browser is not None:
            return browser
    subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"], check=False, capture_output=True)
    browser = _launch(playwright, None)
    if browser is None:
        raise NoChromiumError(NO_CHROMIUM)
    return browser


@contextmanager
def chromium() -> Iterator[Browser]:
    """A browser for as long as the block lasts."""
    with sync_playwright() as playwright:
        browser = start(playwright)
        try:
            yield browser
        finally:
            browser.close()
