"""How fast the moves really go: what the machine's acceleration leaves of the feeds that F asks for.

Takes the replay and the machine; gives `Pace` and findings. A controller keeps its axes within their acceleration by
slowing down, so that a program which asks for more is cut slower than it says.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Kind
from engine.machine import Motion, Profile, limits_of, look_ahead
from engine.proof.feeds import NAMES
from engine.proof.replay import Replay
from engine.proof.where import about_move

__all__ = ["Pace", "judge_pace", "pace_of"]

MUCH_LONGER = 1.5  # times what F asks: corners alone cost a fifth on fine art


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pace:
    """ends : (m,) the moves whose end is known. places : (m, 3) there, axial mm, rotary deg, radial mm. motion : of the
    m - 1 ways between them.
    """

    ends: Ints
    places: Floats
    motion: Motion

    @property
    def end_s(self) -> Floats:
        """(m,) when each of those moves ends, from the end of the first."""
        return np.concatenate([np.zeros(min(1, len(self.ends))), np.cumsum(self.motion.seconds)])


def pace_of(replay: Replay, machine: Profile) -> Pace:
    """The fastest motion through the moves that keeps the machine's limits."""
    ends = np.flatnonzero(np.isfinite(replay.end).all(axis=1))
    places = replay.end[ends] * np.array([1.0, np.degrees(1.0), 1.0])
    there = places if len(ends) else np.zeros((1, 3))  # nowhere known is one place, and no way
    motion = look_ahead(there, there[:, 2], replay.seconds[ends[1:]], limits_of(machine))
    return Pace(ends=ends, places=places, motion=motion)


def judge_pace(replay: Replay, pace: Pace, machine: Profile) -> list[Finding]:
    """`slowed-by-acceleration`: the cut takes more than MUCH_LONGER as long as its F words say."""
    moves, motion = pace.ends[1:], pace.motion
    asked = replay.seconds[moves]
    cut = np.flatnonzero((replay.kind[moves] == Kind.CUT) & np.isfinite(asked) & (motion.length_mm > 0))
    if not motion.seconds[cut].sum() > MUCH_LONGER * asked[cut].sum():
        return []
    lost = motion.seconds[cut] - asked[cut]
    axes = machine.axial, machine.rotary, machine.radial
    pull = np.array([axis.accel_per_s2 or np.inf for axis in axes])
    strain = np.abs(np.diff(pace.places, axis=0)[cut]) / pull
    worst = int(np.bincount(strain.argmax(axis=1), np.maximum(lost, 0.0), 3).argmax())
    way = 60.0 * float(motion.length_mm[cut].sum())
    message = (
        f"corners and the machine's acceleration slow the cut to {way / motion.seconds[cut].sum():.3g} mm/min on the "
        f"whole where F asks for {way / asked[cut].sum():.3g}"
    )
    if strain.any():
        message += f", the {NAMES[worst]} axis {axes[worst].letter} the most"
    advice = (
        "a lower feed takes hardly longer and cuts more evenly; does the profile state the axis's own acceleration?"
    )
    move = int(moves[cut[lost.argmax()]])
    return [about_move(replay, move, Severity.NOTE, "slowed-by-acceleration", message, advice)]
