"""What is wrong with one piece of art, or was left out of it, as findings with the field's own pointer."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from engine.artwork import Drawing, Note
from engine.blank import SURE, Sampled, Skin, sigma_at
from engine.job import Item, Job
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError, EngineError, LayoutError, MarkingError, ReachError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Tool

__all__ = [
    "ART_FAULTS",
    "about",
    "fault",
    "little_known",
    "machine_fault",
    "not_known",
    "nothing_to_cut",
    "runout_findings",
    "spindle_findings",
    "told_once",
    "unused",
]

ART_FAULTS = (ArtworkError, LayoutError, MarkingError, ReachError)
_FIELD_OF = {ArtworkError: "asset", LayoutError: "placement", MarkingError: "marking", ReachError: "placement"}
_FIELDS = (
    "asset",
    "text",
    "picture",
    "drawing",
    "border",
    "placement",
    "repeat",
    "marking",
    "tone",
    "depth_mm",
    "step_mm",
    "passes",
    "tool",
)


def about(finding: Finding, item: Item) -> Finding:
    """The finding with the artwork's own pointer where it names none."""
    if finding.where.pointer is not None:
        return finding
    return replace(finding, where=replace(finding.where, pointer=f"/artwork/{item.index}"))


def told_once(found: Sequence[tuple[Item, Finding]]) -> list[Finding]:
    """What was found of all pieces; of copies, what was found of an earlier one already is counted, not repeated."""
    first: dict[tuple[int, str, str | None], int] = {}
    kept: list[tuple[tuple[int, str, str | None], Finding]] = []
    more: dict[tuple[int, str, str | None], set[int]] = {}
    for item, finding in found:
        key = (item.index, finding.code, finding.where.pointer)
        if first.setdefault(key, item.copy) == item.copy:
            kept.append((key, finding))
        else:
            more.setdefault(key, set()).add(item.copy)
    return [
        replace(finding, message=f"{finding.message}; so it is with {len(more[key])} more of its copies")
        if key in more and finding.severity is not Severity.NOTE
        else finding
        for key, finding in kept
    ]


def little_known(skin: Skin, item: Item, x_mm: Floats, theta_rad: Floats) -> tuple[tuple[float, float], list[Finding]]:
    """(least, greatest) standard deviation of the skin under a piece of art's points (n,), mm; and `skin-unsure` where
    two of the greatest are more than the depth asked, on a skin that says place by place how well it is known.
    """
    sigma = sigma_at(skin, x_mm, theta_rad)
    if not len(sigma):
        return (0.0, 0.0), []
    worst, told = int(sigma.argmax()), SURE * sigma
    found = (float(sigma.min()), float(sigma.max()))
    unsure = told > item.depth_mm if isinstance(skin, Sampled) and skin.spread is not None else np.zeros(0, np.bool_)
    if not unsure.any():
        return found, []
    message = f"under {unsure.mean():.0%} of the art the skin is not known to within the depth of {item.depth_mm:g} mm"
    message += f": at worst to {told[worst]:.2g} mm (two standard deviations)"
    place = Where.on_skin(x_mm[worst], theta_rad[worst], pointer=f"/artwork/{item.index}")
    advice = "measure the blank there, or move the art to where it is better known"
    return found, [Finding(severity=Severity.WARNING, code="skin-unsure", message=message, where=place, advice=advice)]


def unused(drawing: Drawing, item: Item) -> list[Finding]:
    """What the file holds, or the job says of it, that was not used, or used otherwise than written."""
    return [_noted(note, item) for note in drawing.notes]


def _noted(note: Note, item: Item) -> Finding:
    of_the_job = note.where.split("/")[0] in _FIELDS
    return Finding(
        severity=Severity.NOTE,
        code=note.code,
        message=note.message + (f" ({note.times} times)" if note.times > 1 else ""),
        where=Where(pointer=f"/artwork/{item.index}/{note.where if of_the_job else 'asset'}"),
        advice="" if of_the_job or note.where in ("", "file") else f"first at {note.where}",
    )


