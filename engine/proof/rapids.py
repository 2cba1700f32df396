"""Whether the tool stays clear where it must: sideways rapids, rapids straight in, programs that are to touch nothing.

Takes the replay and its heights over the skin; gives findings. Heights are of the tip over the place where the tool's
whole form would touch. Of a rapid from an unknown place the way is not known: it must run over the whole blank.
"""

import numpy as np

from engine.kernel.findings import Finding, Severity
from engine.machine import Profile
from engine.proof.clearance import GRACE_MM, Heights
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_idle", "judge_rapids", "judge_start"]

HIGHER = "lift higher before going sideways"


def grace_mm(machine: Profile) -> float:
    """What the map and a rounded last digit may be wrong by; the writer makes up for coarser words itself."""
    return GRACE_MM + min(2.0 * 10.0**-machine.decimals, GRACE_MM)


def judge_rapids(replay: Replay, heights: Heights, machine: Profile) -> list[Finding]:
    """`rapid-too-low` and `rapid-below-approach`."""
    found = []
    grace = grace_mm(machine)
    known, upright = replay.rapid & replay.known, replay.upright
    least = heights.least_mm
    bad = known & ~upright & (least < machine.clearance_mm - grace)
    if bad.any():
        move, count = worst(bad, -least)
        share = float(heights.share[move])
        message = f"a sideways rapid {_height(least[move])}, {machine.clearance_mm:g} mm is asked{more(count)}"
        found.append(about_move(replay, move, Severity.ERROR, "rapid-too-low", message, HIGHER, share))
    low = known & upright & (least < machine.approach_mm - grace)
    down = replay.end[:, 2] < replay.start[:, 2]
    for bad, severity, word in ((low & down, Severity.ERROR, "down"), (low & ~down, Severity.WARNING, "up")):
        if bad.any():
            move, count = worst(bad, -least)
            share = float(heights.share[move])
            message = (
                f"a rapid straight {word} {_height(least[move])}, "
                f"it may come to {machine.approach_mm:g} mm over the skin{more(count)}"
            )
            advice = "feed from the approach height on"
            found.append(about_move(replay, move, severity, "rapid-below-approach", message, advice, share))
    return found


def _height(least_mm: float) -> str:
    if least_mm < 0:
        return f"cuts {-least_mm:.3f} mm deep into the skin"
    return f"runs {least_mm:.3f} mm over the skin"


def judge_start(replay: Replay, machine: Profile, greatest_r_mm: float) -> list[Finding]:
    """Moves from an unknown place: `unknown-start` for feeds, `rapid-too-low` for rapids not over all that stands
    there, blank and hardware, at most `greatest_r_mm` from the axis.
    """
    found = []
    unknown = ~replay.known
    fed = unknown & ~replay.rapid
    if fed.any():
        move = int(fed.argmax())
        message = "a feed move from a place that the program has not stated"
        advice = "go to a stated place by rapids first, radial first"
        found.append(about_move(replay, move, Severity.ERROR, "unknown-start", message, advice))
    r = np.fmin(replay.start[:, 2], replay.end[:, 2])
    blind = np.isnan(replay.start[:, 2])
    least = np.where(blind | np.isnan(r), -np.inf, r - greatest_r_mm)
    # Straight up or down at an unknown place, it is where it ends that must be clear of all.
    least = np.where(replay.upright & ~np.isnan(replay.end[:, 2]), replay.end[:, 2] - greatest_r_mm, least)
    bad = unknown & replay.rapid & (least < machine.clearance_mm - grace_mm(machine))
    if bad.any():
        move = int(bad.argmax())
        message = (
            "a rapid at a place that the program has not stated does not run clear of the whole blank and its holding"
        )
        advice = f"lift to {greatest_r_mm + machine.clearance_mm:.3f} mm from the axis first, alone on its line"
        found.append(about_move(replay, move, Severity.ERROR, "rapid-too-low", message, advice))
    return found


def judge_idle(replay: Replay, heights: Heights, machine: Profile) -> list[Finding]:
    """`too-low`, `spindle-on`: what is to touch nothing comes below the approach height, or turns the spindle."""
    found = []
    bad = replay.known & (heights.least_mm < machine.approach_mm - grace_mm(machine))
    if bad.any():
        move, count = worst(bad, -heights.least_mm)
        message = (
            f"the tool {_height(heights.least_mm[move])} where nothing is to be touched, "
            f"{machine.approach_mm:g} mm is asked{more(count)}"
        )
        share = float(heights.share[move])
        found.append(about_move(replay, move, Severity.ERROR, "too-low", message, "check where Z is zero", share))
    turns = replay.spindle != 0
    if turns.any():
        message = "the spindle turns where nothing is to be cut"
        found.append(about_move(replay, int(turns.argmax()), Severity.ERROR, "spindle-on", message, "stop it with M5"))
    return found
