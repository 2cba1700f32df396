"""Light and dark: how much of the skin the carving opens, beside how dark it was asked to look.

Takes `Wanted` and the carved field; gives `Toned`, compared about places as far apart as an eye takes together. Each
place counts what lies about it the more the nearer it is (a tent), so that rows do not beat with the places. What is
opened counts as dark, however deep it is; what is not, as light.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from engine.blank import Sampled
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Ask, Tool, Wanted
from engine.proof.allowed import cells_at, field_frame
from engine.proof.carve_field import Carved
from engine.proof.carve_rows import Radii

__all__ = ["Toned", "judge_tone", "toned"]

APART_MM = 1.5  # five lines at a usual pitch of 0.3 mm; from 2 m away 2.6 minutes of arc: common practice
OPENED_MM = 0.001  # deeper than this the skin is opened: below any word's own rounding it is not
LEAST_SHARE = 0.5  # of a place's cells; less of it, at the edge of the art, tells nothing
LEVEL = 0.02  # of the depth: less fall from one cell to the next is none
EVEN = 0.01  # standard deviation of the darkness; below it noise alone decides a correlation
OFF = 0.1  # mean square difference of dark made and dark asked that is told, of 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Toned:
    """Of m places of art: the darkness asked and made about them, 0 to 1, the area that they stand for, and where."""

    asked: Floats
    made: Floats
    area_mm2: Floats
    x_mm: Floats
    theta_rad: Floats

    @property
    def correlation(self) -> float | None:
        """Of dark made with dark asked; None where either is nearly the same all over."""
        if len(self.asked) < 2 or min(float(self.asked.std()), float(self.made.std())) < EVEN:
            return None
        return float(np.corrcoef(self.asked, self.made)[0, 1])

    @property
    def off(self) -> float:
        """Root mean square of dark made less dark asked."""
        weight = self.area_mm2 / self.area_mm2.sum()
        return math.sqrt(float((weight * (self.made - self.asked) ** 2).sum()))

    @property
    def bias(self) -> float:
        """Mean of dark made less dark asked: above 0 the art comes out too dark."""
        return float(((self.made - self.asked) * self.area_mm2).sum() / self.area_mm2.sum())

    @property
    def met_mm2(self) -> float:
        """Area that was asked dark and is."""
        return float((np.minimum(self.made, self.asked) * self.area_mm2).sum())

    @property
    def asked_mm2(self) -> float:
        """Area that was asked dark."""
        return float((self.asked * self.area_mm2).sum())


def toned(wanted: Wanted, carved: Carved, skin: Sampled, tool: Tool) -> Toned | None:
    """The places of toned art; None where no art is toned. tool : the one that draws it."""
    art = wanted.asked(Ask.TONE)
    if wanted.darkness is None or not art.any():
        return None
    frame = field_frame(wanted)
    # Each carved cell counts as the wanted field's cell that holds it.
    x, theta = carved.x_mm, carved.theta_rad
    rows, _, row_in = cells_at(frame, wanted.depth_mm.shape, x, np.full(len(x), wanted.theta_rad[0]))
    _, columns, column_in = cells_at(frame, wanted.depth_mm.shape, np.full(len(theta), wanted.x_mm[0]), theta)
    rows, columns = np.where(row_in, rows, -1), np.where(column_in, columns, -1)
    radius = skin.radius(x, np.full(len(x), float(theta.mean())))
    step_x = max(1, round(APART_MM / frame.dx))
    step_t = max(1, round(APART_MM / (frame.dth * float(radius.mean()))))
    shape = -(-wanted.depth_mm.shape[0] // step_x), -(-wanted.depth_mm.shape[1] // step_t)
    sums = np.zeros((5, *shape))
    form = tool.flank, tool.round_mm, carved.frame.dx, carved.frame.dth
    _sum(carved.depth_mm, wanted.darkness, art, rows, columns, radius, (step_x, step_t), form, sums)
    cell = carved.frame.dx * carved.frame.dth
    full = step_x * frame.dx * step_t * frame.dth * float(radius.mean())
    area = sums[0] * cell
    i, j = np.nonzero(area >= LEAST_SHARE * full)
    if not len(i):
        return None
    weight = sums[0, i, j]
    return Toned(
        asked=sums[1, i, j] / weight,
        made=sums[2, i, j] / weight,
        area_mm2=area[i, j],
        x_mm=frame.x0 + frame.dx * (sums[3, i, j] / weight),
        theta_rad=frame.th0 + frame.dth * (sums[4, i, j] / weight),
    )


def judge_tone(tone: Toned) -> list[Finding]:
    """`nothing-cut`, `tone-off`: the art comes out lighter or darker than it was asked."""
    if not tone.made.any():
        text, advice = "the program cuts nothing of the art", "check zero, units and the tool's place"
        return [Finding(severity=Severity.ERROR, code="nothing-cut", message=text, advice=advice)]
    if tone.off <= OFF:
        return []
    apart = tone.made - tone.asked
    worst = int(np.abs(np.round(apart, 9)).argmax())
    side = "dark" if tone.bias > 0 else "light"
    message = (
        f"light and dark come out {tone.off:.0%} off on the whole, {abs(tone.bias):.0%} too {side}: at worst "
        f"{tone.made[worst]:.0%} dark where {tone.asked[worst]:.0%} is asked"
    )
    place = Where.on_skin(tone.x_mm[worst], tone.theta_rad[worst])
    advice = "lines or dots nearer to each other, more depth, or a lighter picture by its tone"
    return [Finding(severity=Severity.WARNING, code="tone-off", message=message, advice=advice, where=place)]


class _Form(NamedTuple):
    """The tool's flank (mm a mm) and rounding (mm), and how large a cell is along the axis and around, mm."""

    flank: float
    rounding: float
    cell_along: float
    cell_around: float


