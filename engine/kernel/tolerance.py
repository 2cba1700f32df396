"""How exact the house is, as one value that is passed in; nothing here is global state."""

from dataclasses import dataclass

__all__ = ["Tolerance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """chord_mm: a straight move from the true curve, on the skin. deeper_mm: below the asked depth, the worse side.

    level_mm: a fall of this much along a climbing stroke is noise, not a hill (`direction` of a piece of art).
    """

    chord_mm: float = 0.01
    deeper_mm: float = 0.001
    level_mm: float = 0.02
