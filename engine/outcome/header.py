"""What a program says of itself before its first move."""

import re
from collections.abc import Sequence

from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.machine import ZZero
from engine.outcome.binding import made_for
from engine.outcome.cautions import HEADER_CAUTIONS
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import clock

__all__ = ["header", "touches_nothing"]

KINDS = {
    "engrave": "engraving",
    "air": "air run, the same moves lifted clear, spindle off",
    "walk": "walk round the art at approach height, spindle off, the hook at the upper left corner",
}
IDLE = re.compile(rb"^\(program: (air run|walk)\b", re.MULTILINE | re.IGNORECASE)
MOST_WARNINGS = 12  # more would bury the moves; the report holds them all


def touches_nothing(text: bytes) -> bool:
    """Whether a program's header calls it an air run or a walk."""
    return IDLE.search(text.replace(b"\r", b"\n")) is not None


def header(
    job: Job,
    *,
    kind: str,
    from_stroke: int | None,
    blank: str,
    touch: TouchOff,
    time_s: float,
    extent: str,
    findings: Sequence[Finding],
) -> list[tuple[str, str]]:
    """(word, text) pairs for the header's comments, in order."""
    tool = job.tool
    form = f"{tool.form.value}, {tool.diameter_mm:g} mm"
    if tool.form.value == "cone":
        form += f", {tool.angle_deg:g} deg included, tip {tool.tip_mm:g} mm"
    zero = "axis of rotation" if job.machine.z_zero is ZZero.AXIS else "skin at the touch-off point"
    warnings = [f for f in findings if f.severity is Severity.WARNING]
    lines = [
        ("program", KINDS[kind] + (f", from stroke {from_stroke} on" if from_stroke is not None else "")),
        ("job", job.name),
        ("blank", blank),
        ("tool", f"{tool.id}: {form}"),
        ("units", "mm, degrees, minutes, absolute"),
        ("zero", f"X at the datum face, {job.machine.radial.letter} 0 at the {zero}"),
        ("touch off", f"tip on the skin at {touch.first.axial_word} {touch.first.rotary_word}: set {touch.first.word}"),
        (
            "check",
            f"tip on the skin at {touch.check.axial_word} {touch.check.rotary_word} must read {touch.check.word}",
        ),
        ("extent", extent),
        ("feed rule", job.machine.feed_rule.value),
        ("time", f"about {clock(time_s)}"),
        ("made for", made_for(job)),
    ]
    lines += [("warning", f.message) for f in warnings[:MOST_WARNINGS]]
    if len(warnings) > MOST_WARNINGS:
        lines.append(("warning", f"{len(warnings) - MOST_WARNINGS} more stand in the report"))
    return lines + [("caution", text) for text in HEADER_CAUTIONS]
