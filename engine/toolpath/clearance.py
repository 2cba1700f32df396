"""How high the tip must stand so that no part of the tool comes nearer to the skin than a gap, wherever it goes.

Takes a skin, a tool and a gap; gives `Hover`, a grid of heights over the axis. Each cell holds the greatest height that
any tip inside it needs: the skin under the tool's whole form, that form grown by the gap on all sides, its cell's rise
and all sampling counted to the safe side. Never below what is needed; above it by the skin's slope times two cells.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, ceil, floor, inf, pi, sqrt

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, frozen_floats
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool

__all__ = ["Hover", "Way", "highest_mm", "hover"]

Way = tuple[tuple[Floats, Floats], tuple[Floats, Floats]]  # straight ways in (x_mm, theta_rad): their starts and ends

_FINEST_MM = 0.5  # the map errs upwards, and a hop a little higher costs hardly any time
_MOST_CELLS = 60_000  # a blank of 48 mm across and 100 mm long in the finest cells, a larger one in coarser ones
_TIP_SLACK = 0.75  # cells: a place on a way is at most 1/4 from a sample of it, the sample at most 1/2 from its cell
_SKIN_SLACK = 0.5  # cells: a place of the skin from its node
_WAY_STEP = 0.5  # cells between the samples of a way
_RINGS = 721  # angles at which the greatest radius is looked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hover:
    """height_mm : (nx, nt) least distance of the tip from the axis for a tip in that cell; nt = 1 on a round skin.

    Cells are centred at x0_mm + i step_mm and j 2 pi / nt_turn. A height that was not asked for is infinite.
    """

    height_mm: Floats
    x0_mm: float
    step_mm: float
    turn_cells: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "height_mm", frozen_floats(self.height_mm))

    def over_mm(self, start: tuple[Floats, Floats], end: tuple[Floats, Floats]) -> Floats:
        """(n,) height at which straight ways in (x_mm, theta_rad), (n,) each, from start to end, are clear.

        Ways lie inside the stations for which the grid was made; beyond them its last row stands.
        """
        places = _places((start, end))
        out = np.zeros(places.shape[1])
        _over(self.height_mm, self.x0_mm, self.step_mm, self.turn_cells / TURN_RAD, places, out)
        return out


def hover(skin: Skin, tool: Tool, gap_mm: float, x_mm: tuple[float, float], ways: Sequence[Way] | None = None) -> Hover:
    """The heights that keep every part of `tool` at least `gap_mm` from `skin` over the stations x_mm (low, high).

    ways : where given, only the cells that they pass are reckoned.
    """
    low, high = x_mm
    top = highest_mm(skin)
    step = max(_FINEST_MM, sqrt((high - low + _FINEST_MM) * TURN_RAD * top / _MOST_CELLS))
    turn_cells = max(8, ceil(TURN_RAD * top / step))
    cells = max(1, ceil((high - low) / step)) + 1
    slack = sqrt(2.0) * step * (_TIP_SLACK + _SKIN_SLACK)
    reach = tool.outer_mm + gap_mm + slack
    beyond = ceil(reach / step)
    x: Floats = low + step * np.arange(-beyond, cells + beyond, dtype=np.float64)
    columns = 1 if skin.is_round else turn_cells
    theta: Floats = TURN_RAD / turn_cells * np.arange(columns, dtype=np.float64)
    r = _greatest_in_cells(skin, x, theta, step, TURN_RAD / turn_cells)
    least = float(r.min())
    widest = 0.5 * pi if reach >= least else asin(reach / least)
    turned = TURN_RAD / turn_cells * np.arange(ceil(widest * turn_cells / TURN_RAD) + 1)
    form = (tool.flat_mm, tool.round_mm, tool.flank, tool.outer_mm, gap_mm, slack)
    passed = np.zeros((cells, columns), np.bool_)
    for way in ways or ():
        _passed(passed, low, step, turn_cells / TURN_RAD, _places(way))
    if ways is None:
        passed[:] = True
    height = np.full((cells, columns), inf)
    _dilate(r, np.sin(turned), np.cos(turned), step, beyond, form, passed, height)
    return Hover(height_mm=height, x0_mm=low, step_mm=step, turn_cells=turn_cells)


def _places(way: Way) -> Floats:
    """(4, n) x, theta of the start, x, theta of the end."""
    return np.stack([np.asarray(v, np.float64) for end in way for v in end])


def highest_mm(skin: Skin) -> float:
    """The skin's greatest distance from the axis, mm, or a little more: from samples and the rise between them."""
    low, high = skin.x_range_mm
    x = np.linspace(low, high, max(65, ceil((high - low) / _FINEST_MM)) + 1)
    theta = np.zeros(1) if skin.is_round else np.linspace(0.0, TURN_RAD, _RINGS)
    r = skin.radius(x[:, None], theta[None, :])
    # Between samples a smooth top stands over them by an eighth of their second difference; a half is taken.
    bend = np.zeros(r.shape)
    bend[1:-1] += np.abs(np.diff(r, 2, axis=0))
    if len(theta) > 1:
        bend[:, 1:-1] += np.abs(np.diff(r, 2, axis=1))
    return float((r + 0.5 * bend).max())


