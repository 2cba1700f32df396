"""Makes the pictures of the README from the running page: `python -m tests.browser.pictures`."""

import tempfile
from pathlib import Path

from playwright.sync_api import Browser

from tests.browser.bench import open_bench, operation
from tests.browser.chromium import chromium
from tests.browser.serving import ROOT, serving

SCRUB = """(range, share) => { range.value = range.max * share;
  range.dispatchEvent(new Event('input', { bubbles: true })); }"""
FOLDER = Path(__file__).parent / "pictures"
# name, sample job, size, ground, operation opened, share of the program run, chips pressed
SHOTS = (
    ("bench", "bottle", (1440, 900), "light", "Placement", 0.6, ()),
    ("bench-dark", "gourd", (1440, 900), "dark", "Proof", 0.45, ("stretch", "paths")),
    ("bench-phone", "egg", (390, 844), "light", "Artwork", 0.0, ()),
)


def _shoot(browser: Browser, data: Path, shot: tuple) -> None:
    name, sample, (width, height), ground, title, share, chips = shot
    with serving(data, opening=ROOT / "sample_jobs" / sample / "job.json") as address:
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=ground, reduced_motion="reduce"
        )
        with context:
            page = open_bench(context.new_page(), address)
            operation(page, title)
            for chip in chips:
                page.get_by_role("button", name=chip, exact=True).click()
            scrub = page.get_by_label("Moment of the program")
            if share:
                scrub.evaluate(SCRUB, share)
            page.wait_for_timeout(3000)
            page.screenshot(path=FOLDER / f"{name}.png")


def main() -> None:
    """Every picture anew."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data, chromium() as browser:
        for shot in SHOTS:
            _shoot(browser, Path(data), shot)


if __name__ == "__main__":
    main()
