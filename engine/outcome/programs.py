"""All programs of a plan, written from the same path: the engraving, the air run, the walk, and the rest of a run.

Each is written once and proven before it is given: the engraving by the plan itself; an air run or a walk in which the
proof finds an error is left out, with a warning that says why; the rest of a run is refused.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from engine.blank import Skin
from engine.job import Job
from engine.kernel.errors import ProgramError, ReachError
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Path, Tool
from engine.machine import limits_of, path_motion
from engine.outcome.faults import machine_fault, not_known
from engine.outcome.header import header, touch_words
from engine.outcome.proving import Asked, first_error, prove_for, prove_idle_for, withheld
from engine.outcome.tools import seconds_by_tool, strokes_by_tool, tool_facts, tool_words
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import blank_words, extent_facts, span_words
from engine.program import Change, Program, air, resume, with_header, write
from engine.proof import Proof

__all__ = ["Setup", "Written", "air_run", "engraving", "finished", "rest_of", "tools_of", "walk_round"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setup:
    """What every program of a plan is written and proven for. tools : that cut, in order of use; touches : where the
    zero of each is set.
    """

    job: Job
    skin: Skin
    tools: tuple[Tool, ...]
    touches: tuple[TouchOff, ...]

    @property
    def touch(self) -> TouchOff:
        """That of the first tool, which sets where the radial word is 0."""
        return self.touches[0]

    @property
    def rpms(self) -> tuple[float, ...]:
        """The spindle's speed with each tool."""
        return tuple(self.job.rpm(tool) for tool in self.tools)

    def idle_findings(self, text: bytes) -> tuple[Finding, ...]:
        """What the proof finds in a text that is to touch nothing."""
        return prove_idle_for(self.job, self.skin, text, self.touch.zero_r_mm, self.tools)

    def proof(self, text: bytes, asked: Asked, first_tool: int = 0) -> Proof:
        """The proof of a text that cuts. first_tool : the one that it begins with."""
        zero = self.touch.zero_r_mm
        return prove_for(self.job, self.skin, text, zero, asked, tools=self.tools, first_tool=first_tool)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Written:
    """A program and what it was written from.

    times_s : total, from the first row on; cutting, travel, plunge, and dwell for the spindle; the person's own at a
    change is not in it. tools_s : of each tool, by its number. from_stroke : where the rest of a run begins, else None.
    """

    kind: str
    path: Path
    program: Program
    times_s: Mapping[str, float]
    tools_s: Mapping[int, float]
    from_stroke: int | None = None

    @property
    def extent(self) -> dict[str, list[float]]:
        """Least and greatest of each coordinate of its path."""
        return extent_facts(self.path.x_mm, self.path.theta_rad, self.path.r_mm)


def engraving(setup: Setup, path: Path) -> Written:
    """The engraving, its header still to come."""
    return _written(setup, path, "engrave")


def air_run(setup: Setup, path: Path) -> tuple[Written | None, list[Finding]]:
    """The same moves lifted clear, proven to touch nothing; None where the proof finds an error."""
    deepest = max(item.depth_mm for item in setup.job.items)
    lifted = air(path, lift_mm=deepest + setup.job.machine.clearance_mm)
    return _proven_idle(setup, _written(setup, lifted, "air"))


def walk_round(setup: Setup, ways: Sequence[Callable[[], Path]]) -> tuple[Written | None, list[Finding]]:
    """The first of the walks, the widest first, that the proof lets by; None where it lets none."""
    told: list[Finding] = []
    for way in ways:
        try:
            written, told = _proven_idle(setup, _written(setup, way(), "walk"))
        except ReachError as exc:
            written, told = None, [withheld("walk", machine_fault(exc))]
        if written is not None:
            return written, told
    return None, told


def rest_of(setup: Setup, path: Path, asked: Asked, stroke: int, known: Sequence[Finding]) -> Program:
    """The engraving from a stroke on, under its header with the warnings that are known and its own.

    Raises
    ------
    ProgramError : there is no such stroke; or the proof finds an error, then with the place `program`.
    """
    way = resume(path, stroke, setup.job.machine)
    written = replace(_written(setup, way, "engrave"), from_stroke=stroke)
    # What was cut before the stop is not cut again: that much of the art, or all, stays uncut there is no news.
    proof = setup.proof(written.program.text, asked, int(way.tool[0]))
    found = [f for f in proof.findings if f.code not in ("uncut", "nothing-cut")]
    error = first_error(found)
    if error is not None:
        message = f"no program goes on from stroke {stroke}: {error.message}"
        raise ProgramError(message, where="program", hint=error.advice)
    return finished(setup, written, [*known, *not_known(found, known)]).program


def finished(setup: Setup, written: Written, findings: Sequence[Finding]) -> Written:
    """The same under its header; body and check code stay as they are."""
    says = header(
        setup.job,
        kind=written.kind,
        from_stroke=written.from_stroke,
        blank=blank_words(setup.job, setup.skin),
        tools=setup.tools,
        touches=setup.touches,
        strokes=strokes_by_tool(written.path),
        time_s=written.times_s["total"],
        extent=span_words(written.extent),
        findings=findings,
    )
    return replace(written, program=with_header(written.program, says, longest=setup.job.machine.longest_line))


def _written(setup: Setup, path: Path, kind: str) -> Written:
    spindle, machine = kind == "engrave", setup.job.machine
    first = int(path.tool[0])
    program = write(
        path,
        machine,
        zero_r_mm=setup.touch.zero_r_mm,
        rpm=setup.rpms[first],
        changes=[_change(setup, int(path.tool[row])) for row, _ in path.stints[1:]],
        spindle=spindle,
    )
    motion = path_motion(path, limits_of(machine))
    parts = motion.split(path.kind[1:])
    times = {"cutting": parts["cutting"], "travel": parts["travel"], "plunge": parts["plunging"]}
    dwell_s = machine.dwell_s if spindle else 0.0
    times["dwell"] = dwell_s * len(path.stints)
    return Written(
        kind=kind,
        path=path,
        program=program,
        times_s={"total": sum(times.values())} | times,
        tools_s=seconds_by_tool(path, motion.seconds, dwell_s),
    )


def tools_of(setup: Setup, written: Written, proof: Proof) -> list[dict[str, Any]]:
    """What is told of each tool of a program, JSON-ready, in order of use."""
    strokes = strokes_by_tool(written.path)
    return tool_facts(
        setup.tools, setup.rpms, setup.touches, strokes=strokes, seconds=written.tools_s, cut_mm=proof.cut_by_tool_mm
    )


def _change(setup: Setup, number: int) -> Change:
    """What is said where a tool comes into the spindle."""
    says = (
        f"tool {number + 1} of {len(setup.tools)}: {tool_words(setup.tools[number])}",
        *(f"{word}: {said}" for word, said in touch_words(setup.touches[number])),
    )
    return Change(rpm=setup.rpms[number], says=says)


def _proven_idle(setup: Setup, written: Written) -> tuple[Written | None, list[Finding]]:
    findings = setup.idle_findings(written.program.text)
    error = first_error(findings)
    if error is not None:
        return None, [withheld(written.kind, error)]
    return written, [
        replace(f, message=f"{written.kind}: {f.message}", where=replace(f.where, line=None, stroke=None))
        for f in findings
        if f.severity is Severity.WARNING
    ]
