"""The report of a finished plan, JSON-ready, in the words that scripts rely on."""

from collections.abc import Mapping, Sequence
from typing import Any
from zlib import crc32

from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.outcome.binding import PLANNER, job_code
from engine.outcome.cautions import CAUTIONS
from engine.outcome.programs import Setup, Written, tools_of
from engine.proof import Proof, Sureness

__all__ = ["cautions", "finding_facts", "forbids", "full_report", "ordered", "proof_facts", "without_strokes"]

_RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def ordered(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Errors first, then warnings, then notes; each kind in the order found."""
    return tuple(sorted(findings, key=lambda f: _RANK[f.severity]))


def forbids(findings: Sequence[Finding]) -> bool:
    """Whether a finding withholds the program."""
    return any(f.severity is Severity.ERROR for f in findings)


def mark_of(finding: Finding) -> str:
    """What an acknowledgement of just this finding is kept as: its code and the CRC-32 of its words."""
    return f"{finding.code}:{crc32(finding.message.encode()):08x}"


def finding_facts(finding: Finding) -> dict[str, Any]:
    """One finding as a report words it; only the places that are known stand in `where`."""
    where = finding.where
    places = {
        "pointer": where.pointer,
        "line": where.line,
        "stroke": where.stroke,
        "x_mm": None if where.x_mm is None else round(where.x_mm, 3),
        "angle_deg": None if where.angle_deg is None else round(where.angle_deg, 3),
    }
    return {
        "severity": finding.severity.value,
        "code": finding.code,
        "message": finding.message,
        "where": {name: value for name, value in places.items() if value is not None},
        "advice": finding.advice,
        "mark": mark_of(finding),
    }


def _defaults(job: Job) -> list[dict[str, Any]]:
    """Each field that the document left out, and the value it took."""
    return [{"pointer": place, "value": value} for place, value in job.defaults]


def cautions() -> list[Mapping[str, str]]:
    """The cautions, JSON-ready."""
    return [{"about": about, "text": text, "see": see} for about, text, see in CAUTIONS]


def without_strokes(job: Job, findings: Sequence[Finding]) -> dict[str, Any]:
    """The report of a plan in which nothing is cut: what was found and what was taken for granted."""
    return {
        "findings": [finding_facts(f) for f in findings],
        "strokes": 0,
        "points": 0,
        "defaults": _defaults(job),
        "cautions": cautions(),
    }


def full_report(
    setup: Setup,
    written: Sequence[Written],
    proof: Proof,
    findings: Sequence[Finding],
    *,
    scale: tuple[float, float],
    sigma_mm: tuple[float, float],
) -> dict[str, Any]:
    """The report of a plan with a program; depth, fidelity and lengths are the proof's, read off the text.

    written : the engraving, then what is given beside it. scale, sigma_mm : (least, greatest) over the art, of mm on
    the skin for a mm on the sheet and of the skin's standard deviation.
    """
    engraving = written[0]
    program, path = engraving.program, engraving.path
    return (
        without_strokes(setup.job, findings)
        | proof_facts(proof, findings)
        | {
            "strokes": int(path.stroke.max()),
            "points": len(path),
            "time_s": {name: round(value, 2) for name, value in engraving.times_s.items()},
            "extent": engraving.extent,
            "scale": {"least": round(scale[0], 4), "greatest": round(scale[1], 4)},
            "skin_error_mm": {"least": round(sigma_mm[0], 4), "greatest": round(sigma_mm[1], 4)},
            "touch_off": setup.touch.facts(),
            "tools": tools_of(setup, engraving, proof),
            "program": {
                "sha256": program.sha256,
                "body_sha256": program.body_sha256,
                "check_code": program.check_code,
                "job_code": job_code(setup.job),
                "planner": PLANNER,
                "lines": len(program.line_row),
                "slowed_blocks": program.slowed,
                "withheld": forbids(findings),
                "kinds": [] if forbids(findings) else [one.kind for one in written],
            },
        }
    )


def proof_facts(proof: Proof, findings: Sequence[Finding]) -> dict[str, Any]:
    """What the proof says of a text alone; fidelity is null where there was no art to compare it with."""
    fidelity = proof.fidelity
    return {
        "findings": [finding_facts(f) for f in findings],
        "depth_mm": {"least": round(proof.depth_mm[0], 4), "greatest": round(proof.depth_mm[1], 4)},
        "fidelity": None
        if fidelity is None
        else {name: round(getattr(fidelity, name), 4) for name in ("cut_on_art", "art_cut", "art_half")}
        | {"tone": None if proof.tone is None else round(proof.tone, 4)}
        | (
            {}
            if proof.toned is None
            else {"tone_off": round(proof.toned.off, 4), "tone_bias": round(proof.toned.bias, 4)}
        ),
        "made": {
            "removed_mm3": round(proof.made.removed_mm3, 3),
            "line_mm": None
            if proof.made.line_mm is None
            else dict(zip(("least", "median"), (round(v, 3) for v in proof.made.line_mm), strict=True)),
            "wall_left_mm": None if proof.made.wall_left_mm is None else round(proof.made.wall_left_mm, 4),
        },
        "sure": None if proof.sure is None else _sure_facts(proof.sure),
        "cut_mm": round(proof.cut_mm, 2),
        "travel_mm": round(proof.travel_mm, 2),
    }


def _sure_facts(sure: Sureness) -> dict[str, Any]:
    """Shares of the cut that may come out otherwise, and what would mark all of it."""
    facts: dict[str, Any] = {
        name: {key: round(getattr(share, key), 4) for key in ("mean", "low", "high")}
        for name, share in (("unmarked", sure.unmarked), ("too_deep", sure.too_deep))
    }
    told = sure.advice
    return facts | {"advice": {"depth_mm": told.depth_mm, "passes": told.passes, "why": told.why}}
