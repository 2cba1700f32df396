"""A fine raster of one piece of art on the sheet: what share of the depth asked for belongs to each of its cells.

Takes a `Patch`; gives an `ArtRaster`. Art is what is filled, and a band of the tool's width along every line that is
drawn as a line; a wedge is as deep as its cell's way to the nearest outline lets a cone sink.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, maximum_filter, minimum_filter

from engine.artwork import Drawing
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.ragged import Ragged, spread
from engine.kernel.scan import cells_inside
from engine.layout import Layout, stretch
from engine.marking import Depth

__all__ = ["CELL_MM", "ArtRaster", "Patch", "art_raster", "fine_places"]

CELL_MM = 0.05  # a quarter of the grace (0.2 mm) within which the proof calls a cut part of the art
MOST_CELLS = 2_000_000  # 70 mm square in cells of CELL_MM, larger art in coarser ones
SLACK_CELLS = 1.5  # from middle to middle of two cells, a place in one may be so much nearer or farther
BESIDE = ((0, 0), (0, 1), (1, 0), (0, -1), (-1, 0))
WHOLE_FLANK = 0.9  # of its gain: a crest askew to rows and diagonals by at most 22.5 degrees shows 0.92
MOST_SCALES = 2_000  # places at which a wedge's scale is asked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """One piece of art as it lies. filled : whether the inside of its rings is cut. ring_band : whether the rings
    themselves are drawn, shift_mm outside them on the skin. depth : how deep it is asked to be, place by place.
    band_mm : the tool's width at depth, the width of a drawn line. depth_mm : the greatest. flank : rise of the tool's
    flank per mm outwards, of a wedge alone. x_mm, theta_rad : what the art and its strokes cover, (least, greatest).
    """

    drawing: Drawing
    layout: Layout
    filled: bool
    ring_band: bool
    band_mm: float
    depth_mm: float
    x_mm: tuple[float, float]
    theta_rad: tuple[float, float]
    depth: Depth = Depth.EVEN
    flank: float = 0.0
    shift_mm: float = 0.0

    @property
    def beside_mm(self) -> float:
        """How far beside the art a groove may open that stands on its edge; a wedge's and a relief's stay inside."""
        return self.band_mm if self.depth in (Depth.EVEN, Depth.TONE, Depth.MIDDLE) else 0.0

    @property
    def drawn_mm(self) -> float:
        """How far beyond its rings, lines and strokes a band that is drawn reaches."""
        return 0.5 * self.band_mm if self.ring_band or len(self.drawing.lines) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArtRaster:
    """A raster of a patch's art. low_mm : (2,) least corner. share : (rows, columns) of the greatest depth that is
    asked, 0 where none. touched : a place of the art's rings and lines, one of each cell that they pass.
    """

    low_mm: Floats
    step_mm: float
    share: NDArray[np.float32]
    touched: Floats

    def at(self, uv_mm: Floats) -> Floats:
        """(n,) the share of the depth asked at each sheet point."""
        rows, columns = self.share.shape
        u, v = ((uv_mm[:, k] - self.low_mm[k]) / self.step_mm for k in (0, 1))
        # The outermost cells are empty: what lies beyond them may be looked up there.
        i, j = np.clip(v, 0, rows - 1).astype(np.int32), np.clip(u, 0, columns - 1).astype(np.int32)
        return self.share[i, j].astype(np.float64)


def art_raster(patch: Patch) -> ArtRaster:
    """The raster of a patch whose art is rings and lines, in cells of CELL_MM or as many as MOST_CELLS allows."""
    places = patch.drawing.places
    low, high = places.min(axis=0), places.max(axis=0)
    step = max(CELL_MM, float(np.sqrt(np.prod(high - low + patch.band_mm + CELL_MM) / MOST_CELLS)))
    pad = 0.5 * patch.band_mm + 2.0 * abs(patch.shift_mm) + 2 * step
    low, high = low - pad, high + pad
    rows, columns = np.ceil((high - low) / step)[::-1].astype(np.int64).tolist()
    shape = (rows, columns)
    filled, drawn, touched = np.zeros(shape, np.bool_), np.zeros(shape, np.bool_), [np.zeros((0, 2))]
    if patch.filled:
        filled = _filled(patch.drawing.rings, low, step, shape)
    rings, lines = patch.drawing.rings, patch.drawing.lines
    beside = patch.ring_band and patch.shift_mm != 0.0
    as_lines = _segments([lines, rings] if patch.ring_band and not beside else [lines])  # one search for the nearest
    if len(as_lines[0]):
        segment, places = _passed(as_lines, low, step, shape)
        drawn = _banded(as_lines, segment, low, step, 0.5 * patch.band_mm)
        touched.append(places)
    if beside and len(rings):
        drawn |= _beside(patch, low, step, shape)
    edges = _segments([] if patch.ring_band else [rings])
    if len(edges[0]):
        touched.append(_passed(edges, low, step, shape)[1])
    share = (filled | drawn).astype(np.float32)
    if patch.depth is Depth.WEDGE and len(rings):
        share = np.where(drawn, share, _wedge(patch, filled, low, step))
    return ArtRaster(low_mm=low, step_mm=step, share=share, touched=np.concatenate(touched))


def _wedge(patch: Patch, filled: Bools, low: Floats, step: float) -> NDArray[np.float32]:
    """Share of the greatest depth at which a cone's flank meets the outline: its way there on the skin by the flank."""
    edges = _segments([patch.drawing.rings])
    segment, _ = _passed(edges, low, step, filled.shape)
    away, i, j = _away(edges, segment, low, step, 0.0, patch.depth_mm / patch.flank + step, BESIDE)
    nearest: Floats = distance_transform_edt(segment < 0)
    far = step * np.maximum(nearest - SLACK_CELLS, 0.0)
    far[i, j] = away
    rise = _scale(patch) * patch.flank / patch.depth_mm
    crest = _crested(np.where(filled, far, -far) * rise, rise * step)
    share: NDArray[np.float32] = np.clip(crest, 0.0, 1.0).astype(np.float32)
    return share


