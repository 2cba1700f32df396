"""How long the machine takes: an exact look-ahead over straight moves with limits of speed and acceleration per axis.

Takes the places of the moves' ends in axis units, the time each move is asked to take (or that it is a rapid), and the
machine's limits. Gives `Motion`: speeds at every junction and inside every move, and times. Refuses arrays that do not
fit each other. The controller model: constant acceleration along the path, all axes together, the corner slowed by
junction deviation, junction speed never above either neighbour's own.
Method: with S = cumsum(2 a L), the forward pass on v**2 is minimum.accumulate(v**2 - S) + S and the backward one its
mirror: exact, no loop over moves.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine.profile import Profile

__all__ = ["Limits", "Motion", "corner_speed", "limits_of", "look_ahead", "path_motion"]

_NO_LIMIT = 1e7  # mm/s2 or deg/s2: an axis of unknown acceleration, beyond any machine's
_ALONG = 1e-12  # a direction cosine below this asks nothing of its axis


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


def corner_speed(accel: Floats, cos_turn: Floats, corner_mm: float) -> Floats:
    """(n,) mm/s through corners: v = sqrt(a rho), rho = d s / (1 - s), s = sin(angle between the legs / 2).

    cos_turn : cosine of the change of direction (1 straight on, -1 back): s = sqrt((1 + cos_turn) / 2).
    """
    s = np.sqrt(np.clip(0.5 * (1.0 + cos_turn), 0.0, 1.0))
    with np.errstate(divide="ignore"):
        return np.sqrt(accel * corner_mm * s / (1.0 - s))


def look_ahead(places: Floats, r_mm: Floats, asked_s: Floats, limits: Limits) -> Motion:
    """The fastest motion through n + 1 places that keeps every limit; at rest at both ends.

    places : (n + 1, 3) axial mm, rotary deg, radial mm. r_mm : (n + 1,) tip's distance from the axis.
    asked_s : (n,) time of each move at constant feed; NaN for a rapid (as fast as the axes allow).
    """
    n = len(asked_s)
    if places.shape != (n + 1, 3) or r_mm.shape != (n + 1,):
        raise ProgramError(f"{places.shape} places and {r_mm.shape} radii for {n} moves", where="timing")
    d = np.diff(places, axis=0)
    turn = np.radians(d[:, 1])
    middle = 0.5 * (r_mm[1:] + r_mm[:-1])
    length = np.sqrt(d[:, 0] ** 2 + d[:, 2] ** 2 + (middle * turn) ** 2)
    still = length < 1e-9
    length = np.where(still, np.abs(d[:, 1]), length)  # turning under a tip on the axis: counted in degrees
    move = length > 0
    share = np.abs(d) / np.where(move, length, 1.0)[:, None]  # axis units per mm of way
    speed = np.full(n, np.inf)
    accel = np.full(n, np.inf)
    for k in range(3):
        top, pull = limits.speed[k] or np.inf, limits.accel[k] or _NO_LIMIT
        used = share[:, k] > _ALONG
        with np.errstate(divide="ignore"):
            speed = np.where(used, np.minimum(speed, top / share[:, k]), speed)
            accel = np.where(used, np.minimum(accel, pull / share[:, k]), accel)
    with np.errstate(divide="ignore", invalid="ignore"):
        asked = length / asked_s
    speed = np.where(np.isnan(asked_s), speed, np.minimum(speed, asked))
    del share  # of a long program these arrays are what its proof needs the most room for
    speed, accel = np.where(move, speed, 0.0), np.where(move, accel, _NO_LIMIT)
    live = np.flatnonzero(move)
    enter, leave = np.zeros(n), np.zeros(n)
    v = _junctions(d[live], r_mm, live, length[live], speed[live], accel[live], limits)
    enter[live], leave[live] = v[:-1], v[1:]
    peak, seconds = _inside(length, enter, leave, speed, accel)
    return Motion(
        length_mm=length, enter=enter, peak=peak, leave=leave, accel=accel, seconds=np.where(move, seconds, 0.0)
    )


def _junctions(
    d: Floats, r_mm: Floats, live: Ints, length: Floats, speed: Floats, accel: Floats, limits: Limits
) -> Floats:
    """(m + 1,) speed at both ends of m moves in a row."""
    m = len(d)
    if not m:
        return np.zeros(1)
    r_here = r_mm[live[1:]]  # radius at each inner junction
    turn = np.radians(d[:, 1])
    into = np.stack([d[:-1, 0], r_here * turn[:-1], d[:-1, 2]], axis=1)
    out = np.stack([d[1:, 0], r_here * turn[1:], d[1:, 2]], axis=1)
    size_in, size_out = np.linalg.norm(into, axis=1), np.linalg.norm(out, axis=1)
    known = (size_in > 0) & (size_out > 0)
    into /= np.where(known, size_in, 1.0)[:, None]
    out /= np.where(known, size_out, 1.0)[:, None]
    bend = np.subtract(out, into, out=out)
    del into
    size = np.linalg.norm(bend, axis=1)
    cos_turn = np.where(known, 1.0 - 0.5 * size * size, -1.0)  # exact for unit vectors, also when nearly straight
    pull = np.full(m - 1, np.inf)
    for k in range(3):
        most = limits.accel[k] or _NO_LIMIT
        part = np.abs(bend[:, k]) / np.where(size > 0, size, 1.0)
        if k == 1:
            part = part * np.degrees(1.0) / np.maximum(r_here, 1e-9)
        with np.errstate(divide="ignore"):
            pull = np.where(part > _ALONG, np.minimum(pull, most / part), pull)
    corner = np.where(size < 1e-9, np.inf, corner_speed(np.minimum(pull, _NO_LIMIT), cos_turn, limits.corner_mm))
    cap = np.zeros(m + 1)
    cap[1:-1] = np.minimum(np.minimum(speed[1:], speed[:-1]), corner) ** 2
    gain = 2.0 * accel * length
    total = np.concatenate([[0.0], np.cumsum(gain)])
    w = np.minimum.accumulate(cap - total) + total
    left = total[-1] - total
    w = np.minimum.accumulate((w - left)[::-1])[::-1] + left
    return np.sqrt(np.clip(w, 0.0, cap))


def _inside(length: Floats, enter: Floats, leave: Floats, speed: Floats, accel: Floats) -> tuple[Floats, Floats]:
    """Greatest speed within each move and its time: trapezoid, or triangle where it is short (textbook kinematics)."""
    peak = np.minimum(speed, np.sqrt(0.5 * (enter**2 + leave**2) + accel * length))
    peak = np.maximum(peak, np.maximum(enter, leave))
    ramps = (2.0 * peak**2 - enter**2 - leave**2) / (2.0 * accel)
    cruise = np.maximum(length - ramps, 0.0)
    return peak, (2.0 * peak - enter - leave) / accel + cruise / np.where(peak > 0, peak, 1.0)


def path_motion(path: Path, limits: Limits) -> Motion:
    """The motion of a Path from its first row on; entry i belongs to row i + 1."""
    places = np.stack([path.x_mm, np.degrees(path.theta_rad), path.r_mm], axis=1)
    d, middle = np.diff(places, axis=0), 0.5 * (path.r_mm[1:] + path.r_mm[:-1])
    way = np.sqrt(d[:, 0] ** 2 + d[:, 2] ** 2 + (middle * np.radians(d[:, 1])) ** 2)
    rapid = path.kind[1:] == Kind.TRAVEL
    with np.errstate(divide="ignore", invalid="ignore"):
        asked = np.where(rapid, np.nan, 60.0 * way / path.feed_mm_min[1:])
    return look_ahead(places, path.r_mm, asked, limits)


def limits_of(machine: Profile, *, corner_mm: float = 0.01) -> Limits:
    """The axis limits of a machine profile, per second."""
    axes = (machine.axial, machine.rotary, machine.radial)
    speed = [None if axis.rapid_per_min is None else axis.rapid_per_min / 60.0 for axis in axes]
    accel = [axis.accel_per_s2 for axis in axes]
    return Limits(speed=(speed[0], speed[1], speed[2]), accel=(accel[0], accel[1], accel[2]), corner_mm=corner_mm)
