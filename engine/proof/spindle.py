"""How the spindle turns while the tool cuts: off, the wrong way round, too fast for the tool, not as the job asks.

Takes the replay, what it cuts, the tool and the speed asked; gives findings.
"""

import numpy as np

from engine.kernel.arrays import Bools
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Tool
from engine.proof.depths import Cuts
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_spindle"]

ALIKE = 0.02  # of the speed asked
FAR_OFF = 2.0  # times faster or slower than asked is a slip of the pen, and breaks tools


def judge_spindle(replay: Replay, cuts: Cuts, tool: Tool, asked_rpm: float) -> list[Finding]:
    """`spindle-off`, `spindle-reversed`, `spindle-speed`. asked_rpm : 0 where it is not told."""
    found = []
    stopped = cuts.cuts & (replay.spindle == 0)
    if stopped.any():
        text = f"the tool cuts with its spindle stopped{more(int(stopped.sum()))}"
        found.append(_about(replay, stopped, Severity.ERROR, "spindle-off", text, "start the spindle before"))
    wrong = cuts.cuts & (replay.spindle < 0)
    if wrong.any():
        text = f"the spindle turns counter-clockwise while the tool cuts{more(int(wrong.sum()))}"
        advice = "M3, unless the tool is ground for it"
        found.append(_about(replay, wrong, Severity.WARNING, "spindle-reversed", text, advice))
    turning = cuts.cuts & (replay.spindle != 0) & np.isfinite(replay.rpm)
    fast = turning & (replay.rpm > (tool.rpm_max or np.inf) * (1.0 + ALIKE))
    if fast.any():
        move, count = worst(fast, replay.rpm)
        text = (
            f"the spindle turns at {replay.rpm[move]:g} rev/min, the tool takes at most {tool.rpm_max:g}{more(count)}"
        )
        found.append(about_move(replay, move, Severity.ERROR, "spindle-speed", text, "mend the S word"))
    if asked_rpm > 0:
        ratio = np.where(turning, np.maximum(replay.rpm / asked_rpm, asked_rpm / np.maximum(replay.rpm, 1e-9)), 1.0)
        other = ratio > 1.0 + ALIKE
        if other.any() and not fast.any():
            move, count = worst(other, ratio)
            far = float(ratio[move]) > FAR_OFF
            text = f"the spindle turns at {replay.rpm[move]:g} rev/min where {asked_rpm:g} is asked{more(count)}"
            severity = Severity.ERROR if far else Severity.WARNING
            found.append(
                about_move(replay, move, severity, "spindle-speed", text, "mend the S word, or ask this speed")
            )
    return found


def _about(replay: Replay, which: Bools, severity: Severity, code: str, text: str, advice: str) -> Finding:
    return about_move(replay, int(which.argmax()), severity, code, text, advice)
