"""The depth asked for, laid down on the blank as a plain field: what the proof compares its carving with.

Takes each piece of art as it lies (drawing, layout, marking) and what it covers of the skin; gives `Wanted`. It is made
from artwork and layout alone: no stroke and no tip comes into it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from engine.artwork import LIGHTEST
from engine.kernel.arrays import Bools, Bytes8, Floats, Ints
from engine.kernel.ragged import PART
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Ask, Wanted
from engine.marking import Depth
from engine.outcome.art_raster import CELL_MM, Patch, art_raster, fine_places

__all__ = ["lay_wanted"]

MOST_CELLS = 2_000_000  # 16 MB of depths: 70 mm square in cells of CELL_MM, larger art in coarser ones
MARGIN_MM = 1.0  # round the art: what is cut beside it is judged there, too
ASKS = {
    Depth.EVEN: Ask.EVEN,
    Depth.WEDGE: Ask.GRADED,
    Depth.TONE: Ask.TONE,
    Depth.RELIEF: Ask.GRADED,
    Depth.MIDDLE: Ask.ALLOWED,
}
COARSEST_MM = 0.2  # the grace again: art is never lost for longer than it, however steep the skin
STRIDE = 8  # cells between those at which it is asked how coarse the field is on the sheet
MOST_PACES = 8  # bits of a cell; more kinds of feed are all judged by the greatest
MOST_TOOLS = 8  # likewise; with more tools none is held to its own art

_Pace = tuple[float, float]  # feed and plunge, mm/min


def lay_wanted(
    patches: Sequence[Patch],
    paces: Sequence[tuple[float, float]],
    *,
    rpms: Sequence[float] = (),
    tools: Sequence[int] = (),
) -> Wanted:
    """The field over all patches; the deeper one counts where they lie over each other.

    paces : of each patch, (feed_mm_min, plunge_mm_min). rpms : the spindle's speed with each of the job's tools, none
    where it is not told. tools : of each patch, bit k set where tool k is to cut it; none where all are to.
    """
    x, theta = _cells(patches)
    field = _bare(x, theta, {patch.depth for patch in patches})
    kinds = list(zip(paces, tools or [0] * len(patches), strict=True))
    asked = _Asked.of(kinds, field.depth.shape)
    for kind in sorted(set(kinds)):
        own = replace(field, depth=np.zeros_like(field.depth)) if asked.apart else field
        for patch, its in zip(patches, kinds, strict=True):
            if its == kind:
                _lay(own, patch)
        if asked.apart:
            np.maximum(field.depth, own.depth, out=field.depth)
            asked.note(own.depth > 0, kind)
    return Wanted(
        x_mm=x,
        theta_rad=theta,
        depth_mm=field.depth,
        asks=field.asks,
        darkness=field.darkness,
        beside_mm=max(patch.beside_mm for patch in patches),
        feed_mm_min=max(feed for feed, _ in paces),
        plunge_mm_min=max(plunge for _, plunge in paces),
        rpms=tuple(rpms),
        paces=asked.paces if asked.pace is not None else (),
        pace=asked.pace,
        tools=asked.cut_by,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asked:
    """How and of whom each cell is asked, where patches differ.

    pace : (nx, nt), bit k set where the k-th of `paces` is asked. cut_by : likewise bits of tools. None where all
    patches are alike, or of more kinds than there are bits.
    """

    paces: tuple[_Pace, ...]
    pace: Bytes8 | None
    cut_by: Bytes8 | None

    @classmethod
    def of(cls, kinds: Sequence[tuple[_Pace, int]], shape: tuple[int, ...]) -> "_Asked":
        """With no cell asked yet. kinds : of each patch, its pace and the bits of its tools."""
        paces, masks = sorted({pace for pace, _ in kinds}), {mask for _, mask in kinds}
        by_pace, by_tool = 1 < len(paces) <= MOST_PACES, len(masks) > 1 and max(masks) < 1 << MOST_TOOLS
        pace, cut_by = (np.zeros(shape, np.uint8) if some else None for some in (by_pace, by_tool))
        return cls(paces=tuple(paces), pace=pace, cut_by=cut_by)

    @property
    def apart(self) -> bool:
        """Whether patches of different kinds are told apart."""
        return self.pace is not None or self.cut_by is not None

    def note(self, cells: Bools, kind: tuple[_Pace, int]) -> None:
        """Note that patches of a kind ask these cells."""
        if self.pace is not None:
            self.pace[cells] |= 1 << self.paces.index(kind[0])
        if self.cut_by is not None:
            self.cut_by[cells] |= kind[1]


def _bare(x: Floats, theta: Floats, depths: set[Depth]) -> "_Field":
    """A field in which nothing is asked yet, for patches of such depths."""
    shape = (len(x), len(theta))
    return _Field(
        x=x,
        theta=theta,
        depth=np.zeros(shape),
        asks=np.zeros(shape, np.uint8) if depths != {Depth.EVEN} else None,
        darkness=np.zeros(shape, np.float32) if Depth.TONE in depths else None,
    )


def _cells(patches: Sequence[Patch]) -> tuple[Floats, Floats]:
    """Cell middles along and around that hold every patch and a margin."""
    low, high = patches[0].layout.skin.x_range_mm
    x0 = max(low, min(p.x_mm[0] - _margin_mm(p) for p in patches))
    x1 = min(high, max(p.x_mm[1] + _margin_mm(p) for p in patches))
    radius = max(_greatest_radius(p) for p in patches)
    # Each patch at the whole turn that brings its middle nearest to the first patch's.
    base = 0.5 * sum(patches[0].theta_rad)
    spans = [_near(p.theta_rad, base) for p in patches]
    margins = [_margin_mm(p) / _greatest_radius(p) for p in patches]
    t0 = min(a - margin for (a, _), margin in zip(spans, margins, strict=True))
    t1 = max(b + margin for (_, b), margin in zip(spans, margins, strict=True))
    cell = max(CELL_MM, float(np.sqrt((x1 - x0) * min(t1 - t0, TURN_RAD) * radius / MOST_CELLS)))
    nx = max(2, int(np.ceil((x1 - x0) / cell)))
    x = _middles(x0, x1, nx)
    if t1 - t0 >= TURN_RAD:
        nt = int(np.ceil(TURN_RAD * radius / cell))
        return x, _middles(base - pi, base + pi, nt)
    nt = max(2, int(np.ceil((t1 - t0) * radius / cell)))
    return x, _middles(t0, t1, nt)


def _middles(low: float, high: float, count: int) -> Floats:
    edges = np.linspace(low, high, count + 1)
    middles: Floats = 0.5 * (edges[1:] + edges[:-1])
    return middles


def _margin_mm(patch: Patch) -> float:
    """How far beside what a patch covers its art may be asked."""
    return max(MARGIN_MM, patch.drawn_mm + 2.0 * CELL_MM)


def _greatest_radius(patch: Patch) -> float:
    x = np.linspace(*patch.x_mm, 65)[:, None]
    theta = np.linspace(*patch.theta_rad, 65)[None, :]
    return float(patch.layout.skin.radius(x, theta).max())


def _near(span: tuple[float, float], base: float) -> tuple[float, float]:
    shift = TURN_RAD * round((base - 0.5 * sum(span)) / TURN_RAD)
    return span[0] + shift, span[1] + shift


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Field:
    """The field while it is laid: its cells' middles and (nx, nt) depth; `Ask` where art asks for more than one even
    depth, darkness where any is toned.
    """

    x: Floats
    theta: Floats
    depth: Floats
    asks: Bytes8 | None
    darkness: NDArray[np.float32] | None

    def raise_to(self, block: tuple[Ints | slice, ...], patch: Patch, share: Floats, dark: Floats) -> None:
        """Raise a block of cells to shares of the patch's depth, 0 where it has no art, and to its darkness."""
        self.depth[block] = np.maximum(self.depth[block], share * patch.depth_mm)
        if self.asks is not None:
            self.asks[block] = np.where(share > 0, ASKS[patch.depth], self.asks[block])
        if self.darkness is not None and patch.depth is Depth.TONE:
            self.darkness[block] = np.maximum(self.darkness[block], np.where(share > 0, dark, 0.0))


