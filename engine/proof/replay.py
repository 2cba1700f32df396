"""The moves of a program as the tip makes them over the blank: axis words turned back into x, theta and r.

Takes the reader's `Moves` and the machine; gives `Replay`. In the machine frame A grows as the tool
goes right-handed about +x over the blank, a reversed axis counts the other way, Z counts from the axis or from the
radius of the touch-off point. Refuses nothing: what is not known is NaN.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.values import Kind
from engine.machine import FeedRule, Profile
from engine.proof.rs274_interpreter import LINEAR, RAPID
from engine.proof.rs274_reader import Moves

__all__ = ["Replay", "replay"]

_RAD = np.pi / 180.0
_CUT, _PLUNGE, _LIFT, _TRAVEL = int(Kind.CUT), int(Kind.PLUNGE), int(Kind.LIFT), int(Kind.TRAVEL)
# Simpson's rule: of the square root of a parabola in r, the tip's way, it is good to 1e-3 in one quarter turn down to
# the axis itself and exact where r is constant (tests/proof/test_replay.py).
_SIMPSON = ((0.0, 1.0 / 6.0), (0.5, 4.0 / 6.0), (1.0, 1.0 / 6.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """n moves, each straight in (x, theta, r) from its start to its end.

    start, end : (n, 3) x_mm, theta_rad (unwrapped), r_mm of the tip; NaN where the program has not yet said.
    words : (n, 3) axial (mm), rotary (deg), radial (mm) words at the end, as the machine's own axes count them.
    rapid : (n,).   seconds : (n,) that the F word asks for, NaN for rapids and moves from an unknown place.
    way_mm : (n,) of the tip over the blank.   spindle : (n,) 1, -1, 0 stopped.   rpm : (n,) S in force,
    NaN before the first.   stroke : (n,) 0 before the first.   line : (n,) from 1.   tool : (n,) which one is in the
    spindle, of those that were handed to the proof, rising.   inverse : (n,) G93 in force.
    known : (n,) both ends are known.
    upright : (n,) straight in or out: neither x nor theta changes, so far as is known.
    kind : (n,) `Kind`: a rapid travels, a feed move straight in plunges, straight out lifts, any other cuts.
    """

    start: Floats
    end: Floats
    words: Floats
    rapid: Bools
    seconds: Floats
    way_mm: Floats
    spindle: NDArray[np.int8]
    rpm: Floats
    stroke: Ints
    line: Ints
    tool: Ints
    inverse: Bools
    known: Bools
    upright: Bools
    kind: Bytes8

    def __len__(self) -> int:
        return len(self.line)

    @property
    def x_mm(self) -> Floats:
        """(n,) at the moves' ends."""
        return self.end[:, 0]

    @property
    def theta_rad(self) -> Floats:
        """(n,) at the moves' ends, unwrapped."""
        return self.end[:, 1]

    @property
    def r_mm(self) -> Floats:
        """(n,) the tip's distance from the axis at the moves' ends."""
        return self.end[:, 2]

    def feed_mm_min(self) -> Floats:
        """(n,) speed of the tip over the blank that F asks for; NaN for rapids."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return 60.0 * self.way_mm / self.seconds

    def upto(self, count: int) -> "Replay":
        """The first `count` moves."""
        return self.part(0, count)

    def part(self, first: int, stop: int) -> "Replay":
        """The moves from `first` up to `stop`."""
        if first == 0 and stop == len(self):
            return self
        return Replay(**{name: getattr(self, name)[first:stop] for name in self.__slots__})


def replay(moves: Moves, machine: Profile, *, zero_r_mm: float, first_tool: int = 0) -> Replay:
    """What `moves` (axes in the order axial, rotary, radial) do over the blank. first_tool : that they begin with."""
    sign = np.array([-1.0 if axis.reversed else 1.0 for axis in (machine.axial, machine.rotary, machine.radial)])
    degrees = 1.0 if machine.mm_per_turn is None else 360.0 / machine.mm_per_turn
    scale = np.array([1.0, degrees, 1.0])
    rapid = moves.motion == RAPID
    start, end, known, upright, kind = _over_blank(moves.start, moves.end, rapid, sign * scale, zero_r_mm)
    return Replay(
        start=start,
        end=end,
        words=moves.end * scale,
        rapid=rapid,
        seconds=_seconds(moves, machine),
        way_mm=way_mm(start, end),
        spindle=moves.spindle,
        rpm=moves.rpm,
        stroke=moves.stroke,
        line=moves.line,
        tool=moves.tool + first_tool if first_tool else moves.tool,
        inverse=moves.inverse,
        known=known,
        upright=upright,
        kind=kind,
    )


@compiled
def _over_blank(
    before: Floats, after: Floats, rapid: Bools, scale: Floats, zero_r: float
) -> tuple[Floats, Floats, Bools, Bools, Bytes8]:
    """Start, end, known, upright and kind of `Replay` from (n, 3) words before and after each move; `scale` (3,) a
    word's mm or degrees.
    """
    start, end = np.zeros_like(before), np.zeros_like(after)
    known, upright = np.ones(len(rapid), np.bool_), np.ones(len(rapid), np.bool_)
    kind = np.zeros(len(rapid), np.uint8)
    for n in range(len(rapid)):
        for words, place in ((before, start), (after, end)):
            place[n, 0] = words[n, 0] * scale[0]
            place[n, 1] = words[n, 1] * scale[1] * _RAD
            place[n, 2] = words[n, 2] * scale[2] + zero_r
        for k in range(3):
            a, b = start[n, k], end[n, k]
            known[n] = known[n] and not (np.isnan(a) or np.isnan(b))
            if k < 2:
                upright[n] = upright[n] and (a == b or (np.isnan(a) and np.isnan(b)))
        if rapid[n]:
            kind[n] = _TRAVEL
        elif upright[n]:
            kind[n] = _PLUNGE if end[n, 2] < start[n, 2] else _LIFT
        else:
            kind[n] = _CUT
    return start, end, known, upright, kind


def _seconds(moves: Moves, machine: Profile) -> Floats:
    """(n,) what the controller makes of F: NISTIR 6556 3.5.19 under G93, else the machine's rule (2.1.2.5 A, B)."""
    mm = machine.mm_per_turn is not None
    linear = np.array([letter in LINEAR or (mm and k == 1) for k, letter in enumerate(moves.axes)])
    return _fed(moves.start, moves.end, moves.feed, moves.inverse, linear, machine.feed_rule is FeedRule.ALL_AXES)


