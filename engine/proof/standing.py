"""Where the tool stands when it does not move: at the program's end, at changes of the spindle or the tool, at waits.

Takes the reader's events, the replay, the skin and the tools; gives findings. A tip that is left in the skin breaks at
the next jog; one whose spindle stops there breaks at the next move.
"""

from collections.abc import Sequence
from typing import Literal

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Tool
from engine.machine import Profile
from engine.proof.clearance import Heights
from engine.proof.form import Form4, form_of
from engine.proof.rapids import grace_mm
from engine.proof.replay import Replay
from engine.proof.rs274_reader import SHOP, Moves
from engine.proof.touching import touching_mm
from engine.proof.where import about_move

__all__ = ["judge_standing"]

MOST = 5_000  # low places of a kind that are looked at, 0.1 ms each
MAP_MM = 0.1  # more than the map of heights may be wrong by
STOP = "stop"  # the one that a line does after it has moved (NISTIR 6556 table 8)
_EVENTS = (
    ("spindle", Severity.ERROR, "spindle-in-work", "the spindle is switched", "lift clear of the skin first"),
    ("tool change", Severity.ERROR, "spindle-in-work", "the tool is changed", "lift clear of the skin first"),
    (STOP, Severity.WARNING, "waits-in-work", "the program stops", "lift clear of the skin first"),
    (
        "dwell",
        Severity.WARNING,
        "waits-in-work",
        "the program waits",
        "wait clear of the skin: a turning tip that stands still burns the work",
    ),
    (SHOP, Severity.ERROR, "shop-line-in-work", "a line of the shop's own that is not followed stands", "lift first"),
)


def judge_standing(
    replay: Replay, heights: Heights, moves: Moves, skin: Skin, tools: Sequence[Tool], machine: Profile
) -> list[Finding]:
    """`ends-in-work`, `spindle-in-work`, `waits-in-work`, `shop-line-in-work`: below the approach height.

    replay : the moves, or those up to where they leave every machine: what comes after is not looked at.
    """
    whole = len(replay) == len(moves)
    found = []
    least = machine.approach_mm - grace_mm(machine)
    forms = [form_of(tool) for tool in tools]

    def height(move: int) -> float:
        return _height(replay.end[move], skin, forms[min(int(replay.tool[move]), len(forms) - 1)])

    low = (heights.least_mm < least + MAP_MM) | ~replay.known
    for what, severity, code, says, advice in _EVENTS:
        side: Literal["left", "right"] = "right" if what == STOP else "left"
        events = [line for line, event in moves.events if event.startswith(what)]
        lines = np.array([line for line in events if whole or line <= replay.line[-1]], np.int64)
        before = np.searchsorted(replay.line, lines, side=side) - 1
        before = np.unique(before[before >= 0])
        for move in before[low[before]][:MOST].tolist():
            high = height(move)
            if high < least:
                message = f"{says} while the tip stands {_words(high)}"
                found.append(about_move(replay, move, severity, code, message, advice))
                break
    if whole and moves.fault is None and (high := height(-1)) < least:
        message = f"the program ends while the tip stands {_words(high)}"
        advice = "end with a lift clear of the skin: was its tail cut off?"
        severity = Severity.ERROR if high < 0 else Severity.WARNING
        found.append(about_move(replay, len(replay) - 1, severity, "ends-in-work", message, advice))
    return found


def _words(high_mm: float) -> str:
    return f"{-high_mm:.3f} mm deep in the skin" if high_mm < 0 else f"{high_mm:.3f} mm over the skin"


def _height(place: Floats, skin: Skin, form: Form4) -> float:
    """Of the tip over touching; infinite where the place is not known or beside the blank."""
    x, theta, r = place.tolist()
    if not np.isfinite(place).all():
        return np.inf
    return r - touching_mm(skin, form, x, theta)
