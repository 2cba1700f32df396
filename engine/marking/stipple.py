"""Dots of one size whose number carries the tone: each is pecked, a stroke of one point.

They are spread on a conformal sheet laid about the art, on which a small circle is a circle of the skin, so that they
stand as far from each other along the blank as around it. Where dots lie over each other they cover less than their
number says: that loss was measured once for this very spreading and is turned round here, so that a tone is met.
"""

from dataclasses import dataclass
from math import ceil, inf, pi, sqrt

import numpy as np
from scipy.ndimage import map_coordinates

from engine.artwork import Darkness, Drawing
from engine.kernel.arrays import Floats
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool
from engine.layout import Layout, Projection, area_stretch
from engine.marking.blue_noise import spread_dots
from engine.marking.curved import mean_bend, set_aside, sunk_for
from engine.marking.groove import dot_depth, normals, refuse_flat, width_of
from engine.marking.judging import DOTTED, EMPTY, LIGHT, judge_strokes
from engine.marking.on_art import OnArt
from engine.marking.rows import box_round, carried
from engine.marking.sampling import SEEN
from engine.marking.strokes import Strokes, drawn, either_way, together
from engine.marking.style import Depth, Marked, Shows

__all__ = ["Stipple"]

# Nominal density (dot areas per area) and the share that it covers: measured on even fields, mean of three seeds, with
# a raster of a hundredth of a millimetre (tests/marking/test_stipple.py measures some of it anew).
COVERS = np.array(
    [
        [0.0, 0.0], [0.1, 0.0991], [0.2, 0.2001], [0.3, 0.2994], [0.4, 0.3987], [0.5, 0.4978], [0.6, 0.5924],
        [0.7, 0.6783], [0.8, 0.7553], [0.9, 0.8187], [1.0, 0.8715], [1.1, 0.9089], [1.2, 0.9377], [1.3, 0.9607],
        [1.4, 0.9751], [1.6, 0.9915], [1.8, 0.9971], [2.2, 1.0],
    ]
)  # fmt: skip
CELLS_A_DOT = 4.0  # of the raster on which dots are spread, across a dot
DRAWN_MM = 0.1  # cells of a drawing, where a quarter of a dot is more
NET_CELLS = 8  # every so many cells it is asked where the art lies and how large the skin is there
MOST_DOTS = 200_000  # a day and more of pecking
MOST_CELLS = 16_000_000  # of the raster: 400 mm square in cells of 0.1 mm, larger art in coarser ones
LOOKS = 64  # cells a side in which dots are counted before any is spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Stipple:
    """dot_mm : across a dot, at the skin. depth_mm : the greatest depth. seed : of the places."""

    tool: Tool
    depth_mm: float
    dot_mm: float
    seed: int = 1

    def __post_init__(self) -> None:
        refuse_flat(self.tool)
        if not 0 < self.depth_mm < inf:
            raise MarkingError("the depth is none", where="depth_mm", hint="more than 0")
        if not 0 < self.dot_mm <= self.tool.width_mm(self.depth_mm) * (1.0 + 1e-3):
            widest = self.tool.width_mm(self.depth_mm)
            raise MarkingError(
                f"at this depth the tool makes dots of at most {widest:.3g} mm",
                where="marking/dot_mm",
                hint="a smaller dot, or more depth",
            )
        if not self.dot_mm > self.tool.width_mm(0.0):
            raise MarkingError(
                f"the tip alone is {self.tool.width_mm(0.0):g} mm wide",
                where="marking/dot_mm",
                hint="a larger dot, or a finer tip",
            )
        if not self.seed >= 0:
            raise MarkingError("the seed is below 0", where="marking/seed", hint="a whole number, 0 or more")

    @property
    def shows(self) -> Shows:
        """As much of the skin is opened as the art is dark."""
        return Shows(fills=True, draws_rings=False, depth=Depth.TONE)

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The dots; art without a tone is as dark as its regions cover it, its lines are drawn at full depth."""
        self._refuse_many(drawing, layout)
        lines, darkness = drawn(drawing.lines), drawing.darkness_in(min(self.dot_mm / CELLS_A_DOT, DRAWN_MM))
        strokes = lines if darkness is None else together([self._dots(drawing, darkness, layout), lines])
        why = LIGHT
        if darkness is None:
            why = EMPTY
        elif darkness.cells.max() > 0.5:
            why = DOTTED
        return Marked(strokes=strokes, findings=judge_strokes(strokes, layout, why=why))

    def _refuse_many(self, drawing: Drawing, layout: Layout) -> None:
        """MarkingError, before anything large is made, where the tone asks for more dots than are pecked."""
        look = _looked_at(drawing)
        count = 0.0 if look is None else self._count(look, layout)
        if count > MOST_DOTS:
            raise self._too_many(count)

    def _count(self, look: Darkness, layout: Layout) -> float:
        """About how many dots a few cells ask for, each by its mean, which asks for no more than its parts do."""
        at = _middles(look)
        held = layout.holds(at)
        if not held.any():
            return 0.0
        area = float(np.prod(look.cell_mm)) * area_stretch(layout, at[held])
        dark = np.clip(look.cells.ravel()[held], 0.0, 1.0)
        count = float((np.interp(dark, COVERS[:, 1], COVERS[:, 0]) * area).sum()) / (0.25 * pi * self.dot_mm**2)
        return count * min(1.0, TURN_RAD / max(float(np.ptp(layout.wrap(at[held])[1])), 1e-9))  # once round

    def _too_many(self, count: float) -> MarkingError:
        larger = 1.05 * self.dot_mm * sqrt(count / MOST_DOTS)
        return MarkingError(
            f"the tone asks for some {float(f'{count:.2g}'):,.0f} dots of {self.dot_mm:g} mm, more than {MOST_DOTS:,}",
            where="marking/dot_mm",
            hint=f"a larger dot, of {larger:.2g} mm, or smaller or lighter art",
        )

    def _dots(self, drawing: Drawing, darkness: Darkness, layout: Layout) -> Strokes:
        around, box = box_round(darkness, layout, Projection.CONFORMAL)
        sheet, cell = self._raster(box, around, layout)
        shape = sheet.shape[:2]
        at = sheet[..., :2].reshape(-1, 2)
        art = OnArt.of(drawing)
        dark = (darkness.coarser(self.dot_mm / CELLS_A_DOT).at(at) * art.at(at)).reshape(shape)
        wanted = np.interp(np.clip(dark, 0.0, 1.0), COVERS[:, 1], COVERS[:, 0]) * (sheet[..., 4] > SEEN)
        density = wanted * cell * cell * sheet[..., 2] / sheet[..., 3]
        if density.sum() > MOST_DOTS:
            raise self._too_many(float(density.sum()))
        places = spread_dots(density, self.seed)
        spots = np.minimum(box[0] + cell * places, box[2])
        off = ~art.at(layout.unwrap(*around.wrap(spots)))  # in a cell that the art's edge runs through:
        middles = np.minimum(np.floor(places[off]), np.array(shape[::-1]) - 1) + 0.5  # its middle is on the art
        spots[off] = np.minimum(box[0] + cell * middles, box[2])
        x, theta = around.wrap(spots)
        uv = layout.unwrap(x, theta)
        depth, _ = self._dot(layout, x, theta)
        line = Ragged(points=set_aside(self.tool, uv, depth, layout), offsets=np.arange(len(uv) + 1))
        return either_way(line, depth / self.depth_mm)

    def _dot(self, layout: Layout, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
        """(n,) how deep a dot is pecked, and (n,) mm2 that it opens: less than asked where that takes more depth."""
        lean, bend = normals(layout, x, theta)[:, 1], mean_bend(layout, x, theta)
        asked = dot_depth(self.tool, self.dot_mm, lean) + sunk_for(self.dot_mm, bend)
        depth = np.clip(asked, 0.0, self.depth_mm)
        along, uphill = np.zeros_like(lean), np.sqrt(np.maximum(1.0 - lean**2, 0.0))
        wide, long = (width_of(self.tool, depth, lean, rise, bend) for rise in (along, uphill))
        return depth, 0.25 * pi * wide * long

    def _raster(self, box: Floats, around: Layout, layout: Layout) -> tuple[Floats, float]:
        """(rows, columns, 5) of the raster over the box: place on the art's sheet, skin mm2 a sheet mm2, a dot's mm2,
        whether the art lies there; and a cell's side, mm.
        """
        (left, low), (right, high) = box[0], box[2]
        net = np.stack(np.meshgrid(np.linspace(left, right, 33), np.linspace(low, high, 33)), axis=-1).reshape(-1, 2)
        finest = min(self.dot_mm / CELLS_A_DOT, DRAWN_MM)  # of large dots, too, as fine as the art's edge
        side = finest / float(area_stretch(around, net).max()) ** 0.5
        side = max(side, float(np.sqrt((right - left) * (high - low) / MOST_CELLS)))
        columns, rows = (max(1, ceil(span / side - 1e-9)) for span in (right - left, high - low))
        knots = ceil(rows / NET_CELLS) + 1, ceil(columns / NET_CELLS) + 1  # the last ones at the box's very edge
        at = np.stack(np.meshgrid(np.linspace(left, right, knots[1]), np.linspace(low, high, knots[0])), axis=-1)
        at = at.reshape(-1, 2)
        x, theta = around.wrap(at)
        uv, seen = carried(layout, x, theta)
        told = np.column_stack([uv, area_stretch(around, at), self._dot(layout, x, theta)[1], seen])
        told = told.reshape(*knots, 5)
        up = (np.arange(rows) + 0.5) * side * (knots[0] - 1) / (high - low)
        across = (np.arange(columns) + 0.5) * side * (knots[1] - 1) / (right - left)
        where = np.meshgrid(up, across, indexing="ij")
        out = np.stack([map_coordinates(told[..., k], where, order=1, mode="nearest") for k in range(5)], axis=-1)
        return out, side


def _looked_at(drawing: Drawing) -> Darkness | None:
    """The art in LOOKS cells a side at most; None where it has no area."""
    look = drawing.darkness
    if look is None and not len(drawing.rings):
        return None
    if look is None:
        look = Darkness.of_rings(drawing.rings, float(np.ptp(drawing.rings.points, axis=0).max()) / LOOKS)
    return look.coarser(max(np.array(look.cell_mm) * look.cells.shape[::-1]) / LOOKS)


def _middles(look: Darkness) -> Floats:
    """(n, 2) sheet places of the cells' middles, row by row."""
    rows, columns = look.cells.shape
    right, down = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    first, across, _, along = look.corners
    at = first + right[None, :, None] * (across - first) + down[:, None, None] * (along - first)
    return np.asarray(at.reshape(-1, 2), np.float64)
