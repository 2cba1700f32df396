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
from engine.kernel.values import Path, Wanted
from engine.machine import limits_of, path_motion
from engine.outcome.header import header
from engine.outcome.proving import first_error, prove_for, prove_idle_for, withheld
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import blank_words, extent_facts, span_words
from engine.program import Program, air, resume, with_header, write

__all__ = ["Written", "air_run", "engraving", "finished", "rest_of", "walk_round"]


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


def engraving(job: Job, path: Path, touch: TouchOff) -> Written:
    """The engraving, its header still to come."""
    return _written(job, path, touch, "engrave")


def air_run(job: Job, skin: Skin, path: Path, touch: TouchOff) -> tuple[Written | None, list[Finding]]:
    """The same moves lifted clear, proven to touch nothing; None where the proof finds an error."""
    deepest = max(item.depth_mm for item in job.items)
    lifted = air(path, lift_mm=deepest + job.machine.clearance_mm)
    return _proven_idle(job, skin, _written(job, lifted, touch, "air"), touch)


def walk_round(
    job: Job, skin: Skin, ways: Sequence[Callable[[], Path]], touch: TouchOff
) -> tuple[Written | None, list[Finding]]:
    """The first of the walks, the widest first, that the proof lets by; None where it lets none."""
    told: list[Finding] = []
    for way in ways:
        try:
            written, told = _proven_idle(job, skin, _written(job, way(), touch, "walk"), touch)
        except ReachError as exc:
            fault = Finding(severity=Severity.ERROR, code="reach-fault", message=exc.message, advice=exc.hint)
            written, told = None, [withheld("walk", fault)]
        if written is not None:
            return written, told
    return None, told


def rest_of(job: Job, skin: Skin, path: Path, touch: TouchOff, asked: Wanted, stroke: int) -> Written:
    """The engraving from a stroke on. ProgramError where there is no such stroke, or the proof finds an error."""
    written = replace(
        _written(job, resume(path, stroke, job.machine), touch, "engrave"),
        from_stroke=stroke,
    )
    error = first_error(prove_for(job, skin, written.program.text, touch.zero_r_mm, asked).findings)
    if error is not None:
        raise ProgramError(f"no program goes on from stroke {stroke}: {error.message}", hint=error.advice)
    return written


def finished(job: Job, skin: Skin, written: Written, touch: TouchOff, findings: Sequence[Finding]) -> Written:
    """The same under its header; body and check code stay as they are."""
    says = header(
        job,
        kind=written.kind,
        from_stroke=written.from_stroke,
        blank=blank_words(job, skin),
        touch=touch,
        time_s=written.times_s["total"],
        extent=span_words(written.extent),
        findings=findings,
    )
    return replace(written, program=with_header(written.program, says))


def _written(job: Job, path: Path, touch: TouchOff, kind: str) -> Written:
    spindle = kind == "engrave"
    program = write(path, job.machine, zero_r_mm=touch.zero_r_mm, rpm=job.rpm, spindle=spindle)
    parts = path_motion(path, limits_of(job.machine)).split(path.kind[1:])
    times = {"cutting": parts["cutting"], "travel": parts["travel"], "plunge": parts["plunging"]}
    times["dwell"] = job.machine.dwell_s if spindle else 0.0
    return Written(kind=kind, path=path, program=program, times_s={"total": sum(times.values())} | times)


def _proven_idle(job: Job, skin: Skin, written: Written, touch: TouchOff) -> tuple[Written | None, list[Finding]]:
    findings = prove_idle_for(job, skin, written.program.text, touch.zero_r_mm)
    error = first_error(findings)
    if error is not None:
        return None, [withheld(written.kind, error)]
    return written, [
        replace(f, message=f"{written.kind}: {f.message}", where=replace(f.where, line=None, stroke=None))
        for f in findings
        if f.severity is Severity.WARNING
    ]