def _crested(share: Floats, gain: float) -> Floats:
    """Shares (rows, columns), below 0 outside, with those of cells through which a wedge's deepest line passes as deep
    as that line: of a cell no shallower than both its neighbours, and deeper than one by the whole flank, where the
    flanks through the cell and the other neighbour meet. Halfway between two rows nothing else asks for the depth of an
    even band. gain : share that the flank gains over a cell.
    """
    wide = np.pad(share, 1, mode="edge")
    rows, columns = share.shape
    crest = share.copy()
    for up, side in ((0, 1), (1, 0), (1, 1), (1, -1)):
        ahead = wide[1 + up : 1 + up + rows, 1 + side : 1 + side + columns]
        behind = wide[1 - up : 1 - up + rows, 1 - side : 1 - side + columns]
        way = gain * float(np.hypot(up, side))
        higher = np.maximum(ahead, behind)
        meets = (share >= higher) & (share - np.minimum(ahead, behind) >= WHOLE_FLANK * way)
        np.maximum(crest, 0.5 * (share + higher + way), out=crest, where=meets)
    return crest


def _beside(patch: Patch, low: Floats, step: float, shape: tuple[int, int]) -> Bools:
    """Cells under lines that run beside the rings, outside or inside them."""
    edges = _segments([patch.drawing.rings])
    segment, _ = _passed(edges, low, step, shape)
    scale, reach = _scale(patch), abs(patch.shift_mm) + 0.5 * patch.band_mm
    away, i, j = _away(edges, segment, low, step, 0.0, reach / scale)
    outside = np.where(_filled(patch.drawing.rings, low, step, shape)[i, j], -1.0, 1.0)
    near = np.zeros(shape, np.bool_)
    near[i, j] = np.abs(outside * away * scale - patch.shift_mm) <= 0.5 * patch.band_mm
    return near


def _scale(patch: Patch) -> float:
    """Mm on the skin for a mm on the sheet, across the rings: the middle of the least at places on them."""
    places = patch.drawing.rings.points
    least, _ = stretch(patch.layout, places[:: max(1, len(places) // MOST_SCALES)])
    return float(np.median(least))


def fine_places(patch: Patch, art: ArtRaster, coarse_mm: float) -> Floats:
    """(n, 2) places of art so fine that it may pass between middles of cells that leave `coarse_mm` between them."""
    if patch.depth is Depth.WEDGE:  # what is so fine is hardly cut
        return art.touched[:0]
    if not patch.filled:
        return art.touched if 0.5 * patch.band_mm < coarse_mm else art.touched[:0]
    # A place is safe beside a square of art as wide as what may lie between the middles.
    side = int(np.ceil(2.0 * coarse_mm / art.step_mm))
    thick = minimum_filter(art.share > 0, side, mode="constant")
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
    """The cells whose middle the rings hold."""
    start, end = ((end - low) / step - 0.5 for end in _segments([rings]))
    return cells_inside(start, end, shape)


def _passed(
    ends: tuple[Floats, Floats], low: Floats, step: float, shape: tuple[int, int]
) -> tuple[NDArray[np.int32], Floats]:
    """Of each cell that a segment passes: its number (rows, columns), -1 where none; and a place (n, 2) on it."""
    a, b = ends
    count = np.maximum(1, np.ceil(np.hypot(*(b - a).T) / (0.5 * step))).astype(np.int64) + 1
    which = np.repeat(np.arange(len(count)), count)
    share = spread(0, count) / (count[which] - 1)
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
    away, i, j = _away(ends, segment, low, step, reach_mm, reach_mm)
    near: Bools = distance_transform_edt(segment < 0) <= reach_mm / step + SLACK_CELLS
    near[i, j] = away <= reach_mm
    return near


def _away(
    ends: tuple[Floats, Floats],
    segment: NDArray[np.int32],
    low: Floats,
    step: float,
    least_mm: float,
    most_mm: float,
    looks: Sequence[tuple[int, int]] = ((0, 0),),
) -> tuple[Floats, Ints, Ints]:
    """Distance (n,) of middles of cells from the segment in the nearest cell that one passes, and the cells' rows and
    columns (n,): those whose distance may lie between the two. looks : the same of cells beside; the least counts,
    since halfway between two segments the nearest cell may be the farther one's.
    """
    rows, columns = distance_transform_edt(segment < 0, return_distances=False, return_indices=True)
    up, side = rows - np.arange(segment.shape[0])[:, None], columns - np.arange(segment.shape[1])
    far = up * up + side * side
    low_cells, high_cells = max(least_mm / step - SLACK_CELLS, 0.0), most_mm / step + SLACK_CELLS
    i, j = np.nonzero((far >= low_cells**2) & (far <= high_cells**2))
    middle, away = low + step * (np.stack([j, i], axis=1) + 0.5), np.full(len(i), np.inf)
    for down, right in looks:
        beside = np.clip(i + down, 0, segment.shape[0] - 1), np.clip(j + right, 0, segment.shape[1] - 1)
        k = segment[rows[beside], columns[beside]]
        a, b = (end[k] for end in ends)
        gone, way = middle - a, b - a
        share = np.clip((gone * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-18), 0.0, 1.0)
        np.minimum(away, np.hypot(*(gone - share[:, None] * way).T), out=away)
    return away, i, j
