"""Makes the pictures of the README from the running page: `python -m tests.browser.pictures [name...]`."""

import json
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect

from tests.browser.bench import open_bench, operation
from tests.browser.chromium import chromium
from tests.browser.photographed import type_in
from tests.browser.serving import ROOT, serving
from tests.measure.photographs import pieces, renderer

SCRUB = """(range, share) => { range.value = range.max * share;
  range.dispatchEvent(new Event('input', { bubbles: true })); }"""
FOLDER = Path(__file__).parent / "pictures"
# name, sample job (none: the one below), size, ground, operation opened, share of the program run, chips pressed
SHOTS = (
    ("bench", "bottle", (1440, 900), "light", "Placement", 0.6, ()),
    ("bench-dark", "gourd", (1440, 900), "dark", "Proof", 0.45, ("stretch", "paths")),
    ("bench-phone", "egg", (390, 844), "light", "Artwork", 0.0, ()),
    ("artwork", "", (1440, 900), "light", "Marking", 0.72, ()),
)
FAIR = [
    {
        "text": {"string": "Plot 14", "size_mm": 11},
        "placement": {"x_mm": 36, "angle_deg": -24},
        "marking": {"style": "v-depth", "clearing_tool": "flat-0.8"},
        "depth_mm": 0.3,
    },
    {
        "asset": "marigold.png",
        "name": "marigold",
        "placement": {"x_mm": 39, "angle_deg": 42, "width_mm": 20},
        "marking": {"style": "halftone", "pitch_mm": 0.45},
        "depth_mm": 0.35,
    },
    {
        "border": {"kind": "leaves", "height_mm": 6},
        "placement": {"x_mm": 62},
        "marking": {"style": "outline"},
        "depth_mm": 0.15,
    },
    {
        "asset": "emblem.svg",
        "name": "emblem",
        "placement": {"x_mm": 79, "width_mm": 11, "projection": "fitted"},
        "repeat": {"times": 6},
        "marking": {"style": "rings"},
        "depth_mm": 0.12,
    },
]
FAIR_TOOLS = [
    {"id": "cone-60", "form": "cone", "diameter_mm": 3.175, "tip_mm": 0.1, "angle_deg": 60},
    {"id": "flat-0.8", "form": "flat", "diameter_mm": 0.8},
]


def _fair(folder: Path) -> Path:
    """The bottle of the samples with lettering, a photograph, a border and copies on it."""
    samples = ROOT / "sample_jobs"
    folder.mkdir()
    for file in (samples / "bottle" / "emblem.svg", samples / "egg" / "marigold.png"):
        shutil.copy(file, folder)
    job = json.loads((samples / "bottle" / "job.json").read_text(encoding="utf-8"))
    path = folder / "job.json"
    path.write_text(json.dumps(job | {"artwork": FAIR, "tools": FAIR_TOOLS}), encoding="utf-8")
    return path


def _shoot(browser: Browser, data: Path, shot: tuple) -> None:
    name, sample, (width, height), ground, title, share, chips = shot
    opening = ROOT / "sample_jobs" / sample / "job.json" if sample else _fair(data / "fair")
    with serving(data, opening=opening) as address:
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


COUNT = 12
CAMERA = renderer.Setting(width=1152, height=864, px_per_mm=8.64, gloss=0.3, speckle=0.05, noise=0.004, hardware_mm=9.0)
LONG_MS = 300_000  # a dozen edges and a skin on a busy machine


def _photographed(folder: Path) -> list[Path]:
    """Photographs of a gourd turned by even angles, from the tests' own ray caster."""
    paths = [folder / f"gourd {i:02d}.jpg" for i in range(COUNT)]
    for i, path in enumerate(paths):
        Image.fromarray(renderer.photograph(pieces.GOURD, i * 360 / COUNT, CAMERA, seed=i)[0]).save(path, quality=92)
    return paths


def _measured(page: Page, photographs: list[Path]) -> None:
    """The gourd measured, one photograph on the desk."""
    operation(page, "Blank").get_by_role("button", name="Measure …").click()
    dialog = page.get_by_role("dialog", name="Measure the blank")
    dialog.get_by_label("Photographs", exact=True).check(force=True)
    page.get_by_label("Pictures, in name order").set_input_files(photographs)
    expect(page.get_by_text(f"{COUNT} pictures are stored.")).to_be_visible(timeout=LONG_MS)
    type_in(page, "Between the points", f"{pieces.LENGTH_MM[pieces.GOURD]:g}")
    type_in(page, "Camera to the axis", f"{CAMERA.camera_mm:g}")
    page.locator(".desk-stage canvas.hand").press("Enter")  # lays an axis, which the numbers then move
    dialog.get_by_text("The two points as numbers").click()
    ends = renderer.axis_ends(pieces.GOURD, CAMERA)
    for name, (across, down) in zip(("x = 0", "Far end"), ends, strict=True):
        type_in(page, f"{name}: across", f"{across:.2f}")
        type_in(page, f"{name}: down", f"{down:.2f}")
    expect(page.locator(".desk-state")).to_have_text("edge found", timeout=LONG_MS)
    dialog.get_by_role("button", name="Work out the skin").click()
    expect(dialog.get_by_text("Measured.")).to_be_visible(timeout=LONG_MS)
    page.get_by_role("heading", name="Axis and edges").evaluate("one => one.scrollIntoView()")


def _measure(browser: Browser, data: Path) -> None:
    """The measuring bench, and what a phone shows that takes the photographs."""
    photographs = _photographed(data)
    with (
        serving(data, opening=ROOT / "sample_jobs" / "gourd" / "job.json") as address,
        browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce") as context,
    ):
        page = open_bench(context.new_page(), address)
        _measured(page, photographs)
        page.wait_for_timeout(1000)
        page.screenshot(path=FOLDER / "measuring.png")
        page.get_by_role("button", name="Take them with a phone").click()
        where = page.locator(".phone-code code").inner_text()
        phone = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
        phone.goto(where)
        phone.locator("#picture").set_input_files(photographs[0])
        expect(phone.get_by_text("The bench has 1.")).to_be_visible()
        phone.screenshot(path=FOLDER / "measuring-phone.png")
        phone.close()


def main(wanted: tuple[str, ...] = ()) -> None:
    """Every picture anew, or those named."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data, chromium() as browser:
        for shot in SHOTS:
            if not wanted or shot[0] in wanted:
                _shoot(browser, Path(data), shot)
        if not wanted or "measuring" in wanted:
            _measure(browser, Path(data))


if __name__ == "__main__":
    main(tuple(sys.argv[1:]))