@compiled
def _fed(start: Floats, end: Floats, feed: Floats, inverse: Bools, linear: Bools, all_axes: bool) -> Floats:
    """(n,) s that moves last at their F. all_axes : turns count as linear axes do, else where no linear axis moves."""
    seconds = np.zeros(len(feed))
    for n in range(len(feed)):
        total = straight = turned = 0.0
        for k in range(len(linear)):
            squared = (end[n, k] - start[n, k]) ** 2
            total += squared
            if linear[k]:
                straight += squared
            else:
                turned += squared
        counted = total if all_axes else (straight if straight > 0.0 else turned)
        seconds[n] = 60.0 * (1.0 if inverse[n] else np.sqrt(counted)) / feed[n]
    return seconds


@compiled
def way_mm(start: Floats, end: Floats) -> Floats:
    """(n,) mm: the tip's way over the blank, the integral of sqrt(dx2 + dr2 + (r dtheta)2) with r linear."""
    out = np.zeros(len(start))
    for n in range(len(out)):
        r, dx, dt, dr = start[n, 2], end[n, 0] - start[n, 0], end[n, 1] - start[n, 1], end[n, 2] - start[n, 2]
        straight = dx * dx + dr * dr
        for share, weight in _SIMPSON:
            out[n] += weight * np.sqrt(straight + ((r + share * dr) * dt) ** 2)
    return out