@compiled
def _sum(
    depth: Radii,
    darkness: NDArray[np.float32],
    art: Bools,
    rows: Ints,
    columns: Ints,
    radius: Floats,
    step: tuple[int, int],
    form: tuple[float, float, float, float],
    sums: Floats,
) -> None:
    """Add each toned cell's area, dark asked, dark made, and its row and column, to the sums (5, ...) of the four
    places about it, to each the more the nearer it lies. form : the tool's flank and rounding, a cell along (mm) and
    around (rad).
    """
    flank, rounding, dx, dth = form
    row = np.zeros((4, sums.shape[2]))
    for p in range(depth.shape[0]):
        i = rows[p]
        if i < 0:
            continue
        row[:] = 0.0
        _sum_row(depth, p, darkness[i], art[i], columns, step[1], _Form(flank, rounding, dx, radius[p] * dth), row)
        a, up = _between(i, step[0], sums.shape[1])
        for m in range(2 if up > 0.0 else 1):
            weight = radius[p] * abs(1.0 - m - up)
            for b in range(sums.shape[2]):
                sums[0, a + m, b] += weight * row[0, b]
                sums[1, a + m, b] += weight * row[1, b]
                sums[2, a + m, b] += weight * row[2, b]
                sums[3, a + m, b] += weight * row[0, b] * i
                sums[4, a + m, b] += weight * row[3, b]


@compiled
def _sum_row(
    depth: Radii, p: int, darkness: NDArray[np.float32], art: Bools, columns: Ints, step: int, tool: _Form, row: Floats
) -> None:
    """Add area, asked, made and column of the toned cells of one row p, a unit of area each, to row (4, places)."""
    nx, nt = depth.shape
    for q in range(nt):
        j = columns[q]
        if j < 0 or not art[j]:
            continue
        made = 0.0
        if depth[p, q] > OPENED_MM:
            made = 1.0
            if 1 < p < nx - 2 and 1 < q < nt - 2:
                made += _beyond(depth, p, q, tool)
        b, aside = _between(j, step, row.shape[1])
        for n in range(2 if aside > 0.0 else 1):
            share = abs(1.0 - n - aside)
            row[0, b + n] += share
            row[1, b + n] += share * darkness[j]
            row[2, b + n] += share * made
            row[3, b + n] += share * j


@compiled
def _between(cell: int, step: int, places: int) -> tuple[int, float]:
    """The place before a cell, places standing in the middle of every `step` cells, and how far on it lies to the next;
    beyond the first and the last it lies at them.
    """
    at = min(max((cell + 0.5) / step - 0.5, 0.0), places - 1.0)
    return int(at), at - int(at)


@compiled
def _beyond(depth: Radii, p: int, q: int, tool: _Form) -> float:
    """By how much of a cell the groove's edge lies beyond the border of its outermost cell, below 0 short of it.

    Cells are a tenth of a line wide, or more: counted whole they would beat with the lines, and a ridge that is left
    standing between two of them would not be seen. Along the axis in which the depth falls more.
    """
    along = abs(depth[p + 1, q] - depth[p - 1, q]) / tool.cell_along
    around = abs(depth[p, q + 1] - depth[p, q - 1]) / tool.cell_around
    lengthwise = along >= around
    u, v = (1, 0) if lengthwise else (0, 1)
    here = depth[p, q]
    part = 0.0
    for side in range(-1, 2, 2):
        m, n = side * u, side * v
        behind, beside, next_one = depth[p - m, q - n], depth[p + m, q + n], depth[p + 2 * m, q + 2 * n]
        ends = beside <= OPENED_MM
        if not ends and not (behind > here and next_one > beside):  # amid the groove, and no ridge
            continue
        share = max(along, around) / max(math.hypot(along, around), 1e-12)  # the cosine of fall and axis
        cell = share * (tool.cell_along if lengthwise else tool.cell_around)
        flank = tool.flank * cell
        bend = cell * cell / tool.rounding if tool.rounding > 0.0 else 0.0
        on = _falls(here, behind - here, flank, bend)
        if ends:
            part += on - 0.5
        else:  # is some of the ridge left bare?
            back = _falls(beside, next_one - beside, flank, bend)
            part -= 0.5 * max(1.0 - on - back, 0.0)
    return part


@compiled
def _falls(here: float, fall: float, flank: float, bend: float) -> float:
    """How far on, in cells, 1 at most, a depth of `here` ends that fell by `fall` from the cell before.

    flank : how far a cone's falls in a cell. bend : of a ball, how much more it falls in each cell than in the last.
    """
    if bend > 0.0:
        steep = fall + 0.5 * bend
        return min(2.0 * here / (steep + math.sqrt(steep * steep + 2.0 * bend * here)), 1.0)
    if fall < LEVEL * here:  # the cell is the flat's last: its border lies anywhere on the way to the edge
        return 0.5 + 0.5 * min(here / flank, 1.0)
    return min(here / (fall if math.isinf(flank) else flank), 1.0)
