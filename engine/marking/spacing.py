"""Families of parallel sheet lines whose distance on the skin is held at or under the pitch.

Lines stand `gap` apart on the sheet, gap = pitch over the greatest scale across them anywhere in the art. Where the
skin narrows, line k is present only while 2**j divides k, j the largest whole number for which the distance stays
within the pitch: half the lines are dropped at a time, so the distance lies between half the pitch and the pitch, but
for the change of scale inside one gap, which a look to both sides covers.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import spread
from engine.layout import Layout

__all__ = ["Family"]

ALL = 30  # the rank of line 0, which every halving keeps
LOOK_MM = 0.25  # along a line, how often its presence is asked: a fraction of the smallest art worth cutting
MOST_LOOKS = 2_000_000  # on very large art it is asked less often, and lines begin as much earlier
MARGIN = 1e-3  # the greatest scale is found at samples; between them it may be this much more
PEAKS = 48  # about so many samples of greatest scale a closer look is taken
CLOSER_MM = 0.4  # how far that look goes to each side
NEARLY_HALF = 0.55  # a least scale above this share of the greatest drops no line: no need to look along each


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Family:
    """Parallel lines at `angle_rad` (counter-clockwise from sheet right); line k lies at k * gap_mm across.

    is_even : the scale changes so little over the art that every line is present everywhere.
    """

    layout: Layout
    pitch_mm: float
    angle_rad: float
    gap_mm: float
    is_even: bool = False

    @property
    def along(self) -> Floats:
        """Unit vector along the lines."""
        return np.array([np.cos(self.angle_rad), np.sin(self.angle_rad)])

    @property
    def across(self) -> Floats:
        """Unit vector across them."""
        return np.array([-np.sin(self.angle_rad), np.cos(self.angle_rad)])

    @classmethod
    def over(cls, layout: Layout, pitch_mm: float, angle_rad: float, samples: Floats) -> "Family":
        """The family whose gap suits the greatest scale at `samples` (n, 2), sheet points of the art."""
        unit = cls(layout=layout, pitch_mm=pitch_mm, angle_rad=angle_rad, gap_mm=pitch_mm)
        scale = unit.scale(samples)
        greatest = max(float(scale.max()), unit.peak(samples[np.argsort(-np.round(scale, 9), kind="stable")[:PEAKS]]))
        return cls(
            layout=layout,
            pitch_mm=pitch_mm,
            angle_rad=angle_rad,
            gap_mm=pitch_mm / (greatest * (1.0 + MARGIN)),
            is_even=bool(scale.min() > NEARLY_HALF * greatest),
        )

    def peak(self, samples: Floats) -> float:
        """The greatest scale in a fine net about each of `samples`, as far as the layout holds it."""
        side = np.linspace(-CLOSER_MM, CLOSER_MM, 9)
        net = np.stack(np.meshgrid(side, side), axis=-1).reshape(1, -1, 2)
        uv = (samples[:, None, :] + net).reshape(-1, 2)
        return float(self.scale(uv[self.layout.holds(uv)]).max(initial=0.0))

    def scale(self, uv_mm: Floats) -> Floats:
        """(n,) distance on the skin between neighbours per sheet mm across: area over length, sqrt(EG - F2) / |t|."""
        E, F, G = self.layout.tensor(uv_mm).T
        a, b = self.along
        return np.sqrt(E * G - F * F) / np.sqrt(E * a * a + 2.0 * F * a * b + G * b * b)

    def points(self, line: Ints, at: Floats) -> Floats:
        """(n, 2) the place `at` mm along line `line`."""
        return at[:, None] * self.along + (line * self.gap_mm)[:, None] * self.across

    def present(self, line: Ints, start: Floats, stop: Floats) -> tuple[Ints, Floats, Floats]:
        """Cut intervals [start, stop] of lines to where the line is present: index of the interval, start, stop."""
        if self.is_even:
            return np.arange(len(line), dtype=np.int64), start, stop
        look = max(LOOK_MM, float((stop - start).sum()) / MOST_LOOKS)
        count = np.maximum(2, np.ceil((stop - start) / look).astype(np.int64) + 1)
        i = np.repeat(np.arange(len(line)), count)
        m = spread(0, count)
        step = (stop - start) / (count - 1)
        at = start[i] + step[i] * m
        on = _rank(line[i]) >= self._level(self.points(line[i], at))
        first = on & (np.concatenate([[True], ~on[:-1]]) | (m == 0))
        last = on & (np.concatenate([~on[1:], [True]]) | (m == count[i] - 1))
        a, b = np.flatnonzero(first), np.flatnonzero(last)
        # A line starts a sample before the first place that needs it: never a distance over the pitch.
        begin = at[a] - np.where(m[a] > 0, step[i[a]], 0.0)
        end = at[b] + np.where(m[b] < count[i[b]] - 1, step[i[b]], 0.0)
        return i[a], begin, end

    def _level(self, uv: Floats) -> Ints:
        """(n,) how often the family is halved at each point."""
        here = self.scale(uv)
        worst = here.copy()
        room = np.maximum(self.pitch_mm / (self.gap_mm * here), 1.0)
        level = np.floor(np.log2(room) + 1e-9).astype(np.int64)
        for side in (-1.0, -0.5, 0.5, 1.0):
            aside = uv + (side * self.gap_mm * 2.0**level)[:, None] * self.across
            held = self.layout.holds(aside)
            if held.any():
                worst[held] = np.maximum(worst[held], self.scale(aside[held]))
        over = self.gap_mm * 2.0**level * 0.5 * (here + worst) > self.pitch_mm * (1.0 + 1e-9)
        return np.maximum(level - over, 0)


def _rank(line: Ints) -> Ints:
    """Largest j with 2**j dividing the line's number."""
    k = np.abs(line)
    low = np.maximum(k & -k, 1)
    return np.where(k == 0, ALL, np.log2(low).astype(np.int64))
