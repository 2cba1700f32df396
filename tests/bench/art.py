"""Synthetic art for the benchmark: a field of wavy blobs whose hatch gives about as many strokes as asked."""

from io import BytesIO

import numpy as np
from PIL import Image, ImageDraw

from engine.artwork import Drawing, read_artwork
from engine.blank import Cylinder, Skin, read_grid
from engine.kernel.ragged import Ragged
from engine.layout import Placement, lay_out
from engine.marking import Hatch
from tests.blank.skins import gourd_csv

__all__ = ["field_of_blobs", "gourd", "outlined", "traced_hatch"]

PIXELS = 1400


def gourd() -> Skin:
    """The measured skin of the test suite: three lobes, held off its axis."""
    return read_grid(gourd_csv())


def field_of_blobs(strokes: int, *, pitch_mm: float = 0.3, width_mm: float = 90.0) -> tuple[Drawing, float]:
    """The drawing, and the pitch that gives about `strokes` hatch strokes on it."""
    across = max(4, round((strokes / 14) ** 0.5))
    size = width_mm / across
    t = np.linspace(0, 2 * np.pi, 97)
    rings = []
    for i in range(across):
        for j in range(across):
            r = 0.42 * size * (1 + 0.15 * np.sin(3 * t + i) + 0.08 * np.cos(7 * t + j))
            ring = np.stack(
                [(i + 0.5) * size - width_mm / 2 + r * np.cos(t), (j + 0.5) * size - width_mm / 2 + r * np.sin(t)], 1
            )
            ring[-1] = ring[0]
            rings.append(ring)
    pitch = min(pitch_mm, 0.84 * size * across * across / strokes)
    return Drawing(width_mm=width_mm, height_mm=width_mm, rings=Ragged.of(rings)), pitch


def outlined(points: int, across: int, ripple: float, *, width_mm: float = 90.0) -> Drawing:
    """As many of a square of `across` by `across` wavy blobs as it takes for about `points` outline points at an even
    fineness, a tenth of 300,000 points being a tenth of the blobs. ripple : a fine waviness, as a share of the radius.
    """
    each = 300_000 // across**2
    count = max(1, round(points / each))
    size = width_mm / across
    t = np.linspace(0, 2 * np.pi, each + 1)
    rings = []
    for k in range(count):
        i, j = divmod(k, across)
        r = 0.42 * size * (1 + 0.15 * np.sin(3 * t + i) + 0.08 * np.cos(7 * t + j) + ripple * np.sin(97 * t))
        ring = np.stack([(j + 0.5) * size + r * np.cos(t), (i + 0.5) * size + r * np.sin(t)], axis=1) - width_mm / 2
        ring[-1] = ring[0]
        rings.append(ring)
    return Drawing(width_mm=width_mm, height_mm=width_mm, rings=Ragged.of(rings))


def traced_hatch(strokes: int) -> np.ndarray:
    """(n, 2, 2) ends, mm and degrees, of about `strokes` hatch strokes of a picture read and traced, on a cylinder."""
    drawing, pitch = field_of_blobs(strokes)
    picture = Image.new("L", (PIXELS, PIXELS), 255)
    pen = ImageDraw.Draw(picture)
    for ring in (drawing.rings[k] for k in range(len(drawing.rings))):
        pen.polygon([tuple(p) for p in ((ring * (1, -1) / drawing.width_mm + 0.5) * PIXELS).tolist()], fill=0)
    out = BytesIO()
    per_inch = 25.4 * PIXELS / drawing.width_mm
    picture.save(out, "PNG", dpi=(per_inch, per_inch))
    traced = read_artwork(out.getvalue())
    layout = lay_out(Cylinder(diameter_mm=60, length_mm=120), Placement(x_mm=60))
    marked = Hatch(pitch_mm=pitch).mark(traced, layout).strokes.line
    x, theta = layout.wrap(marked.points)
    ends = np.stack([marked.offsets[:-1], marked.offsets[1:] - 1], axis=1)
    return np.stack([x[ends], np.degrees(theta[ends])], axis=2)
