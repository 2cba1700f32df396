"""Parts of a finished plan's report, JSON-ready, in the contract's words."""

from collections.abc import Mapping, Sequence
from typing import Any

from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.outcome.cautions import CAUTIONS

__all__ = ["cautions", "defaults_taken", "finding_facts", "forbids", "ordered"]

_RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def ordered(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Errors first, then warnings, then notes; each kind in the order found."""
    return tuple(sorted(findings, key=lambda f: _RANK[f.severity]))


def forbids(findings: Sequence[Finding]) -> bool:
    """Whether a finding withholds the program."""
    return any(f.severity is Severity.ERROR for f in findings)


def finding_facts(finding: Finding) -> dict[str, Any]:
    """One finding as the contract words it; only the places that are known stand in `where`."""
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
    }


def defaults_taken(job: Job) -> list[dict[str, Any]]:
    """Each field that the document left out, and the value it took."""
    return [{"pointer": place, "value": value} for place, value in job.defaults]


def cautions() -> list[Mapping[str, str]]:
    """The cautions, JSON-ready."""
    return [{"about": about, "text": text, "see": see} for about, text, see in CAUTIONS]