def _greatest_in_cells(skin: Skin, x: Floats, theta: Floats, step: float, angle: float) -> Floats:
    """(nx, nt) the greatest radius within half a cell of each node, told by the steepest slopes about it."""
    r = skin.radius(x[:, None], theta[None, :])
    along, around = (np.abs(slope) for slope in skin.slopes(x[:, None], theta[None, :]))
    inside = (x >= skin.x_range_mm[0]) & (x <= skin.x_range_mm[1])
    along = np.where(inside[:, None], along, 0.0)
    # A pole is infinitely steep and low: what it rises within a cell is what its neighbour stands higher.
    rise = np.minimum(_about(0.5 * step * along), _about(r) - r + 0.5 * step)
    out: Floats = r + rise + _about(0.5 * angle * around)
    return out


def _about(values: Floats) -> Floats:
    """The greatest of each node and its eight neighbours; the angle goes round."""
    padded = np.concatenate([values[:1], values, values[-1:]])
    rows = np.maximum(np.maximum(padded[:-2], padded[2:]), values)
    return np.maximum(np.maximum(np.roll(rows, 1, axis=1), np.roll(rows, -1, axis=1)), rows)


@compiled
def _under(q: float, form: tuple[float, float, float, float, float, float]) -> float:
    """Lowest height, seen from the tip, of the tool's form grown by the gap, q from its axis; inf beyond it."""
    flat, rounding, flank, outer, gap, _ = form
    if q > outer + gap:
        return inf
    if rounding > 0.0:
        R = rounding + gap
        return rounding - sqrt(max(R * R - q * q, 0.0))
    past = q - flat
    if past <= 0.0:
        return -gap
    lean = sqrt(1.0 + flank * flank)
    if flank == inf or past <= gap * flank / lean:
        return -sqrt(max(gap * gap - past * past, 0.0))
    low = flank * past - gap * lean
    rim = q - outer
    if rim > gap * flank / lean:
        low = max(low, flank * (outer - flat) - sqrt(max(gap * gap - rim * rim, 0.0)))
    return low


@compiled
def _dilate(
    r: Floats,
    sines: Floats,
    cosines: Floats,
    step: float,
    beyond: int,
    form: tuple[float, float, float, float, float, float],
    asked: Bools,
    height: Floats,
) -> None:
    """Fill height (nx, nt), where asked, from r (nx + 2 beyond, nt): the skin in the tool's frame, which comes in
    straight.
    """
    columns = r.shape[1]
    slack = form[5]
    for i in range(height.shape[0]):
        for j in range(columns):
            if not asked[i, j]:
                continue
            best = 0.0
            for a in range(-beyond, beyond + 1):
                dx = a * step
                for b in range(-len(sines) + 1, len(sines)):
                    far = r[i + beyond + a, (j + b) % columns]
                    up = far * cosines[abs(b)]
                    if up + form[4] <= best:
                        continue
                    side = far * sines[abs(b)]
                    q = max(sqrt(dx * dx + side * side) - slack, 0.0)
                    best = max(best, up - _under(q, form))
            height[i, j] = best


@compiled
def _in_cells(places: Floats, k: int, x0: float, step: float, per_rad: float) -> tuple[float, float, float, float, int]:
    """Way k of places (4, n) in cells: row and column of its start, how far it goes, stretches to look at."""
    row = (places[0, k] - x0) / step
    column = places[1, k] * per_rad
    along = (places[2, k] - places[0, k]) / step
    around = (places[3, k] - places[1, k]) * per_rad
    return row, column, along, around, max(1, ceil(max(abs(along), abs(around)) / _WAY_STEP))


@compiled
def _passed(passed: Bools, x0: float, step: float, per_rad: float, places: Floats) -> None:
    """Mark the cells that `_over` reads."""
    rows, columns = passed.shape
    for k in range(places.shape[1]):
        row, column, along, around, parts = _in_cells(places, k, x0, step, per_rad)
        for p in range(parts + 1):
            i = min(max(floor(row + along * p / parts + 0.5), 0), rows - 1)
            passed[i, floor(column + around * p / parts + 0.5) % columns] = True


@compiled
def _over(height: Floats, x0: float, step: float, per_rad: float, places: Floats, out: Floats) -> None:
    """Greatest height on each straight way."""
    rows, columns = height.shape
    for k in range(len(out)):
        row, column, along, around, parts = _in_cells(places, k, x0, step, per_rad)
        best = 0.0
        for p in range(parts + 1):
            i = min(max(floor(row + along * p / parts + 0.5), 0), rows - 1)
            best = max(best, height[i, floor(column + around * p / parts + 0.5) % columns])
        out[k] = best
