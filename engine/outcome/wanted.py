"""The depth asked for, laid down on the blank as a plain field: what the proof compares its carving with.

Takes each piece of art as it lies (drawing, layout, marking) and what it covers of the skin; gives `Wanted`. It is made
from artwork and layout alone: no stroke and no tip comes into it. Art is what is filled, and a band of the tool's width
along every line that is drawn as a line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from scipy.ndimage import distance_transform_edt

from engine.artwork import Drawing
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.ragged import Ragged
from engine.kernel.values import Wanted
from engine.layout import Layout

__all__ = ["Patch", "inside", "lay_wanted"]

CELL_MM = 0.05  # a quarter of the grace (0.2 mm) within which the proof calls a cut part of the art
MOST_CELLS = 2_000_000
MARGIN_MM = 1.0
TURN = 2.0 * pi


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """One piece of art as it lies. filled : whether the inside of its rings is cut. ring_band : whether the rings
    themselves are drawn. band_mm : the tool's width at depth, the width of a drawn line. x_mm, theta_rad : what its
    strokes cover, (least, greatest).
    """

    drawing: Drawing
    layout: Layout
    filled: bool
    ring_band: bool
    band_mm: float
    depth_mm: float
    x_mm: tuple[float, float]
    theta_rad: tuple[float, float]


def lay_wanted(patches: Sequence[Patch], *, feed_mm_min: float, plunge_mm_min: float) -> Wanted:
    """The field over all patches; the deeper one counts where they lie over each other."""
    x, theta = _cells(patches)
    depth = np.zeros((len(x), len(theta)))
    for patch in patches:
        _lay(depth, x, theta, patch)
    return Wanted(x_mm=x, theta_rad=theta, depth_mm=depth, feed_mm_min=feed_mm_min, plunge_mm_min=plunge_mm_min)


def _cells(patches: Sequence[Patch]) -> tuple[Floats, Floats]:
    """Cell middles along and around that hold every patch and a margin."""
    low, high = patches[0].layout.skin.x_range_mm
    x0 = max(low, min(p.x_mm[0] for p in patches) - MARGIN_MM)
    x1 = min(high, max(p.x_mm[1] for p in patches) + MARGIN_MM)
    radius = max(_greatest_radius(p) for p in patches)
    margin = MARGIN_MM / radius
    # Each patch at the whole turn that brings its middle nearest to the first patch's.
    base = 0.5 * sum(patches[0].theta_rad)
    spans = [_near(p.theta_rad, base) for p in patches]
    t0, t1 = min(a for a, _ in spans) - margin, max(b for _, b in spans) + margin
    cell = max(CELL_MM, float(np.sqrt((x1 - x0) * min(t1 - t0, TURN) * radius / MOST_CELLS)))
    nx = max(2, int(np.ceil((x1 - x0) / cell)))
    x = _middles(x0, x1, nx)
    if t1 - t0 >= TURN:
        nt = int(np.ceil(TURN * radius / cell))
        return x, _middles(base - pi, base + pi, nt)
    nt = max(2, int(np.ceil((t1 - t0) * radius / cell)))
    return x, _middles(t0, t1, nt)


def _middles(low: float, high: float, count: int) -> Floats:
    edges = np.linspace(low, high, count + 1)
    middles: Floats = 0.5 * (edges[1:] + edges[:-1])
    return middles


def _greatest_radius(patch: Patch) -> float:
    x = np.linspace(*patch.x_mm, 65)[:, None]
    theta = np.linspace(*patch.theta_rad, 65)[None, :]
    return float(patch.layout.skin.radius(x, theta).max())


def _near(span: tuple[float, float], base: float) -> tuple[float, float]:
    shift = TURN * round((base - 0.5 * sum(span)) / TURN)
    return span[0] + shift, span[1] + shift


def _lay(depth: Floats, x: Floats, theta: Floats, patch: Patch) -> None:
    """Raise `depth` to the patch's depth in every cell that its art covers, at every whole turn that reaches it."""
    rows = np.flatnonzero((x >= patch.x_mm[0] - MARGIN_MM) & (x <= patch.x_mm[1] + MARGIN_MM))
    margin = MARGIN_MM / _greatest_radius(patch)
    first = int(np.floor((patch.theta_rad[0] - margin - theta[-1]) / TURN))
    last = int(np.ceil((patch.theta_rad[1] + margin - theta[0]) / TURN))
    for turn in range(first, last + 1):
        here = theta + TURN * turn
        cols = np.flatnonzero((here >= patch.theta_rad[0] - margin) & (here <= patch.theta_rad[1] + margin))
        if not len(rows) or not len(cols):
            continue
        grid_x, grid_theta = np.meshgrid(x[rows], here[cols], indexing="ij")
        uv = patch.layout.unwrap(grid_x.ravel(), grid_theta.ravel())
        covered = inside(patch, uv).reshape(grid_x.shape)
        block = depth[np.ix_(rows, cols)]
        depth[np.ix_(rows, cols)] = np.where(covered, np.maximum(block, patch.depth_mm), block)


