"""Stretches of the axis where the tool may not be low: jaws, a centre, a stem."""

from dataclasses import dataclass

__all__ = ["KeepOut"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """From one x to another, and why."""

    from_mm: float
    to_mm: float
    why: str = ""
