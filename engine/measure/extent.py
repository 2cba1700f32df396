"""Whether a piece has the size of a blank: one that has not was most likely read in another unit."""

from engine.kernel.findings import Finding, Severity, Where

__all__ = ["extent_told"]

LEAST_MM, MOST_MM = 10.0, 1000.0  # an inch read as a mm, or the other way, lands outside for most blanks; no source


def extent_told(greatest_mm: float, *, of: str, pointer: str) -> list[Finding]:
    """The warning `unit` where the greatest extent is that of no blank. of : what it was read from."""
    if LEAST_MM <= greatest_mm <= MOST_MM:
        return []
    return [
        Finding(
            severity=Severity.WARNING,
            code="unit",
            message=f"the piece is {greatest_mm:.4g} mm at its longest",
            advice=f"check the unit of the {of}: mm or inch, no other is taken",
            where=Where(pointer=pointer),
        )
    ]
