"""The depth asked for, laid down on the blank as a plain field: what the proof compares its carving with.

Takes each piece of art as it lies (drawing, layout, marking) and what it covers of the skin; gives `Wanted`. It is made
from artwork and layout alone: no stroke and no tip comes into it. Art is what is filled, and a band of the tool's width
along every line that is drawn as a line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, maximum_filter, minimum_filter

from engine.artwork import Drawing
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.ragged import Ragged
from engine.kernel.values import Wanted
from engine.layout import Layout

__all__ = ["Patch", "lay_wanted"]

CELL_MM = 0.05  # a quarter of the grace (0.2 mm) within which the proof calls a cut part of the art
MOST_CELLS = 2_000_000
MARGIN_MM = 1.0
COARSEST_MM = 0.2  # the grace again: art is never lost for longer than it, however steep the skin
STRIDE = 8  # cells between those at which it is asked how coarse the field is on the sheet
MOST_PACES = 8  # bits of a cell; more kinds of feed are all judged by the greatest
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


def lay_wanted(patches: Sequence[Patch], paces: Sequence[tuple[float, float]], *, rpm: float = 0.0) -> Wanted:
    """The field over all patches; the deeper one counts where they lie over each other.

    paces : of each patch, (feed_mm_min, plunge_mm_min). rpm : the spindle's speed, 0 where it is not told.
    """
    x, theta = _cells(patches)
    depth = np.zeros((len(x), len(theta)))
    pairs = sorted(set(paces))
    told = 1 < len(pairs) <= MOST_PACES
    pace = np.zeros(depth.shape, np.uint8) if told else None
    for k, pair in enumerate(pairs):
        own = np.zeros_like(depth) if told else depth
        for patch, asked in zip(patches, paces, strict=True):
            if asked == pair:
                _lay(own, x, theta, patch)
        if pace is not None:
            np.maximum(depth, own, out=depth)
            pace |= ((own > 0) * (1 << k)).astype(np.uint8)
    return Wanted(
        x_mm=x,
        theta_rad=theta,
        depth_mm=depth,
        feed_mm_min=max(feed for feed, _ in pairs),
        plunge_mm_min=max(plunge for _, plunge in pairs),
        rpm=rpm,
        paces=tuple(pairs) if told else (),
        pace=pace,
    )


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
    art = _art_raster(patch)
    coarse = 0.0
    for turn in range(first, last + 1):
        here = theta + TURN * turn
        cols = np.flatnonzero((here >= patch.theta_rad[0] - margin) & (here <= patch.theta_rad[1] + margin))
        if not len(rows) or not len(cols):
            continue
        grid_x, grid_theta = np.meshgrid(x[rows], here[cols], indexing="ij")
        uv = patch.layout.unwrap(grid_x.ravel(), grid_theta.ravel())
        covered = art.at(uv).reshape(grid_x.shape)
        block = depth[np.ix_(rows, cols)]
        depth[np.ix_(rows, cols)] = np.where(covered, np.maximum(block, patch.depth_mm), block)
        coarse = max(coarse, _coarse(uv.reshape(*grid_x.shape, 2)))
    fine = _fine_places(patch, art, min(coarse + art.step_mm, COARSEST_MM))
    _lay_places(depth, x, theta, patch, fine)


def _coarse(uv_mm: Floats) -> float:
    """How far on the sheet the middles (nx, nt, 2) of the field's cells leave a place between them, mm."""
    along, around = np.diff(uv_mm[:, ::STRIDE], axis=0), np.diff(uv_mm[::STRIDE], axis=1)
    return 0.5 * float(np.hypot(*(np.hypot(*d.T).max(initial=0.0) for d in (along, around))))


