"""A piece before a plain ground, drawn for the page, and a measuring server that answers as the real one would."""

import base64
import io
import json
import re

import numpy as np
from PIL import Image, ImageDraw
from playwright.sync_api import Page, Route, expect

WIDE, HIGH, CELL = 600, 400, 4
BODY = (120, 120, 480, 280)  # left, top, right, bottom
SPECK = (20, 20, 60, 60)
SLOW_MS = 60_000  # a loaded machine stores eight pictures

# Mounts the way in a column of a page with a bench of its own; what it asks and tells is kept on `window.bench`.
MOUNT = """async () => {
  document.querySelector('main')?.remove();
  const [{ photographs }, { createStore }, { apply }, { createApi }, { createMeasuring }] = await Promise.all([
    import('/static/js/dialogs/measuring/photographs/way.js'), import('/static/js/core/store.js'),
    import('/static/js/core/commands.js'), import('/static/js/api.js'), import('/static/js/measuring.js')]);
  const store = createStore({
    doc: { artwork: [], machine: 'seed-fair' }, selected: 0, unit: 'mm', plan: { problems: [], report: null } }, apply);
  const { ask, file } = createMeasuring('/api');
  const { upload } = createApi('/api');
  window.kept ??= {};
  const [told, answers] = [[], []];
  const run = async (words, work) => {
    told.push(words);
    answers.push(await work(new AbortController().signal));
    return answers.at(-1);
  };
  window.bench = {
    store, tools: {}, memory: window.kept, ask, file, upload, run, told, answers,
    show: (answer) => answers.push(answer), tell: (words) => told.push(words) };
  const main = document.createElement('main');
  main.style.cssText = 'max-width: 560px; padding: 12px; background: var(--sheet)';
  const [title, box, column] = ['h1', 'h2', 'div'].map((tag) => document.createElement(tag));
  title.textContent = 'Measuring';
  box.textContent = photographs.label;
  main.append(title, box, column);
  document.body.append(main);
  window.way = photographs.mount(column, window.bench);
}"""
MAIN = re.compile(r'<(?:script|link)[^>]*main\.js">(?:</script>)?')


def still(page: Page, address: str) -> None:
    """The bench's page with its policy and its inks and nothing on it: nothing is planned or drawn in the round."""

    def answer(route: Route) -> None:
        got = route.fetch()
        route.fulfill(response=got, body=re.sub(r"(?s)<body>.*</body>", "<body></body>", MAIN.sub("", got.text())))

    page.route(f"{address}/", answer)
    page.goto(f"{address}/")


def laid(page: Page) -> None:
    """The way in a page that is still; where it stands already, it is left and chosen again."""
    page.evaluate("window.way?.dispose()")
    page.evaluate(MOUNT)


def files(count: int) -> list[dict]:
    return [{"name": f"turn {i + 1}.png", "mimeType": "image/png", "buffer": picture(i)} for i in range(count)]


def choose(page: Page, count: int) -> None:
    page.get_by_label("Pictures, in name order").set_input_files(files(count)[::-1])
    expect(page.locator(".photos li")).to_have_count(count)
    expect(page.locator(".photos .photo", has_text="no picture")).to_have_count(0, timeout=SLOW_MS)


def type_in(page: Page, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")


def on_canvas(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a place of the picture is on the screen, the whole picture being shown."""
    box = page.locator(".desk-stage canvas.hand").bounding_box()
    zoom = min(box["width"] / WIDE, box["height"] / HIGH)
    left, top = (box["width"] - WIDE * zoom) / 2, (box["height"] - HIGH * zoom) / 2
    return box["x"] + left + x * zoom, box["y"] + top + y * zoom


def drag(page: Page, *places: tuple[float, float]) -> None:
    page.locator(".desk-stage").scroll_into_view_if_needed()
    points = [on_canvas(page, *place) for place in places]
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point, steps=4)
    page.mouse.up()


def picture(turn: int = 0) -> bytes:
    """A gourd-coloured piece on a pale ground, with a speck that does not belong to it, as PNG."""
    image = Image.new("RGB", (WIDE, HIGH), (236, 236, 230))
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle(BODY, 60, fill=(176, 116, 40 + turn))
    draw.rectangle(SPECK, fill=(90, 90, 90))
    held = io.BytesIO()
    image.save(held, "PNG")
    return held.getvalue()


def levels() -> np.ndarray:
    """The field of distances of `picture`, a cell of 4 px: 200 in the piece, 120 in the speck, 10 beside."""
    x, y = (np.arange(WIDE // CELL) + 0.5) * CELL, (np.arange(HIGH // CELL) + 0.5) * CELL
    field = np.full((len(y), len(x)), 10, np.uint8)
    for (left, top, right, bottom), level in ((BODY, 200), (SPECK, 120)):
        field[np.ix_((y > top) & (y < bottom), (x > left) & (x < right))] = level
    return field


def told_field() -> dict:
    field = levels()
    data = base64.b64encode(field.tobytes()).decode()
    return {"width": field.shape[1], "height": field.shape[0], "scale_px": CELL, "per_level": 0.25, "data": data}


def outline() -> dict:
    """As POST /api/measure/outline answers."""
    left, top, right, bottom = BODY
    across, down = np.linspace(left, right, 60), np.linspace(top, bottom, 30)
    ring = [*((x, top) for x in across), *((right, y) for y in down)]
    ring += [*((x, bottom) for x in across[::-1]), *((left, y) for y in down[::-1])]
    found = {
        "severity": "warning",
        "code": "several-bodies",
        "message": "Two bodies stand out.",
        "advice": "Take one away.",
    }
    return {
        "size_px": [WIDE, HIGH],
        "points_px": [[float(x), float(y)] for x, y in ring],
        "ok": [i % 9 != 0 for i in range(len(ring))],
        "threshold": 12.0,
        "otsu": 12.0,
        "distance": told_field(),
        "findings": [found],
    }


WAITS = {"severity": "note", "code": "waits", "message": "it waits 12 times", "advice": "press cycle start"}
SKIN = {"blank": {"shape": "grid", "asset": "0" * 64, "radius_error_mm": 0.03}, "sigma_mm": 0.031, "findings": []}


def measured(page: Page, skin: dict | None = None) -> dict[str, list]:
    """Answers the measuring routes in the page's place of the server; gives what was asked, by route."""
    asked: dict[str, list] = {"outline": [], "silhouettes": [], "turn-program": [], "lens": []}
    answers = {
        "outline": outline(),
        "silhouettes": skin or SKIN,
        "lens": {"k1": -0.08, "sigma": 0.002, "residual_px": 0.2},
    }

    def answer(route):
        name = route.request.url.rsplit("/", 1)[1]
        asked[name].append(json.loads(route.request.post_data))
        if name == "turn-program":
            route.fulfill(json={"program": "(turn)\nM2\n", "findings": [WAITS], "time_s": 75.0})
        else:
            route.fulfill(json=answers[name])

    for name in asked:
        page.route(f"**/api/measure/{name}", answer)
    return asked