def _lay(field: _Field, patch: Patch) -> None:
    """Raise the field to what the patch's art asks in each cell that it covers, at every whole turn that reaches it."""
    x, theta = field.x, field.theta
    margin = _margin_mm(patch)
    rows = np.flatnonzero((x >= patch.x_mm[0] - margin) & (x <= patch.x_mm[1] + margin))
    margin /= _greatest_radius(patch)
    first = int(np.floor((patch.theta_rad[0] - margin - theta[-1]) / TURN_RAD))
    last = int(np.ceil((patch.theta_rad[1] + margin - theta[0]) / TURN_RAD))
    art = None if patch.drawing.darkness is not None else art_raster(patch)
    coarse = 0.0
    for turn in range(first, last + 1):
        here = theta + TURN_RAD * turn
        cols = np.flatnonzero((here >= patch.theta_rad[0] - margin) & (here <= patch.theta_rad[1] + margin))
        if not len(rows) or not len(cols):
            continue
        if art is None:
            _lay_picture(field, rows, cols, turn, patch)
            continue
        grid_x, grid_theta = np.meshgrid(x[rows], here[cols], indexing="ij")
        uv = patch.layout.unwrap(grid_x.ravel(), grid_theta.ravel())
        block = np.ix_(rows, cols)
        share = art.at(uv).reshape(grid_x.shape)
        field.raise_to(block, patch, share, share)
        coarse = max(coarse, _coarse(uv.reshape(*grid_x.shape, 2)))
    if art is not None:
        _lay_places(field, patch, fine_places(patch, art, min(coarse + art.step_mm, COARSEST_MM)))