def fault(exc: EngineError, item: Item) -> Finding:
    """An error about one piece of art, as a finding that withholds the program while the rest is still shown."""
    where = exc.where.removeprefix("/")
    named = (
        where if where.split("/")[0] in _FIELDS else next(f for kind, f in _FIELD_OF.items() if isinstance(exc, kind))
    )
    kind = next(kind for kind in _FIELD_OF if isinstance(exc, kind))
    return Finding(
        severity=Severity.ERROR,
        code=f"{kind.__name__.removesuffix('Error').lower()}-fault",
        message=exc.message if where == named or where in exc.message else f"{exc.message} ({where})",
        where=Where(pointer=f"/artwork/{item.index}/{named}"),
        advice=exc.hint,
    )


def machine_fault(exc: ReachError) -> Finding:
    """A machine that cannot go where the strokes are, as a finding that withholds the program."""
    return Finding(
        severity=Severity.ERROR,
        code="reach-fault",
        message=exc.message,
        where=Where(pointer=exc.where if exc.where.startswith("/") else None),
        advice=exc.hint,
    )


def not_known(findings: Sequence[Finding], known: Sequence[Finding]) -> list[Finding]:
    """Those that are not known already, by code and field: what programs share is told once."""
    held = {(finding.code, finding.where.pointer) for finding in known}
    return [finding for finding in findings if (finding.code, finding.where.pointer) not in held]


def nothing_to_cut(job: Job) -> Finding:
    """Why there is no program where no error says it."""
    why = "none of the artwork gives a stroke" if job.items else "the job has no artwork"
    return Finding(
        severity=Severity.NOTE,
        code="nothing-to-cut",
        message=f"nothing is cut, so there is no program: {why}",
        where=Where(pointer="/artwork"),
        advice="look at its size, its marking and its tone" if job.items else "put a picture or a drawing on the blank",
    )


def runout_findings(job: Job, tools: Sequence[Tool]) -> list[Finding]:
    """`runout-wide`: a tip that is said to swing further than it cuts wide where it is to go deepest."""
    own = [tool.get("id") for tool in job.document.get("tools", ())]
    found = []
    for tool in tools:
        deepest = max((item.depth_mm for item in job.items if tool in item.tools), default=0.0)
        width = tool.width_mm(deepest)
        if tool.runout_mm <= width:
            continue
        found.append(
            Finding(
                severity=Severity.WARNING,
                code="runout-wide",
                message=f"the tip of {tool.id} is said to swing {tool.runout_mm:g} mm, further than the {width:.3g} mm "
                f"that it cuts wide at {deepest:g} mm depth: its lines would be that wide",
                where=Where(pointer=f"/tools/{own.index(tool.id)}/runout_mm" if tool.id in own else "/tools"),
                advice="measure it at the turning tip, and mend the collet or the figure: a few hundredths are usual "
                "(common practice, no source)",
            )
        )
    return found


def spindle_findings(job: Job, tools: Sequence[Tool]) -> list[Finding]:
    """`rpm-shared`, `rpm-held`: where a tool turns at another speed than a piece of art asks for."""
    found = []
    for tool in tools:
        asked, rpm = job.asked_rpms(tool), job.rpm(tool)
        which = tool.id if len(tools) > 1 else "the tool"
        if len(asked) > 1:
            each = ", ".join(f"{speed:g}" for speed in asked)
            with_it = f" with {tool.id}" if len(tools) > 1 else ""
            message = f"the pieces of art ask for {each} rev/min{with_it}: all are cut at {rpm:g}"
            advice = "ask one speed of all"
            found.append(Finding(severity=Severity.WARNING, code="rpm-shared", message=message, advice=advice))
        if asked and rpm < asked[0]:
            message = f"{asked[0]:g} rev/min are asked, {which} allows {rpm:g}"
            where = Where(pointer="/tools")
            found.append(Finding(severity=Severity.NOTE, code="rpm-held", message=message, where=where))
    return found
