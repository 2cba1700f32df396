"""Outlines: subpaths of lines and cubic curves, and their flattening to points under an affine."""

import math

import numpy as np
from fontTools.misc.transform import Transform

from engine.artwork.flattening import flatten
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.units import TURN_RAD

__all__ = ["Outline"]

Point = tuple[float, float]


class Outline:
    """A pen that keeps its path as cubics, user units; a straight line is a cubic of one step."""

    def __init__(self) -> None:
        self._runs: list[Floats] = []  # (k, 9) each: x0 y0 x1 y1 x2 y2 x3 y3, 1 where straight
        self._cubics: list[tuple[float, ...]] = []  # the same, drawn since the last run
        self._drawn = 0
        self._starts: list[int] = []
        self._closed: list[bool] = []
        self.at: Point = (0.0, 0.0)
        self._first: Point = (0.0, 0.0)
        self._open = False

    @property
    def is_drawn(self) -> bool:
        """Whether anything was drawn since it was made."""
        return bool(self._starts)

    def move(self, to: Point) -> None:
        """Begin a subpath."""
        self.at = self._first = to
        self._open = False

    def line(self, to: Point) -> None:
        """Draw a straight line."""
        self._draw((*self.at, *self.at, *to, *to, 1.0))
        self.at = to

    def lines(self, to: Floats) -> None:
        """Draw straight lines to one point (n, 2) after the other."""
        points = to.tolist()
        self.line((points[0][0], points[0][1]))
        self._end_run()
        self._runs.append(np.column_stack([to[:-1], to[:-1], to[1:], to[1:], np.ones(len(to) - 1)]))
        self._drawn += len(to) - 1
        self.at = points[-1][0], points[-1][1]

    def cubic(self, a: Point, b: Point, to: Point) -> None:
        """Draw a cubic with control points a and b."""
        self._draw((*self.at, *a, *b, *to, 0.0))
        self.at = to

    def quadratic(self, a: Point, to: Point) -> None:
        """Draw a quadratic with control point a, as the cubic that is the same curve."""
        (x0, y0), (x1, y1), (x2, y2) = self.at, a, to
        self.cubic(
            (x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3), (x2 + (x1 - x2) * 2 / 3, y2 + (y1 - y2) * 2 / 3), to
        )

    def close(self) -> None:
        """Draw back to where the subpath began; a further stroke begins there anew."""
        if self.at != self._first or not self._open:
            self.line(self._first)
        self._closed[-1] = True
        self._open = False

    def arc(self, rx: float, ry: float, turn_deg: float, large: bool, sweep: bool, to: Point) -> None:
        """Draw an elliptic arc in steps of 45 degrees at most: a cubic then strays 4.2e-6 of the radius.

        Source: SVG 2, appendix B.2.4 and B.2.5.
        """
        (x0, y0), (x1, y1) = self.at, to
        rx, ry = abs(rx), abs(ry)
        if self.at == to:
            return
        if rx == 0 or ry == 0:
            self.line(to)
            return
        c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        dx, dy = (x0 - x1) / 2, (y0 - y1) / 2
        u, v = (c * dx + s * dy) / rx, (-s * dx + c * dy) / ry
        size = u * u + v * v
        if size > 1:  # too small to reach: grown until it does
            grow = math.sqrt(size)
            rx, ry, u, v, size = rx * grow, ry * grow, u / grow, v / grow, 1.0
        k = math.sqrt(max(0.0, 1 / size - 1)) * (-1 if large == sweep else 1) if size else 0.0
        cu, cv = k * v, -k * u  # the centre, seen from the chord's middle on the unit circle
        a0, a1 = math.atan2(v - cv, u - cu), math.atan2(-v - cv, -u - cu)
        span = (a1 - a0) % TURN_RAD if sweep else -((a0 - a1) % TURN_RAD)
        mx, my = (x0 + x1) / 2 + c * rx * cu - s * ry * cv, (y0 + y1) / 2 + s * rx * cu + c * ry * cv

        def put(p: float, q: float) -> Point:
            return mx + c * rx * p - s * ry * q, my + s * rx * p + c * ry * q

        n = max(1, math.ceil(abs(span) / (math.pi / 4) - 1e-9))
        step = span / n
        h = 4 / 3 * math.tan(step / 4)
        for i in range(n):
            a, b = a0 + i * step, a0 + (i + 1) * step
            ca, sa, cb, sb = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
            end = to if i == n - 1 else put(cb, sb)
            self.cubic(put(ca - h * sa, sa + h * ca), put(cb + h * sb, sb - h * cb), end)

    def _draw(self, cubic: tuple[float, ...]) -> None:
        if not self._open:
            self._starts.append(self._drawn)
            self._closed.append(False)
            self._open = True
        self._cubics.append(cubic)
        self._drawn += 1

    def _end_run(self) -> None:
        if self._cubics:
            self._runs.append(np.array(self._cubics))
            self._cubics = []

    def flatten(self, matrix: Transform, chord: float, most: int, where: str) -> tuple[Floats, Ints, Bools]:
        """(points (p, 2), offsets (m + 1,), closed (m,)) of all subpaths, no further than `chord` from the curves.

        Raises
        ------
        ArtworkError for a coordinate that is not finite or far out; TooBigError beyond `most` points.
        """
        self._end_run()
        if not self._runs:
            return np.zeros((0, 2)), np.zeros(1, np.int64), np.zeros(0, np.bool_)
        table = np.concatenate(self._runs)
        control = table[:, :8].reshape(-1, 4, 2) @ np.array([[matrix[0], matrix[1]], [matrix[2], matrix[3]]])
        control = control + np.array([matrix[4], matrix[5]])
        points, offsets = flatten(control, table[:, 8] == 1, np.array(self._starts), chord, most, where)
        return points, offsets, np.array(self._closed)
