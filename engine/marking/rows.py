"""Rows that a tone is drawn along: where each lies, how wide a strip of the skin it answers for, and how it leans.

Takes the field of darkness, the layout and a pitch; gives a `Sampling`: `Rows` of even samples, part by part. Straight
rows are lines of the sheet; rings, meridians and the turns of a helix are lines of a second sheet, laid round the blank
by the mean meridian, and carried back to the art's own. What changes slowly is asked for every LOOK_MM and runs
straight between.
"""

from dataclasses import dataclass
from math import ceil, pi, radians

import numpy as np

from engine.artwork import Darkness
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import offsets_of, spread
from engine.kernel.units import TURN_RAD
from engine.layout import Layout, Placement, Projection, area_stretch, lay_out
from engine.marking.curved import bend_across
from engine.marking.groove import normals
from engine.marking.sampling import Sampling
from engine.marking.spacing import Family

__all__ = [
    "RIDGES",
    "ROUGH",
    "box_round",
    "carried",
    "helix",
    "meridians",
    "refuse_many",
    "rings",
    "straight",
]

PITCH, RIDGES, ROUGH = "marking/pitch_mm", "marking/scallop_mm", "marking/rough_step_mm"
CURES = {
    PITCH: "choose a wider pitch or smaller art",
    RIDGES: "higher ridges, a wider tool, or smaller art",
    ROUGH: "deeper steps, a wider tool to clear with, or smaller art",
}  # of rows that are too many, by the field that asks for them

LOOK_MM = 0.5  # a hundredth of the radius at which the skin could change between two looks
MOST_SAMPLES = 20_000_000  # of all rows: a gigabyte
NET = 48  # a side of the net at which the greatest scale is looked for
SAME = 1e-6  # mm and rad: a place that comes back to itself is seen
CLIMB_STEPS = 4000  # at which a helix' climb is summed up
CLIMB_ANGLES = 48  # round the axis, at which its climb is asked
ROUND = 0.98  # of a turn: art that reaches so far goes once round
MARGIN = 1e-3  # a greatest scale is found at samples; between them it may be this much more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Looks:
    """Places along rows on a sheet: at, unit way (n, 2), cell_mm (n,); the rows' offsets, length_mm and number."""

    at: Floats
    way: Floats
    cell_mm: Floats
    offsets: Ints
    length_mm: Floats
    number: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines(Family):
    """A family of lines that tells how wide a strip each of them stands for. shift : line k lies at k + shift gaps.

    Where no line is dropped, their strips fill what they are laid over from edge to edge.
    """

    shift: float = 0.0

    @classmethod
    def filling(cls, sheet: Layout, corners: Floats, pitch_mm: float, angle_rad: float) -> "_Lines":
        """The family over the parallelogram of the corners (4, 2)."""
        found = Family.over(sheet, pitch_mm, angle_rad, _net(corners, np.linspace(0.0, 1.0, NET)))
        gap, shift = found.gap_mm, 0.0
        if found.is_even:
            across = corners @ found.across
            span = float(np.ptp(across))
            gap = span / ceil(span / gap - SAME)
            shift = float(across.min()) / gap + 0.5
        return cls(layout=sheet, pitch_mm=pitch_mm, angle_rad=angle_rad, gap_mm=gap, is_even=found.is_even, shift=shift)

    def points(self, line: Ints, at: Floats) -> Floats:
        """(n, 2) the place `at` mm along line `line`."""
        return at[:, None] * self.along + ((line + self.shift) * self.gap_mm)[:, None] * self.across

    def strip_mm(self, uv_mm: Floats) -> Floats:
        """(n,) distance on the skin between the lines that are present about each point."""
        level = 0.0 if self.is_even else self._level(uv_mm)
        return self.gap_mm * 2.0**level * self.scale(uv_mm)


