"""How long the machine takes: an exact look-ahead over straight moves with limits of speed and acceleration per axis.

Takes the places of the moves' ends in axis units, the time each move is asked to take (or that it is a rapid), and the
machine's limits. Gives `Motion`: speeds at every junction and inside every move, and times. Refuses arrays that do not
fit each other. The controller model: constant acceleration along the path, all axes together, the corner slowed by
junction deviation, junction speed never above either neighbour's own.
Method: one pass forward and one backward over v**2 at the junctions: exact.
"""

from dataclasses import dataclass
from math import degrees, inf, isnan, radians, sqrt

import numpy as np

from engine.kernel.arrays import Bytes8, Floats
from engine.kernel.compiled import compiled
from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine.profile import Profile

__all__ = ["Limits", "Motion", "corner_speed", "limits_of", "look_ahead", "path_motion"]

_NO_LIMIT = 1e7  # mm/s2 or deg/s2: an axis of unknown acceleration, beyond any machine's
_ALONG = 1e-12  # a direction cosine below this asks nothing of its axis
_STILL_MM = 1e-9  # a tip that moves less stands still
_STRAIGHT = 1e-9  # a change of a unit direction below this is none


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Per axis (axial, rotary, radial): greatest speed (mm/s, deg/s, mm/s) and acceleration (per s2); None = no limit.

    corner_mm : permitted deviation at a corner; 0 stops at every corner (exact stop, G61.1).
    """

    speed: tuple[float | None, float | None, float | None] = (25.0, 60.0, 10.0)
    accel: tuple[float | None, float | None, float | None] = (200.0, 720.0, 100.0)
    corner_mm: float = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """n moves. length_mm : tip's way over the blank (of the axes where the tip stands still: mm or deg alike).

    enter, peak, leave : (n,) length_mm per s at the ends and the greatest between. accel : (n,) length_mm / s2.
    seconds : (n,). A move without length takes no time.
    """

    length_mm: Floats
    enter: Floats
    peak: Floats
    leave: Floats
    accel: Floats
    seconds: Floats

    def split(self, kind: Bytes8) -> dict[str, float]:
        """Seconds by what a move does: cutting, plunging, travel (travel holds lifts and rapids)."""
        group = np.array([0, 1, 2, 2])[kind]
        sums = np.bincount(group, weights=self.seconds, minlength=3)
        return dict(zip(("cutting", "plunging", "travel"), sums.tolist(), strict=True))


@compiled
def corner_speed(accel: float, cos_turn: float, corner_mm: float) -> float:
    """mm/s through a corner: v = sqrt(a rho), rho = d s / (1 - s), s = sin(angle between the legs / 2).

    cos_turn : cosine of the change of direction (1 straight on, -1 back): s = sqrt((1 + cos_turn) / 2).
    """
    s = sqrt(min(max(0.5 * (1.0 + cos_turn), 0.0), 1.0))
    return sqrt(accel * corner_mm * s / (1.0 - s)) if s < 1.0 else inf


def look_ahead(places: Floats, r_mm: Floats, asked_s: Floats, limits: Limits) -> Motion:
    """The fastest motion through n + 1 places that keeps every limit; at rest at both ends.

    places : (n + 1, 3) axial mm, rotary deg, radial mm. r_mm : (n + 1,) tip's distance from the axis.
    asked_s : (n,) time of each move at constant feed; NaN for a rapid (as fast as the axes allow).
    """
    n = len(asked_s)
    if places.shape != (n + 1, 3) or r_mm.shape != (n + 1,):
        raise ProgramError(f"{places.shape} places and {r_mm.shape} radii for {n} moves", where="timing")
    top = np.array([np.inf if most is None else most for most in limits.speed])
    pull = np.array([most or _NO_LIMIT for most in limits.accel])
    length, speed, accel = np.zeros(n), np.zeros(n), np.full(n, _NO_LIMIT)
    _moves(places, r_mm, asked_s, (top, pull), (length, speed, accel))
    enter, leave, peak, seconds = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    _corners(places, r_mm, length, pull, limits.corner_mm, enter)
    _passes((length, speed, accel), enter, leave)
    _inside((length, speed, accel), enter, leave, peak, seconds)
    return Motion(length_mm=length, enter=enter, peak=peak, leave=leave, accel=accel, seconds=seconds)


_Moves = tuple[Floats, Floats, Floats]  # (n,) each: length, speed and acceleration, at most, of every move


@compiled
def _moves(places: Floats, r_mm: Floats, asked_s: Floats, limits: tuple[Floats, Floats], moves: _Moves) -> None:
    """Fill the way of each move, and the most that its axes and the time it is asked to take allow.

    limits : (3,) speed and acceleration of each axis. A move that goes nowhere is left as it is.
    """
    length, speed, accel = moves
    top, pull = limits
    for i in range(len(length)):
        dx, dr = places[i + 1, 0] - places[i, 0], places[i + 1, 2] - places[i, 2]
        turned = places[i + 1, 1] - places[i, 1]
        around = 0.5 * (r_mm[i + 1] + r_mm[i]) * radians(turned)
        way = sqrt(dx * dx + dr * dr + around * around)
        if way < _STILL_MM:
            way = abs(turned)  # turning under a tip on the axis: counted in degrees
        length[i] = way
        if way == 0.0:
            continue
        speed[i], accel[i] = inf, inf
        for k in range(3):
            share = abs(places[i + 1, k] - places[i, k]) / way  # axis units per mm of way
            if share > _ALONG:
                speed[i] = min(speed[i], top[k] / share)
                accel[i] = min(accel[i], pull[k] / share)
        if not isnan(asked_s[i]):
            speed[i] = min(speed[i], way / asked_s[i])


@compiled
def _corners(places: Floats, r_mm: Floats, length: Floats, pull: Floats, corner_mm: float, enter: Floats) -> None:
    """Fill enter (n,) with the most that the corner before each move allows; the first that goes anywhere has none."""
    last = -1
    for i in range(len(length)):
        if length[i] == 0.0:
            continue
        if last >= 0:
            into, out = _way(places, last, r_mm[i]), _way(places, i, r_mm[i])
            enter[i] = _through(into, out, r_mm[i], pull, corner_mm)
        last = i


@compiled
def _way(places: Floats, i: int, r: float) -> tuple[float, float, float]:
    """Unit direction of a move, axial, around at r mm, radial; nothing at all where it turns on the axis."""
    x, z = places[i + 1, 0] - places[i, 0], places[i + 1, 2] - places[i, 2]
    around = r * radians(places[i + 1, 1] - places[i, 1])
    size = sqrt(x * x + around * around + z * z)
    if size == 0.0:
        return 0.0, 0.0, 0.0
    return x / size, around / size, z / size


@compiled
def _through(
    into: tuple[float, float, float], out: tuple[float, float, float], r: float, pull: Floats, corner_mm: float
) -> float:
    """Speed through the corner between two directions, where each axis takes its share of the change."""
    bend = (out[0] - into[0], out[1] - into[1], out[2] - into[2])
    size = sqrt(bend[0] * bend[0] + bend[1] * bend[1] + bend[2] * bend[2])
    if size < _STRAIGHT:
        return inf
    accel = _NO_LIMIT
    for k in range(3):
        part = abs(bend[k]) / size
        if k == 1:
            part = degrees(part) / max(r, 1e-9)
        if part > _ALONG:
            accel = min(accel, pull[k] / part)
    known = into != (0.0, 0.0, 0.0) and out != (0.0, 0.0, 0.0)
    # Exact for unit vectors, also when nearly straight.
    return corner_speed(accel, 1.0 - 0.5 * size * size if known else -1.0, corner_mm)


@compiled
def _passes(moves: _Moves, enter: Floats, leave: Floats) -> None:
    """Turn the corners' speeds into those at which every move can begin and end: forward as fast as it can get, then
    backward as fast as it can still stop from; at rest at both ends.
    """
    length, speed, accel = moves
    reached = 0.0  # of the last place, squared
    last = -1
    for i in range(len(length)):
        if length[i] == 0.0:
            continue
        begins = 0.0 if last < 0 else min(enter[i], speed[last], speed[i])
        reached = min(begins * begins, reached)
        enter[i] = reached
        reached += 2.0 * accel[i] * length[i]
        last = i
    reached = 0.0
    for i in range(len(length) - 1, -1, -1):
        if length[i] == 0.0:
            continue
        leave[i] = sqrt(reached)
        reached = min(enter[i], reached + 2.0 * accel[i] * length[i])
        enter[i] = sqrt(reached)


@compiled
def _inside(moves: _Moves, enter: Floats, leave: Floats, peak: Floats, seconds: Floats) -> None:
    """Greatest speed within each move and its time: trapezoid, or triangle where it is short (textbook kinematics)."""
    length, speed, accel = moves
    for i in range(len(length)):
        if length[i] == 0.0:
            continue
        squares = enter[i] * enter[i] + leave[i] * leave[i]
        top = max(min(speed[i], sqrt(0.5 * squares + accel[i] * length[i])), enter[i], leave[i])
        cruise = max(length[i] - (2.0 * top * top - squares) / (2.0 * accel[i]), 0.0)
        peak[i] = top
        seconds[i] = (2.0 * top - enter[i] - leave[i]) / accel[i] + cruise / top


def path_motion(path: Path, limits: Limits) -> Motion:
    """The motion of a Path from its first row on; entry i belongs to row i + 1."""
    places = np.stack([path.x_mm, np.degrees(path.theta_rad), path.r_mm], axis=1)
    d, middle = np.diff(places, axis=0), 0.5 * (path.r_mm[1:] + path.r_mm[:-1])
    way = np.sqrt(d[:, 0] ** 2 + d[:, 2] ** 2 + (middle * np.radians(d[:, 1])) ** 2)
    rapid = path.kind[1:] == Kind.TRAVEL
    with np.errstate(divide="ignore", invalid="ignore"):
        asked = np.where(rapid, np.nan, 60.0 * way / path.feed_mm_min[1:])
    return look_ahead(places, path.r_mm, asked, limits)


def limits_of(machine: Profile) -> Limits:
    """The axis limits of a machine profile, per second."""
    axes = (machine.axial, machine.rotary, machine.radial)
    speed = [None if axis.rapid_per_min is None else axis.rapid_per_min / 60.0 for axis in axes]
    accel = [axis.accel_per_s2 for axis in axes]
    return Limits(speed=(speed[0], speed[1], speed[2]), accel=(accel[0], accel[1], accel[2]))
