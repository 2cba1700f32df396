"""A finding: something worth telling beside a result, with its place and what to do about it."""

from dataclasses import dataclass, field
from enum import Enum

__all__ = ["Finding", "Severity", "Where"]


class Severity(Enum):
    """`error` withholds the program, `warning` is acknowledged first, `note` is for information."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """The place a finding speaks of; every field that is known."""

    pointer: str | None = None
    line: int | None = None
    stroke: int | None = None
    x_mm: float | None = None
    angle_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """`code` is a short fixed name in kebab case; `message` says what and how much, `advice` what to do."""

    severity: Severity
    code: str
    message: str
    advice: str = ""
    where: Where = field(default_factory=Where)
