"""What every marking style is: art and its layout in, strokes and findings out; and the table of styles."""

from dataclasses import dataclass
from typing import Protocol

from engine.artwork import Drawing
from engine.kernel.findings import Finding
from engine.layout import Layout
from engine.marking.strokes import Strokes

__all__ = ["Marked", "Style"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marked:
    """Strokes on the sheet, and what is worth telling about them."""

    strokes: Strokes
    findings: tuple[Finding, ...] = ()


class Style(Protocol):
    """A style is a frozen value of its own options; marking is a pure function of it, the art and the layout."""

    @property
    def fills(self) -> bool:
        """Whether the inside of the art's rings is cut."""

    @property
    def draws_rings(self) -> bool:
        """Whether the rings themselves are cut."""

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes that draw `drawing` as it lies on `layout`; empty art gives empty strokes and a finding."""