def straight(
    darkness: Darkness, layout: Layout, *, pitch_mm: float, angle_deg: float, step_mm: float, field: str = PITCH
) -> Sampling:
    """Straight lines of the sheet at `angle_deg`, over the whole picture. field : of the document, that a refusal of
    too many names.
    """
    refuse_many(layout, darkness.corners, pitch_mm, step_mm, field)
    looks = _family(layout, darkness.corners, pitch_mm, radians(angle_deg))
    return _sampled(looks, layout, layout, step_mm, field=field)


def rings(darkness: Darkness, layout: Layout, *, pitch_mm: float, step_mm: float) -> Sampling:
    """Lines around the blank, each at one x."""
    around, box = box_round(darkness, layout)
    refuse_many(around, box, pitch_mm, step_mm)
    return _sampled(_family(around, box, pitch_mm, 0.0), around, layout, step_mm)


def meridians(darkness: Darkness, layout: Layout, *, pitch_mm: float, step_mm: float) -> Sampling:
    """Lines along the blank, each at one angle."""
    around, box = box_round(darkness, layout)
    refuse_many(around, box, pitch_mm, step_mm)
    return _sampled(_family(around, box, pitch_mm, 0.5 * pi), around, layout, step_mm)


def helix(darkness: Darkness, layout: Layout, *, pitch_mm: float, step_mm: float) -> Sampling:
    """One line round and round that climbs at most a pitch on the skin a turn. It is one row where the art goes once
    round and its sheet goes on and on; else each turn is a row, as far as the picture reaches.
    """
    around, box = box_round(darkness, layout)
    refuse_many(around, box, pitch_mm, step_mm)
    (left, low), (right, high) = box[0], box[2]
    turn = TURN_RAD * _mm_a_radian(around)
    endless = right - left >= ROUND * turn and _goes_on(layout, around, box)
    left, width = (left, turn) if endless else (left, min(right - left, turn))
    v = np.linspace(low, high, CLIMB_STEPS)
    net = np.stack(np.meshgrid(left + width * (np.arange(CLIMB_ANGLES) + 0.5) / CLIMB_ANGLES, v), axis=-1)
    across = Family(layout=around, pitch_mm=pitch_mm, angle_rad=0.0, gap_mm=pitch_mm)
    worst = across.scale(net.reshape(-1, 2)).reshape(len(v), -1).max(axis=1) * (1.0 + MARGIN)
    done = np.concatenate([[0.0], np.cumsum(0.5 * (worst[1:] + worst[:-1]) * np.diff(v))]) / pitch_mm
    starts = np.zeros(1) if endless else np.arange(ceil(done[-1]), dtype=np.float64)
    stops = starts + (done[-1] if endless else width / turn)
    count = np.maximum(2, np.ceil((stops - starts) * turn / LOOK_MM).astype(np.int64) + 1)
    row = np.repeat(np.arange(len(starts)), count)
    s = starts[row] + (stops - starts)[row] * spread(0, count) / (count[row] - 1)
    u = left + (s - (0.0 if endless else starts[row])) * turn
    climb = (np.interp(s + 0.5, done, v) - np.interp(s - 0.5, done, v)) / _inside(s, done[-1])
    at = np.stack([u, np.interp(s, done, v)], axis=1)
    way = np.stack([np.full(len(s), turn), climb], axis=1)
    looks = _Looks(
        at=at,
        way=way / np.linalg.norm(way, axis=1)[:, None],
        cell_mm=climb * across.scale(at),
        offsets=offsets_of(count),
        length_mm=(stops - starts) * turn,
        number=np.arange(len(starts)),
    )
    return _sampled(looks, around, layout, step_mm, first_turn=(left, turn) if endless else None)


def refuse_many(layout: Layout, corners: Floats, pitch_mm: float, step_mm: float, field: str = PITCH) -> None:
    """MarkingError where rows so near over a parallelogram (4, 2) of the sheet would have more samples than are held,
    before any is made: the skin's area there, by what a sample answers for, is the least that they can be.
    """
    area = _skin_mm2(layout, corners)
    if area > MOST_SAMPLES * pitch_mm * step_mm:
        raise _too_long(area / pitch_mm, field)


