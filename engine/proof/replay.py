"""The moves of a program as the tip makes them over the blank: axis words turned back into x, theta and r.

Takes the reader's `Moves` and the machine; gives `Replay`. In the machine frame A grows as the tool
goes right-handed about +x over the blank, a reversed axis counts the other way, Z counts from the axis or from the
radius of the touch-off point. Refuses nothing: what is not known is NaN.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints
from engine.kernel.values import Kind
from engine.machine import FeedRule, Profile
from engine.proof.rs274_interpreter import LINEAR, RAPID
from engine.proof.rs274_reader import Moves

__all__ = ["Replay", "replay"]

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
    to_frame = np.array([1.0, np.pi / 180.0, 1.0])
    zero = np.array([0.0, 0.0, zero_r_mm])
    start = moves.start * (sign * scale) * to_frame + zero
    end = moves.end * (sign * scale) * to_frame + zero
    rapid = moves.motion == RAPID
    still = (start == end) | (np.isnan(start) & np.isnan(end))
    upright = still[:, 0] & still[:, 1]
    fed = np.where(upright, np.where(end[:, 2] < start[:, 2], Kind.PLUNGE, Kind.LIFT), Kind.CUT)
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
        known=~(np.isnan(start) | np.isnan(end)).any(axis=1),
        upright=upright,
        kind=np.where(rapid, Kind.TRAVEL, fed).astype(np.uint8),
    )


def _seconds(moves: Moves, machine: Profile) -> Floats:
    """(n,) what the controller makes of F: NISTIR 6556 3.5.19 under G93, else the machine's rule (2.1.2.5 A, B)."""
    change = moves.end - moves.start
    mm = machine.mm_per_turn is not None
    linear = np.array([letter in LINEAR or (mm and k == 1) for k, letter in enumerate(moves.axes)])
    if machine.feed_rule is FeedRule.ALL_AXES:
        counted = np.sqrt((change**2).sum(axis=1))
    else:
        straight = np.sqrt((change[:, linear] ** 2).sum(axis=1))
        counted = np.where(straight > 0, straight, np.sqrt((change[:, ~linear] ** 2).sum(axis=1)))
    return 60.0 * np.where(moves.inverse, 1.0, counted) / moves.feed


def way_mm(start: Floats, end: Floats) -> Floats:
    """(n,) mm: the tip's way over the blank, the integral of sqrt(dx2 + dr2 + (r dtheta)2) with r linear."""
    dx, dt, dr = (end - start).T
    straight = dx * dx + dr * dr
    total = np.zeros(len(start))
    for share, weight in _SIMPSON:
        total += weight * np.sqrt(straight + ((start[:, 2] + share * dr) * dt) ** 2)
    return total
