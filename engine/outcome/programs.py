"""All programs of a plan, written from the same path: the engraving, the air run, the walk, and the rest of a run.

Each is written once and proven before it is given: the engraving by the plan itself; an air run or a walk in which the
proof finds an error is left out, with a warning that says why; the rest of a run is refused.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from engine.blank import Skin
from engine.job import Job
from engine.kernel.errors import ProgramError, ReachError
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Path
from engine.machine import limits_of, path_motion
from engine.outcome.faults import machine_fault, not_known
from engine.outcome.header import header
from engine.outcome.proving import Asked, first_error, prove_for, prove_idle_for, withheld
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import blank_words, extent_facts, span_words
from engine.program import Program, air, resume, with_header, write
from engine.proof import Proof

__all__ = ["Setup", "Written", "air_run", "engraving", "finished", "rest_of", "walk_round"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setup:
    """What every program of a plan is written and proven for."""

    job: Job
    skin: Skin
    touch: TouchOff

    def idle_findings(self, text: bytes) -> tuple[Finding, ...]:
        """What the proof finds in a text that is to touch nothing."""
        return prove_idle_for(self.job, self.skin, text, self.touch.zero_r_mm)

    def proof(self, text: bytes, asked: Asked) -> Proof:
        """The proof of a text that cuts."""
        return prove_for(self.job, self.skin, text, self.touch.zero_r_mm, asked)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Written:
    """A program and what it was written from.

    times_s : total, from the first row on; cutting, travel, plunge, and dwell for the spindle. from_stroke : where the
    rest of a run begins, else None.
    """

    kind: str
    path: Path
    program: Program
    times_s: Mapping[str, float]
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
    found = [f for f in setup.proof(written.program.text, asked).findings if f.code not in ("uncut", "nothing-cut")]
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
        touch=setup.touch,
        time_s=written.times_s["total"],
        extent=span_words(written.extent),
        findings=findings,
    )
    return replace(written, program=with_header(written.program, says, longest=setup.job.machine.longest_line))


def _written(setup: Setup, path: Path, kind: str) -> Written:
    spindle, machine = kind == "engrave", setup.job.machine
    program = write(path, machine, zero_r_mm=setup.touch.zero_r_mm, rpm=setup.job.rpm, spindle=spindle)
    parts = path_motion(path, limits_of(machine)).split(path.kind[1:])
    times = {"cutting": parts["cutting"], "travel": parts["travel"], "plunge": parts["plunging"]}
    times["dwell"] = machine.dwell_s if spindle else 0.0
    return Written(kind=kind, path=path, program=program, times_s={"total": sum(times.values())} | times)


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