def _skin_mm2(layout: Layout, corners: Floats) -> float:
    """Area of the skin under a parallelogram (4, 2) of the sheet, as far as the layout holds it; from an even net."""
    net = _net(corners, (np.arange(NET) + 0.5) / NET)
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    whole = abs(float(across[0] * down[1] - across[1] * down[0]))
    return whole / len(net) * float(area_stretch(layout, net[layout.holds(net)]).sum())


def _net(corners: Floats, share: Floats) -> Floats:
    """(k * k, 2) places over the parallelogram of the corners (4, 2), at (k,) shares of each side, 0 to 1."""
    up, side = (a.ravel()[:, None] for a in np.meshgrid(share, share))
    net: Floats = corners[0] + side * (corners[1] - corners[0]) + up * (corners[3] - corners[0])
    return net


def _too_long(length_mm: float, field: str) -> MarkingError:
    long_m = float(f"{length_mm / 1000.0:.3g}")
    return MarkingError(f"the rows would be {long_m:,g} m long, more than can be held", where=field, hint=CURES[field])


def _inside(s: Floats, most: float) -> Floats:
    """(n,) how much of the turn about each place of the helix, half before and half after, there is."""
    return np.clip(np.minimum(s + 0.5, most) - np.maximum(s - 0.5, 0.0), 1e-9, 1.0)


def _mm_a_radian(around: Layout) -> float:
    """Sheet mm to a radian of a sheet that is laid round the blank."""
    x, theta = around.wrap(np.zeros((1, 2)))
    return float(around.unwrap(x, theta + 1.0)[0, 0])


def _goes_on(layout: Layout, around: Layout, box: Floats) -> bool:
    """Whether the art's sheet goes on round the blank, turn after turn, without end."""
    x, theta = around.wrap(box)
    further = theta + TURN_RAD * np.arange(1, len(box) + 1)
    uv = layout.unwrap(x, further)
    if not layout.holds(uv).all():
        return False
    return bool(np.abs(layout.wrap(uv)[1] - further).max() < SAME)


def box_round(
    darkness: Darkness, layout: Layout, projection: Projection = Projection.EQUIDISTANT
) -> tuple[Layout, Floats]:
    """A sheet laid round the blank about the picture's middle, and the corners of the box that the picture fills there.

    Where the picture reaches over more than a turn, the turn about its middle is taken.
    """
    x, theta = layout.wrap(_net(darkness.corners, np.linspace(0.0, 1.0, NET)))
    angle_deg = 0.5 * float(np.degrees(theta.min() + theta.max()))
    middle = Placement(x_mm=0.5 * float(x.min() + x.max()), angle_deg=angle_deg, projection=projection)
    around = lay_out(layout.skin, middle)
    uv = around.unwrap(x, theta)
    (left, low), (right, high) = uv.min(axis=0), uv.max(axis=0)
    half = pi * _mm_a_radian(around)
    left, right = max(left, -half), min(right, half)
    return around, np.array([[left, low], [right, low], [right, high], [left, high]])


def _family(sheet: Layout, corners: Floats, pitch_mm: float, angle_rad: float) -> _Looks:
    """Parallel lines over the parallelogram of the corners (4, 2), at most a pitch apart on the skin."""
    family = _Lines.filling(sheet, corners, pitch_mm, angle_rad)
    line, start, stop = _clipped(corners @ family.across / family.gap_mm - family.shift, corners @ family.along)
    i, begin, end = family.present(line, start, stop)
    begin, end = np.maximum(begin, start[i]), np.minimum(end, stop[i])
    length = end - begin
    count = np.maximum(2, np.ceil(length / LOOK_MM).astype(np.int64) + 1)
    row = np.repeat(np.arange(len(i)), count)
    m = spread(0, count)
    at = family.points(line[i][row], begin[row] + length[row] * m / (count[row] - 1))
    return _Looks(
        at=at,
        way=np.broadcast_to(family.along, at.shape),
        cell_mm=family.strip_mm(at),
        offsets=offsets_of(count),
        length_mm=length,
        number=line[i],
    )


