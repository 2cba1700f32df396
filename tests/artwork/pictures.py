"""Pictures and SVG files that the tests of this room share, and what they are compared by."""

import io
from collections.abc import Callable

import numpy as np
import resvg_py
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from engine.artwork import Drawing
from engine.kernel.ragged import Ragged, spread

SVG_HEAD = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SIDE = 800  # px of the oracle's picture: a pixel of edge is then a small share of the area


def svg(body: str, attributes: str = 'width="80mm" height="80mm" viewBox="0 0 100 100"', prolog: str = "") -> bytes:
    return f"{prolog}<svg {SVG_HEAD} {attributes}>{body}</svg>".encode()


def encoded(image: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    held = io.BytesIO()
    image.save(held, kind, **options)
    return held.getvalue()


def smooth(width: int, height: int, draw: Callable[[ImageDraw.ImageDraw, int], None], times: int = 8) -> Image.Image:
    """A grey picture drawn large and averaged down: each pixel's grey is its share of white."""
    large = Image.new("L", (width * times, height * times), 255)
    draw(ImageDraw.Draw(large), times)
    return large.resize((width, height), Image.Resampling.BOX)


def disc(x: float, y: float, radius: float, grey: int = 0) -> Callable[[ImageDraw.ImageDraw, int], None]:
    def draw(pen: ImageDraw.ImageDraw, times: int) -> None:
        left, top, right, bottom = ((v) * times for v in (x - radius, y - radius, x + radius, y + radius))
        pen.ellipse([left, top, right - 1, bottom - 1], fill=grey)

    return draw


def region(rings: Ragged) -> shapely.Geometry:
    """The even-odd region of a drawing's rings, put together by shapely alone."""
    parts = [shapely.Polygon(rings[i]) for i in range(len(rings))]
    out: shapely.Geometry = shapely.Polygon()
    for part in parts:
        out = out.symmetric_difference(part)
    return out


def check_rings(drawing: Drawing) -> None:
    """Closed, valid, disjoint, exteriors counter-clockwise and holes clockwise, inside the extent."""
    rings = drawing.rings
    for i in range(len(rings)):
        assert (rings[i][0] == rings[i][-1]).all()
        assert len(rings[i]) >= 4
    if not len(rings):
        return
    solid = np.array([shapely.Polygon(rings[i]) for i in range(len(rings))], object)
    assert shapely.is_valid(solid).all()
    held, holder = shapely.STRtree(solid).query(
        shapely.get_point(shapely.get_exterior_ring(solid), 0), predicate="within"
    )
    depth = np.bincount(held[held != holder], minlength=len(rings))
    ccw = shapely.is_ccw(shapely.get_exterior_ring(solid))
    assert (ccw == (depth % 2 == 0)).all()
    signed = sum(s.area if c else -s.area for s, c in zip(solid, ccw, strict=True))
    np.testing.assert_allclose(region(rings).area, signed, rtol=1e-9, atol=1e-12)
    half = np.array([drawing.width_mm, drawing.height_mm]) / 2
    assert (np.abs(rings.points) <= half + 1e-9).all()


def seen(
    drawing: Drawing, width_px: int, height_px: int, stroke_mm: float = 0.0, times: int = 8
) -> NDArray[np.float64]:
    """(h, w) share of ink in each pixel: even-odd along `times` lines a pixel, exact along each line."""
    shape = region(drawing.rings)
    if stroke_mm:
        lines = [shapely.LineString(drawing.lines[i]) for i in range(len(drawing.lines))]
        shape = shape.union(
            shapely.union_all(shapely.buffer(lines, stroke_mm / 2, cap_style="flat", join_style="mitre"))
        )
    points, owner = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    points = points * [width_px / drawing.width_mm, -height_px * times / drawing.height_mm]
    points += [width_px / 2, height_px * times / 2]
    same = owner[1:] == owner[:-1]
    a, b = points[:-1][same], points[1:][same]
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    first = np.maximum(np.ceil(low - 0.5), 0).astype(np.int64)
    count = np.maximum(np.minimum(np.ceil(high - 0.5), height_px * times).astype(np.int64) - first, 0)
    row = spread(first, count)
    a, b = np.repeat(a, count, axis=0), np.repeat(b, count, axis=0)
    x = a[:, 0] + (row + 0.5 - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    order = np.lexsort((x, row))
    row, x = row[order], np.clip(x[order], 0, width_px)
    # each crossing turns the ink on or off for everything to its right
    sign = np.where(np.arange(len(x)) % 2 == 0, 1.0, -1.0)
    column = np.minimum(x.astype(np.int64), width_px - 1)
    steps = np.zeros((height_px * times, width_px + 1))
    np.add.at(steps, (row, column), sign * (column + 1 - x))
    np.add.at(steps, (row, column + 1), sign * (x - column))
    return steps.cumsum(1)[:, :width_px].reshape(height_px, times, width_px).mean(1)


def rendered(data: bytes, width_px: int, height_px: int) -> NDArray[np.float64]:
    """(h, w) share of ink in each pixel as resvg draws the file on white."""
    png = resvg_py.svg_to_bytes(
        svg_string=data.decode(), width=width_px, height=height_px, background="white", dpi=96, skip_system_fonts=True
    )
    return 1.0 - np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"), np.float64) / 255.0
