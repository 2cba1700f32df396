"""How finely the machine can follow, and whether it can hold the program: steps of the axes and words, lines, bytes.

Takes the program's text, the replay and the machine; gives findings. What the profile does not state is not judged.
"""

import math

import numpy as np

from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Kind
from engine.machine import Profile
from engine.proof.depths import Cuts
from engine.proof.replay import Replay
from engine.proof.where import about_move

__all__ = ["judge_resolution", "judge_size"]

CHORD_MM = 0.01  # what the planner's straight moves may stray: steps as coarse show beside it
NAMES = ("axial", "rotary", "radial")


def judge_resolution(replay: Replay, cuts: Cuts, machine: Profile) -> list[Finding]:
    """`coarse-axis`: half a step of an axis, or of its words, is more on the skin than the planner's tolerance."""
    live = np.flatnonzero(cuts.cuts & (replay.kind == Kind.CUT))
    if not len(live):
        return []
    far = int(live[np.argmax(replay.end[live, 2])])
    radius = float(replay.end[far, 2])
    found = []
    for k, axis in enumerate((machine.axial, machine.rotary, machine.radial)):
        scale = math.radians(1.0) * radius if k == 1 else 1.0
        unit = "deg" if k == 1 else "mm"
        word = 10.0**-machine.decimals * (360.0 / machine.mm_per_turn if k == 1 and machine.mm_per_turn else 1.0)
        for step, what, advice in (
            (0.0 if axis.steps_per_unit is None else 1.0 / axis.steps_per_unit, "in steps", "a finer drive"),
            (word, "by words", "more decimals, if the controller reads them"),
        ):
            off = 0.5 * step * scale
            if off > CHORD_MM:
                message = (
                    f"the {NAMES[k]} axis {axis.letter} is moved {what} of {step:.3g} {unit}: "
                    f"up to {off:.2g} mm beside the line on the skin"
                )
                found.append(
                    about_move(replay, far, Severity.WARNING, "coarse-axis", message, f"{advice}, or larger art")
                )
    return found


def judge_size(text: bytes, machine: Profile) -> list[Finding]:
    """`line-too-long` and `program-too-long`: more than the controller holds, where the profile states it."""
    found = []
    if machine.longest_line is not None:
        sizes = [len(line) for line in text.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")]
        most = max(sizes)
        if most > machine.longest_line:
            line = sizes.index(most) + 1
            message = f"a line of {most} characters; the controller reads {machine.longest_line}"
            advice = "shorter names and shop lines, or a controller that reads longer lines"
            found.append(_size("line-too-long", message, advice, Where(line=line)))
    if machine.memory_bytes is not None and len(text) > machine.memory_bytes:
        message = f"the program has {len(text):,} bytes; the controller holds {machine.memory_bytes:,}"
        advice = "send it line by line, or in parts by `from_stroke`; a wider hatch or fewer decimals make it shorter"
        found.append(_size("program-too-long", message, advice, Where()))
    return found


def _size(code: str, message: str, advice: str, where: Where) -> Finding:
    return Finding(severity=Severity.ERROR, code=code, message=message, advice=advice, where=where)
