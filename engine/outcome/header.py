"""What a program says of itself before its first move."""

import re
from collections.abc import Mapping, Sequence

from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Tool
from engine.machine import ZZero
from engine.outcome.binding import made_for
from engine.outcome.cautions import HEADER_CAUTIONS
from engine.outcome.tools import tool_words
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import clock

__all__ = ["begins_with", "header", "touch_words", "touches_nothing"]

KINDS = {
    "engrave": "engraving",
    "air": "air run, the same moves lifted clear, spindle off",
    "walk": "walk round the art at approach height, spindle off, the hook at the upper left corner",
}
IDLE = re.compile(rb"^\(program: (air run|walk)\b", re.MULTILINE | re.IGNORECASE)
HEADER = re.compile(rb"(?:\([^\n]*\n|\n)*")
BEGINS = re.compile(rb"^\(tool (\d{1,3}) of \d+:", re.MULTILINE | re.IGNORECASE)
MOST_WARNINGS = 12  # more would bury the moves; the report holds them all


def touches_nothing(text: bytes) -> bool:
    """Whether a program's header calls it an air run or a walk."""
    return IDLE.search(text.replace(b"\r", b"\n")) is not None


def begins_with(text: bytes) -> int:
    """Number of the tool, from 0, with which a program's header says that it begins."""
    above = HEADER.match(text.replace(b"\r", b"\n"))
    found = BEGINS.search(above[0]) if above else None
    return max(int(found[1]) - 1, 0) if found else 0


def touch_words(touch: TouchOff) -> list[tuple[str, str]]:
    """Where the radial axis is set, and where that is checked."""
    first, check = touch.first, touch.check
    return [
        ("touch off", f"tip on the skin at {first.axial_word} {first.rotary_word}: set {first.word}"),
        ("check", f"tip on the skin at {check.axial_word} {check.rotary_word} must read {check.word}"),
    ]


def header(
    job: Job,
    *,
    kind: str,
    from_stroke: int | None,
    blank: str,
    tools: Sequence[Tool],
    touches: Sequence[TouchOff],
    strokes: Mapping[int, tuple[int, int]],
    time_s: float,
    extent: str,
    findings: Sequence[Finding],
) -> list[tuple[str, str]]:
    """(word, text) pairs for the header's comments, in order. strokes : first and last of each tool, by its number."""
    zero = "axis of rotation" if job.machine.z_zero is ZZero.AXIS else "skin at the touch-off point"
    warnings = [f for f in findings if f.severity is Severity.WARNING]
    lines = [
        ("program", KINDS[kind] + (f", from stroke {from_stroke} on" if from_stroke is not None else "")),
        ("job", job.name),
        ("blank", blank),
        *_tools(tools, strokes, idle=kind != "engrave"),
        ("units", "mm, degrees, minutes, absolute"),
        ("zero", f"X at the datum face, {job.machine.radial.letter} 0 at the {zero}"),
        *touch_words(touches[min(strokes, default=0)]),
        ("extent", extent),
        ("feed rule", job.machine.feed_rule.value),
        ("time", f"about {clock(time_s)}" + (", and the changes of tool" if len(strokes) > 1 else "")),
        ("made for", made_for(job)),
    ]
    lines += [("warning", f.message) for f in warnings[:MOST_WARNINGS]]
    if len(warnings) > MOST_WARNINGS:
        lines.append(("warning", f"{len(warnings) - MOST_WARNINGS} more stand in the report"))
    return lines + [("caution", text) for text in HEADER_CAUTIONS]


def _tools(tools: Sequence[Tool], strokes: Mapping[int, tuple[int, int]], *, idle: bool) -> list[tuple[str, str]]:
    """Each tool that the program uses, and from which stroke on: the first is in the spindle when it begins."""
    if len(tools) == 1:
        return [("tool", tool_words(tools[0]))]
    if idle:
        return [("tool", f"{tool_words(tools[0])}, or with its own zero any other of the job. None is changed")]
    lines: list[tuple[str, str]] = []
    for k, (first, last) in strokes.items():
        comes = "fitted at the stop" if lines else "in from the start"
        lines.append((f"tool {k + 1} of {len(tools)}", f"{tool_words(tools[k])}, strokes {first} to {last}, {comes}"))
    return lines
