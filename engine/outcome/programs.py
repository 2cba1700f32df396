"""All programs of a plan, written from the same path: the engraving, the air run, the walk, and the rest of a run."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from engine.blank import Skin
from engine.job import Job
from engine.kernel.findings import Finding
from engine.kernel.values import Path
from engine.machine import limits_of, path_motion
from engine.outcome.header import header
from engine.outcome.touch_off import TouchOff
from engine.outcome.words import blank_words, extent_facts, span_words
from engine.program import Program, air, resume, write

__all__ = ["Programs", "write_engraving", "write_programs"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Programs:
    """The programs as text, and what they take. times_s : the engraving's total, cutting, plunging and travel.
    whole_s : seconds of each kind.
    """

    job: Job
    skin: Skin
    path: Path
    touch: TouchOff
    findings: tuple[Finding, ...]
    engrave: Program
    air: Program
    walk: Program
    times_s: Mapping[str, float]
    whole_s: Mapping[str, float]
    extent: Mapping[str, Sequence[float]] = field(default_factory=dict)

    def by_kind(self) -> dict[str, Program]:
        """The whole programs."""
        return {"engrave": self.engrave, "air": self.air, "walk": self.walk}

    def rest(self, stroke: int) -> Program:
        """The engraving from a stroke on. ProgramError where there is no such stroke."""
        way = resume(self.path, stroke)
        return _written(self.job, self.skin, way, self.touch, self.findings, "engrave")[0]


def write_engraving(job: Job, skin: Skin, path: Path, touch: TouchOff, findings: Sequence[Finding]) -> Program:
    """The engraving alone, for the proof to read."""
    return _written(job, skin, path, touch, findings, "engrave")[0]


def write_programs(
    job: Job, skin: Skin, path: Path, round_the_art: Path, touch: TouchOff, findings: Sequence[Finding]
) -> Programs:
    """Write them all. ProgramError where a line of the shop's own cannot stand in a program."""
    deepest = max(item.depth_mm for item in job.items)
    lifted = air(path, lift_mm=deepest + job.machine.clearance_mm)
    written = {
        kind: _written(job, skin, way, touch, findings, kind)
        for kind, way in (("engrave", path), ("air", lifted), ("walk", round_the_art))
    }
    parts = path_motion(path, limits_of(job.machine)).split(path.kind[1:])
    return Programs(
        job=job,
        skin=skin,
        path=path,
        touch=touch,
        findings=tuple(findings),
        engrave=written["engrave"][0],
        air=written["air"][0],
        walk=written["walk"][0],
        times_s={"total": written["engrave"][1], "cutting": parts["cutting"], "travel": parts["travel"]}
        | {"plunge": parts["plunging"]},
        whole_s={kind: seconds for kind, (_, seconds) in written.items()},
        extent=extent_facts(path.x_mm, path.theta_rad, path.r_mm),
    )


def _written(
    job: Job, skin: Skin, path: Path, touch: TouchOff, findings: Sequence[Finding], kind: str
) -> tuple[Program, float]:
    """One program and the seconds it takes from its first row on."""
    seconds = float(path_motion(path, limits_of(job.machine)).seconds.sum())
    says = header(
        job,
        kind=kind,
        blank=blank_words(job, skin),
        touch=touch,
        time_s=seconds,
        extent=span_words(extent_facts(path.x_mm, path.theta_rad, path.r_mm)),
        findings=findings,
    )
    spindle = kind == "engrave"
    made = write(path, job.machine, zero_r_mm=touch.zero_r_mm, rpm=job.rpm, header=says, spindle=spindle)
    return made, seconds
