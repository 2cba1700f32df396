"""A finding: something worth telling beside a result, with its place and what to do about it."""

from dataclasses import dataclass, field
from enum import Enum
from math import degrees

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

    @classmethod
    def on_skin(cls, x_mm: float, theta_rad: float, *, pointer: str | None = None) -> "Where":
        """A place of the skin, to a micrometre and a thousandth of a degree, at an angle from 0 to under 360."""
        return cls(pointer=pointer, x_mm=round(float(x_mm), 3), angle_deg=round(degrees(theta_rad), 3) % 360.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """`code` is a short fixed name in kebab case; `message` says what and how much, `advice` what to do."""

    severity: Severity
    code: str
    message: str
    advice: str = ""
    where: Where = field(default_factory=Where)