def _lay_picture(field: _Field, rows: Ints, cols: Ints, turn: int, patch: Patch) -> None:
    """The same of a picture that is read for its tone, in adjoining rows and columns of cells, some rows at a time."""
    if patch.drawing.darkness is None:
        return
    around = slice(cols[0], cols[-1] + 1)
    theta = field.theta[around] + TURN_RAD * turn
    some = max(1, PART // len(cols))
    for first in range(rows[0], rows[-1] + 1, some):
        along = slice(first, min(first + some, rows[-1] + 1))
        grid_x, grid_theta = np.meshgrid(field.x[along], theta, indexing="ij")
        dark = patch.drawing.darkness.at(patch.layout.unwrap(grid_x.ravel(), grid_theta.ravel())).reshape(grid_x.shape)
        share = np.where(dark > LIGHTEST, dark if patch.depth is Depth.RELIEF else 1.0, 0.0)
        field.raise_to((along, around), patch, share, dark)


def _coarse(uv_mm: Floats) -> float:
    """How far on the sheet the middles (nx, nt, 2) of the field's cells leave a place between them, mm."""
    along, around = np.diff(uv_mm[:, ::STRIDE], axis=0), np.diff(uv_mm[::STRIDE], axis=1)
    return 0.5 * float(np.hypot(*(np.hypot(*d.T).max(initial=0.0) for d in (along, around))))


def _lay_places(field: _Field, patch: Patch, uv_mm: Floats) -> None:
    """The same in the cells that hold the sheet's places (n, 2)."""
    x, theta = field.x, field.theta
    at_x, at_theta = patch.layout.wrap(uv_mm[patch.layout.holds(uv_mm)])
    cell = theta[1] - theta[0]
    i = np.rint((at_x - x[0]) / (x[1] - x[0])).astype(np.int64)
    j = np.floor(np.mod(at_theta - theta[0] + 0.5 * cell, TURN_RAD) / cell).astype(np.int64)
    on = (i >= 0) & (i < len(x)) & (j < len(theta))
    field.raise_to((i[on], j[on]), patch, np.ones(int(on.sum())), np.ones(int(on.sum())))