def _lay_places(depth: Floats, x: Floats, theta: Floats, patch: Patch, uv_mm: Floats) -> None:
    """The same in the cells that hold the sheet's places (n, 2)."""
    at_x, at_theta = patch.layout.wrap(uv_mm[patch.layout.holds(uv_mm)])
    cell = theta[1] - theta[0]
    i = np.rint((at_x - x[0]) / (x[1] - x[0])).astype(np.int64)
    j = np.floor(np.mod(at_theta - theta[0] + 0.5 * cell, TURN) / cell).astype(np.int64)
    on = (i >= 0) & (i < len(x)) & (j < len(theta))
    depth[i[on], j[on]] = np.maximum(depth[i[on], j[on]], patch.depth_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArtRaster:
    """A raster of a patch's art. low_mm : (2,) least corner. filled, drawn : (rows, columns) by its rings' inside, by
    the bands of its lines. touched : a place of the art's rings and lines, one of each cell that they pass.
    """

    low_mm: Floats
    step_mm: float
    filled: Bools
    drawn: Bools
    touched: Floats

    def at(self, uv_mm: Floats) -> Bools:
        """(n,) whether each sheet point belongs to the art."""
        rows, columns = self.filled.shape
        u, v = ((uv_mm[:, k] - self.low_mm[k]) / self.step_mm for k in (0, 1))
        # The outermost cells are empty: what lies beyond them may be looked up there.
        i, j = np.clip(v, 0, rows - 1).astype(np.int32), np.clip(u, 0, columns - 1).astype(np.int32)
        answer: Bools = (self.filled | self.drawn)[i, j]
        return answer


def _art_raster(patch: Patch) -> ArtRaster:
    places = patch.drawing.places
    low, high = places.min(axis=0), places.max(axis=0)
    step = max(CELL_MM, float(np.sqrt(np.prod(high - low + patch.band_mm + CELL_MM) / MOST_CELLS)))
    pad = 0.5 * patch.band_mm + 2 * step
    low, high = low - pad, high + pad
    rows, columns = np.ceil((high - low) / step)[::-1].astype(np.int64).tolist()
    shape = (rows, columns)
    filled, drawn, touched = np.zeros(shape, np.bool_), np.zeros(shape, np.bool_), [np.zeros((0, 2))]
    if patch.filled:
        filled = _filled(patch.drawing.rings, low, step, shape)
    rings, lines = patch.drawing.rings, patch.drawing.lines
    as_lines = _segments([lines, rings] if patch.ring_band else [lines])  # one search for what is nearest
    if len(as_lines[0]):
        segment, places = _passed(as_lines, low, step, shape)
        drawn = _banded(as_lines, segment, low, step, 0.5 * patch.band_mm)
        touched.append(places)
    edges = _segments([] if patch.ring_band else [rings])
    if len(edges[0]):
        touched.append(_passed(edges, low, step, shape)[1])
    return ArtRaster(low_mm=low, step_mm=step, filled=filled, drawn=drawn, touched=np.concatenate(touched))


def _fine_places(patch: Patch, art: ArtRaster, coarse_mm: float) -> Floats:
    """(n, 2) places of art so fine that it may pass between middles of cells that leave `coarse_mm` between them."""
    if not patch.filled:
        return art.touched if 0.5 * patch.band_mm < coarse_mm else art.touched[:0]
    # A place is safe beside a square of art as wide as what may lie between the middles.
    side = int(np.ceil(2.0 * coarse_mm / art.step_mm))
    covered = art.filled | art.drawn
    thick = minimum_filter(covered, side, mode="constant")
    near = maximum_filter(thick, 2 * side + 1, mode="constant")
    cell = np.floor((art.touched - art.low_mm) / art.step_mm).astype(np.int64)
    return art.touched[~near[cell[:, 1], cell[:, 0]]]


def _segments(parts: Sequence[Ragged]) -> tuple[Floats, Floats]:
    """Both ends of every segment of all parts, (m, 2) each."""
    first, second = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for part in parts:
        k = np.delete(np.arange(len(part.points)), np.maximum(part.offsets[1:] - 1, 0)) if len(part) else _NONE
        first.append(part.points[k])
        second.append(part.points[k + 1])
    return np.concatenate(first), np.concatenate(second)


_NONE: Ints = np.zeros(0, np.int64)


def _filled(rings: Ragged, low: Floats, step: float, shape: tuple[int, ...]) -> Bools:
    """Even-odd fill at cell middles: each crossing of a row flips all that lies to its right."""
    a, b = ((end - low) / step - 0.5 for end in _segments([rings]))
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


def _passed(
    ends: tuple[Floats, Floats], low: Floats, step: float, shape: tuple[int, int]
) -> tuple[NDArray[np.int32], Floats]:
    """Of each cell that a segment passes: its number (rows, columns), -1 where none; and a place (n, 2) on it."""
    a, b = ends
    count = np.maximum(1, np.ceil(np.hypot(*(b - a).T) / (0.5 * step))).astype(np.int64) + 1
    which = np.repeat(np.arange(len(count)), count)
    share = (np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)) / (count[which] - 1)
    uv = a[which] + share[:, None] * (b - a)[which]
    cell = np.floor((uv - low) / step).astype(np.int64)
    held = np.full(shape, -1, np.int32)
    held[cell[:, 1], cell[:, 0]] = np.arange(len(uv))
    last = held[held >= 0]
    held[held >= 0] = which[last]
    return held, uv[last]


def _banded(
    ends: tuple[Floats, Floats], segment: NDArray[np.int32], low: Floats, step: float, reach_mm: float
) -> Bools:
    """Cells whose middle is within `reach_mm` of the segment in the nearest cell that one passes."""
    rows, columns = distance_transform_edt(segment < 0, return_distances=False, return_indices=True)
    up, side = rows - np.arange(segment.shape[0])[:, None], columns - np.arange(segment.shape[1])
    far, reach = up * up + side * side, reach_mm / step
    near: Bools = far <= (reach + 1.5) ** 2
    i, j = np.nonzero(near & (far >= max(reach - 1.5, 0.0) ** 2))
    k = segment[rows[i, j], columns[i, j]]
    a, b = (end[k] for end in ends)
    gone, way = low + step * (np.stack([j, i], axis=1) + 0.5) - a, b - a
    share = np.clip((gone * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-18), 0.0, 1.0)
    near[i, j] = np.hypot(*(gone - share[:, None] * way).T) <= reach_mm
    return near
