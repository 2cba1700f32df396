"""What a hop costs: the time of the slower axis in whole ticks, so that sums are exact on every machine.

Angles are held as 1 / 2**32 of a turn from the start, so that turning the work changes nothing; x as 0.01 um.
Source: constant-acceleration kinematics (textbook).
"""

from dataclasses import dataclass
from math import inf, isfinite

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.types import Array, Law

__all__ = [
    "TURN_TICKS",
    "X_TICKS_PER_MM",
    "Axes",
    "axis_ticks",
    "hop",
    "hop_ticks",
    "hops",
    "places",
    "tour_ticks",
    "travel_ticks",
]

TURN_TICKS = float(2**32)  # ticks of angle in a turn: a power of two, so that wrapping is exact
X_TICKS_PER_MM = 1e5  # 0.01 um: far below any carriage's resolution


@dataclass(frozen=True, slots=True, kw_only=True)
class Axes:
    """What the carriage and the rotary can do between strokes.

    An axis moves d in d/v + v/a (trapezoid) when d >= v*v/a, else in 2*sqrt(d/a) (triangle); a = inf drops the ramps.
    Both move at once, so the slower one counts. `period_deg` = inf makes a plane of the cylinder. `tick_s` is the unit
    in which costs are whole. Lift and plunge take the same time on every hop and so say nothing about the order.
    """

    x_speed_mm_s: float
    theta_speed_deg_s: float
    x_accel_mm_s2: float = inf
    theta_accel_deg_s2: float = inf
    period_deg: float = 360.0
    tick_s: float = 1e-6

    def __post_init__(self) -> None:
        rates = (
            self.x_speed_mm_s,
            self.theta_speed_deg_s,
            self.x_accel_mm_s2,
            self.theta_accel_deg_s2,
            self.period_deg,
            self.tick_s,
        )
        if not all(rate > 0 for rate in rates) or not (
            isfinite(self.x_speed_mm_s) and isfinite(self.theta_speed_deg_s)
        ):
            raise ValueError("speeds, accelerations, period and tick must be positive, speeds finite")

    @property
    def theta_ticks_per_deg(self) -> float:
        """Angle ticks in a degree; on a plane as fine as the carriage's."""
        return TURN_TICKS / self.period_deg if isfinite(self.period_deg) else X_TICKS_PER_MM

    def constants(self) -> tuple[float, ...]:
        """The law as plain numbers for the compiled loops (see `hop`)."""
        numbers: list[float] = [TURN_TICKS if isfinite(self.period_deg) else inf]
        for speed, accel, unit in (
            (self.x_speed_mm_s, self.x_accel_mm_s2, X_TICKS_PER_MM),
            (self.theta_speed_deg_s, self.theta_accel_deg_s2, self.theta_ticks_per_deg),
        ):
            knee = 0.0 if accel == inf else speed * speed / accel * unit
            ramp = 0.0 if accel == inf else speed / accel / self.tick_s
            square = 0.0 if accel == inf else 4.0 / (accel * unit) / self.tick_s**2
            numbers += [1.0 / (speed * unit) / self.tick_s, ramp, knee, square]
        return tuple(numbers)


@compiled
def axis_ticks(distance: float, per_tick: float, ramp: float, knee: float, square: float) -> float:
    """Ticks of one axis: trapezoid from the knee on, triangle below it; `ramp` and `knee` are 0 without ramps."""
    return distance * per_tick + ramp if distance >= knee else np.sqrt(distance * square)


@compiled
def _between(law: Law, dx: float, dt: float) -> int:
    """Whole ticks of a hop by so many ticks of x and angle. Numbers alone: no array is counted in and out of a call."""
    dt = min(dt, law[0] - dt)
    if not dx < inf:
        return 0
    if dx < law[3] and dt < law[7]:  # two triangles: the longer root is the root of the greater
        return int(np.sqrt(max(dx * law[4], dt * law[8])) + 0.5)
    return int(
        max(axis_ticks(dx, law[1], law[2], law[3], law[4]), axis_ticks(dt, law[5], law[6], law[7], law[8])) + 0.5
    )


@compiled
def hop(place: Array, law: Law, a: int, b: int) -> int:
    """Whole ticks from end a to end b; nothing where one of them is the depot's, which has no place (its x is inf)."""
    return _between(law, abs(place[a, 0] - place[b, 0]), abs(place[a, 1] - place[b, 1]))


@compiled
def hops(place: Array, law: Law, a: Array, b: Array) -> Array:
    """Ticks of many hops, end a[i] to end b[i]."""
    out = np.zeros(a.size, np.int64)
    for i in range(a.size):
        out[i] = hop(place, law, a[i], b[i])
    return out


@compiled
def tour_ticks(place: Array, law: Law, tour: Array) -> int:
    """Ticks of the closed tour of entry ends."""
    total = 0
    for i in range(tour.size):
        total += hop(place, law, tour[i] ^ 1, tour[(i + 1) % tour.size])
    return total


def places(ends: Array, axes: Axes) -> Array:
    """Ends and depot as (2n + 2, 2): x ticks, and angle ticks from the first in [0, turn); the depot has no place, its
    x is inf: the order may begin and end anywhere.
    """
    n = len(ends)
    place = np.full((2 * n + 2, 2), (inf, 0.0))
    place[:-2] = ends.reshape(-1, 2)
    place[:, 0] = np.rint(place[:, 0] * X_TICKS_PER_MM)
    place[:, 1] = np.rint((place[:, 1] - place[0, 1]) * axes.theta_ticks_per_deg)
    if isfinite(axes.period_deg):
        place[:, 1] = np.mod(place[:, 1], TURN_TICKS)
    return place


def hop_ticks(exits: Array, entries: Array, axes: Axes) -> Array:
    """Ticks of the hops exits[i] -> entries[i], (n, 2) each, by the short way."""
    pairs = np.stack([np.asarray(exits, float), np.asarray(entries, float)], axis=1)
    place = places(pairs, axes)
    return hops(place, axes.constants(), np.arange(0, 2 * len(pairs), 2), np.arange(1, 2 * len(pairs), 2))


def travel_ticks(entries: Array, exits: Array, axes: Axes) -> int:
    """Ticks of all hops of a given order."""
    return int(hop_ticks(exits[:-1], entries[1:], axes).sum()) if len(entries) > 1 else 0
