"""Borders and frames: a whole number of motifs along a circle of the blank, or round a piece of art.

Takes a `Border` and the length that it has to fill; gives a `Drawing` in mm. A border that goes round the blank is as
wide as the blank is round: its lines end where they begin, a whole turn on. Our own drawings.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from engine.artwork.drawing import Drawing, Note
from engine.artwork.motifs import Kind, Strip
from engine.kernel.arrays import Floats
from engine.kernel.ragged import Ragged, spread

__all__ = ["Border", "border_round", "frame_round", "motif_count"]

CHORD_MM = 0.004  # of flattened curves; under half of what the tool path is allowed
FEWEST = 4  # motifs of a frame where none are asked: one a side
MOST = 2000  # motifs: narrower ones no tool would draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Border:
    """What a border is made of. times : motifs; None: as many as look well.

    Of a frame alone: margin_mm from the art's extent to the frame; corner_mm : radius of its middle line at the
    corners, half the height at least; None: as if the margin were rolled round the art's own corners.
    """

    kind: Kind
    height_mm: float
    times: int | None = None
    margin_mm: float = 0.0
    corner_mm: float | None = None


def motif_count(border: Border, length_mm: float, *, fewest: int = 1) -> int:
    """How many motifs fill `length_mm`: as many as asked, else a number that makes each look well."""
    if border.times is not None or not border.kind.proportion:
        return border.times or 1
    return min(max(fewest, round(length_mm / (border.kind.proportion * border.height_mm))), MOST)


def border_round(border: Border, length_mm: float) -> Drawing:
    """The border as wide as the blank is round; it begins and ends at the back, half of it to each side of its middle.

    Rings of motifs at the back are whole, and reach over it.
    """
    times = motif_count(border, length_mm)
    strip = _strip(border, length_mm, times)
    middle = np.array([0.5 * length_mm, 0.0])
    lines = [line - middle for line in strip.lines]
    for line in lines:
        line[0, 0], line[-1] = -0.5 * length_mm, (0.5 * length_mm, line[0, 1])
    return Drawing(
        width_mm=length_mm,
        height_mm=border.height_mm,
        rings=Ragged.of([ring - middle for ring in strip.rings]),
        lines=Ragged.of(lines),
        notes=_counted(border, length_mm, times),
    )


def frame_round(border: Border, width_mm: float, height_mm: float) -> Drawing:
    """The border as a frame with round corners about art of this extent; its lines are closed."""
    room = border.margin_mm + 0.5 * border.height_mm
    path = _Path.about(
        width_mm + 2.0 * room,
        height_mm + 2.0 * room,
        corner_mm=room if border.corner_mm is None else border.corner_mm,
    )
    times = motif_count(border, path.length_mm, fewest=FEWEST)
    strip = _strip(border, path.length_mm, times)
    # Of chords round a corner those on its outer side are the longest.
    step = path.corner_mm * np.sqrt(8.0 * CHORD_MM / (path.corner_mm + 0.5 * border.height_mm))
    lines = [path.bend(_looked_at(line, step)) for line in strip.lines]
    for line in lines:
        line[-1] = line[0]
    rings = [path.bend(_looked_at(ring, step)) for ring in strip.rings]
    for ring in rings:
        ring[-1] = ring[0]
    return Drawing(
        width_mm=width_mm + 2.0 * (border.margin_mm + border.height_mm),
        height_mm=height_mm + 2.0 * (border.margin_mm + border.height_mm),
        rings=Ragged.of(rings),
        lines=Ragged.of(lines),
        notes=_counted(border, path.length_mm, times),
    )


def _counted(border: Border, length_mm: float, times: int) -> tuple[Note, ...]:
    """How many motifs a border has that does not say."""
    if border.times is not None or not border.kind.proportion:
        return ()
    message = f"the border has {times} motif{'s' if times > 1 else ''} of {length_mm / times:.4g} mm"
    return (Note(code="border-motifs", message=message, where="border"),)


def _strip(border: Border, length_mm: float, times: int) -> Strip:
    return Strip(border.kind, period_mm=length_mm / times, height_mm=border.height_mm, times=times, chord_mm=CHORD_MM)


def _looked_at(run: Floats, step_mm: float) -> Floats:
    """The run (k, 2) with points between, no further than `step_mm` apart along the strip."""
    count = np.maximum(1, np.ceil(np.abs(np.diff(run[:, 0])) / step_mm).astype(np.int64))
    first = np.repeat(np.arange(len(count)), count)
    share = spread(0, count) / count[first]
    between: Floats = run[first] + share[:, None] * (run[first + 1] - run[first])
    return np.vstack([between, run[-1:]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Path:
    """A rectangle with round corners, clockwise from the middle of its top; pieces in turn straight and round.

    start : (9, 2) where each piece begins; heading : (9,) rad; begin : (10,) mm along the path.
    """

    corner_mm: float
    start: Floats
    heading: Floats
    begin: Floats

    @classmethod
    def about(cls, width_mm: float, height_mm: float, *, corner_mm: float) -> "_Path":
        corner = min(corner_mm, 0.5 * width_mm, 0.5 * height_mm)
        half = np.array([0.5 * width_mm, 0.5 * height_mm])
        along, up = 2.0 * (half - corner)
        arc = 0.5 * pi * corner
        lengths = [0.5 * along, arc, up, arc, along, arc, up, arc, 0.5 * along]
        start, heading = [np.array([0.0, half[1]])], [0.0]
        for k, length in enumerate(lengths[:-1]):
            t = heading[-1]
            ahead, left = np.array([np.cos(t), np.sin(t)]), np.array([-np.sin(t), np.cos(t)])
            start.append(start[-1] + (corner * (ahead - left) if k % 2 else length * ahead))
            heading.append(t - 0.5 * pi if k % 2 else t)
        return cls(
            corner_mm=corner,
            start=np.array(start),
            heading=np.array(heading),
            begin=np.concatenate([[0.0], np.cumsum(lengths)]),
        )

    @property
    def length_mm(self) -> float:
        return float(self.begin[-1])

    def bend(self, run: Floats) -> Floats:
        """(k, 2) of (s along, n to the left, which is outwards) -> sheet; s beyond the end goes on from the start."""
        s = np.mod(run[:, 0], self.length_mm)
        k = np.clip(np.searchsorted(self.begin, s, side="right") - 1, 0, len(self.heading) - 1)
        gone, round_corner = s - self.begin[k], k % 2 == 1
        turn = self.heading[k] - np.where(round_corner, gone / max(self.corner_mm, 1e-12), 0.0)
        left = np.stack([-np.sin(turn), np.cos(turn)], axis=1)
        ahead = np.stack([np.cos(self.heading[k]), np.sin(self.heading[k])], axis=1)
        first_left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
        on = np.where(round_corner[:, None], self.corner_mm * (left - first_left), gone[:, None] * ahead)
        return np.asarray(self.start[k] + on + run[:, 1:] * left)
