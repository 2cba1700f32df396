"""The proof asked for a job: what the blank, the tool and the machine are, said once for every program of a plan."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from engine.blank import Skin
from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Tool, Wanted
from engine.proof import Fine, Proof, prove, prove_idle

__all__ = ["Asked", "first_error", "prove_for", "prove_idle_for", "withheld"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """What the art asks for: the field, and how to come by what of it the tool is too thick for, where that is
    made elsewhere.
    """

    wanted: Wanted
    fine: Callable[[], Sequence[Fine]] | None = None


def prove_for(
    job: Job,
    skin: Skin,
    text: bytes,
    zero_r_mm: float,
    asked: Asked | None,
    *,
    tools: Sequence[Tool],
    first_tool: int = 0,
    idle: bool = False,
) -> Proof:
    """The proof of a text against the job's skin, machine and hardware. tools : that cut, in order of use. first_tool :
    the one that it begins with. idle : it is to touch nothing.
    """
    return prove(
        text,
        skin=skin,
        tools=tools,
        first_tool=first_tool,
        machine=job.machine,
        zero_r_mm=zero_r_mm,
        wanted=asked.wanted if asked else None,
        fine=asked.fine if asked else None,
        keep_out=job.keep_out,
        wall_mm=job.blank.wall_mm,
        wall_min_mm=job.blank.wall_min_mm,
        material=job.blank.material or "",
        idle=idle,
    )


def prove_idle_for(job: Job, skin: Skin, text: bytes, zero_r_mm: float, tools: Sequence[Tool]) -> tuple[Finding, ...]:
    """What the proof finds in a text that is to touch nothing, whichever of the tools is in the spindle."""
    found: list[Finding] = []
    for tool in tools:
        told = prove_idle(text, skin=skin, tool=tool, machine=job.machine, zero_r_mm=zero_r_mm, keep_out=job.keep_out)
        held = {(f.severity, f.code, f.where.pointer) for f in found}
        found += [f for f in told if (f.severity, f.code, f.where.pointer) not in held]
    return tuple(found)


def first_error(findings: Sequence[Finding]) -> Finding | None:
    """The first error, None where there is none."""
    return next((f for f in findings if f.severity is Severity.ERROR), None)


def withheld(kind: str, error: Finding) -> Finding:
    """A warning that a program beside the engraving is not given, and why; its lines are nobody's to see."""
    return replace(
        error,
        severity=Severity.WARNING,
        code=f"{kind}-withheld",
        message=f"no {kind} program is given: {error.message}",
        where=replace(error.where, line=None, stroke=None),
    )