def inside(patch: Patch, uv_mm: Floats) -> Bools:
    """(n,) whether each sheet point belongs to the patch's art, looked up in a raster of the art."""
    step = CELL_MM
    held = [part.points for part in (patch.drawing.rings, patch.drawing.lines) if len(part.points)]
    points = np.concatenate(held)
    pad = 0.5 * patch.band_mm + 2 * step
    low, high = points.min(axis=0) - pad, points.max(axis=0) + pad
    step = max(step, float(np.sqrt(np.prod(high - low) / MOST_CELLS)))
    shape = tuple(int(n) for n in np.ceil((high - low) / step)[::-1])
    covered = np.zeros(shape, np.bool_)
    if patch.filled:
        covered |= _filled(patch.drawing.rings, low, step, shape)
    drawn = [patch.drawing.lines] + ([patch.drawing.rings] if patch.ring_band else [])
    if any(len(part) for part in drawn):
        covered |= _banded(drawn, low, step, shape, 0.5 * patch.band_mm)
    cell = np.floor((uv_mm - low) / step).astype(np.int64)
    on = (cell >= 0).all(axis=1) & (cell[:, 0] < shape[1]) & (cell[:, 1] < shape[0])
    answer = np.zeros(len(uv_mm), np.bool_)
    answer[on] = covered[cell[on, 1], cell[on, 0]]
    return answer


def _segments(part: Ragged) -> tuple[Floats, Floats]:
    """Both ends of every segment, (m, 2) each."""
    first = np.delete(np.arange(len(part.points)), np.maximum(part.offsets[1:] - 1, 0)) if len(part) else _NONE
    return part.points[first], part.points[first + 1]


_NONE: Ints = np.zeros(0, np.int64)


def _filled(rings: Ragged, low: Floats, step: float, shape: tuple[int, ...]) -> Bools:
    """Even-odd fill at cell middles: each crossing of a row flips all that lies to its right."""
    a, b = ((end - low) / step - 0.5 for end in _segments(rings))
    y0 = np.clip(np.ceil(np.minimum(a[:, 1], b[:, 1])), 0, shape[0]).astype(np.int64)
    y1 = np.clip(np.ceil(np.maximum(a[:, 1], b[:, 1])), 0, shape[0]).astype(np.int64)
    count = y1 - y0
    edge = np.repeat(np.arange(len(count)), count)
    row = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + y0[edge]
    share = (row - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
    col = np.clip(np.ceil(a[edge, 0] + share * (b[edge, 0] - a[edge, 0])), 0, shape[1]).astype(np.int64)
    flips = np.zeros((shape[0], shape[1] + 1), np.int32)
    np.add.at(flips, (row, col), 1)
    odd: Bools = np.cumsum(flips, axis=1)[:, :-1] % 2 == 1
    return odd


def _banded(parts: Sequence[Ragged], low: Floats, step: float, shape: tuple[int, ...], reach_mm: float) -> Bools:
    """Cells within `reach_mm` of a line."""
    away = np.ones(shape, np.bool_)
    for part in parts:
        a, b = _segments(part)
        count = np.maximum(1, np.ceil(np.hypot(*(b - a).T) / (0.5 * step))).astype(np.int64) + 1
        which = np.repeat(np.arange(len(count)), count)
        share = (np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)) / (count[which] - 1)
        cell = np.floor((a[which] + share[:, None] * (b - a)[which] - low) / step).astype(np.int64)
        away[cell[:, 1], cell[:, 0]] = False
    near: Bools = distance_transform_edt(away) * step <= reach_mm
    return near