def _clipped(across: Floats, along: Floats) -> tuple[Ints, Floats, Floats]:
    """(line, start, stop) of every line, at a whole number across, inside the convex outline of the corners."""
    line = np.arange(ceil(across.min() + 1e-9), ceil(across.max() - 1e-9), dtype=np.int64)
    a0, a1 = across, np.roll(across, -1)
    crossed = (line[:, None] >= np.minimum(a0, a1)) & (line[:, None] < np.maximum(a0, a1))
    share = (line[:, None] - a0) / np.where(a0 == a1, 1.0, a1 - a0)
    place = along + share * (np.roll(along, -1) - along)
    low = np.where(crossed, place, np.inf).min(axis=1, initial=np.inf)
    high = np.where(crossed, place, -np.inf).max(axis=1, initial=-np.inf)
    held = high > low
    return line[held], low[held], high[held]


def _sampled(
    looks: _Looks,
    sheet: Layout,
    layout: Layout,
    step_mm: float,
    first_turn: tuple[float, float] | None = None,
    field: str = PITCH,
) -> Sampling:
    """Even samples, at most `step_mm` apart on the skin, along rows that are longer than two of them.

    first_turn : where on `sheet` the picture's turn begins and how wide it is, where rows go on beyond it.
    """
    told, stretch = _told(looks, sheet, layout, goes_on=first_turn is not None)
    return Sampling(
        told=told,
        offsets=looks.offsets,
        length_mm=looks.length_mm,
        size=_sizes(looks.length_mm, step_mm / float(stretch.max(initial=1e-9)), field),
        number=looks.number,
        first_turn=first_turn,
    )


def _told(looks: _Looks, sheet: Layout, layout: Layout, *, goes_on: bool) -> tuple[Floats, Floats]:
    """`Sampling.told` of the looks, and its third row, the stretch, by itself."""
    x, theta = sheet.wrap(looks.at)
    E, F, G = sheet.tensor(looks.at).T
    a, b = looks.way.T
    stretch: Floats = np.sqrt(E * a * a + 2.0 * F * a * b + G * b * b)
    way = (sheet.jacobian(looks.at) * looks.way[:, None]).sum(axis=2)  # of x and theta
    climb = (np.stack(layout.skin.slopes(x, theta), axis=1) * way).sum(axis=1)
    bend = bend_across(layout, x, theta, way)
    uv, seen = looks.at, np.ones(len(looks.at))
    if sheet is not layout:
        uv, seen = carried(layout, x, theta)
    lean = normals(layout, x, theta)[:, 1]
    further = [looks.at[:, 0], *(layout.unwrap(x, theta + TURN_RAD) - uv).T] if goes_on else []
    return np.stack([*uv.T, stretch, looks.cell_mm, lean, climb / stretch, bend, seen, *further]), stretch


def _sizes(length_mm: Floats, step_mm: float, field: str) -> Ints:
    """(m,) how many samples each row has; none where it is no longer than two steps. MarkingError for too many."""
    count = np.where(length_mm > 2.0 * step_mm, np.ceil(length_mm / step_mm), 0.0)
    if count.sum() > MOST_SAMPLES:
        raise _too_long(float(length_mm.sum()), field)
    return count.astype(np.int64)


def carried(layout: Layout, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """(n, 2) the places on the art's own sheet, and (n,) 1 where it lies there."""
    uv = layout.unwrap(x, theta)
    seen = layout.holds(uv)
    back_x, back_theta = layout.wrap(uv[seen])
    seen[seen] = (np.abs(back_x - x[seen]) < SAME) & (np.abs(back_theta - theta[seen]) < SAME)
    return uv, seen.astype(np.float64)
