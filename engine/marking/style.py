"""What every marking style is: art and its layout in, strokes and findings out; and the table of styles."""

from dataclasses import dataclass
from enum import Enum
from math import inf
from typing import Protocol

from engine.artwork import Drawing
from engine.kernel.findings import Finding
from engine.layout import Layout
from engine.marking.strokes import Strokes

__all__ = ["Depth", "Marked", "Shows", "Style"]


class Depth(Enum):
    """How deep the art is asked to be, place by place.

    EVEN : as deep as the job asks. WEDGE : as deep as a cone reaches whose flanks touch the outline, at most as deep as
    the job asks. TONE : as much of the skin opened as the art is dark, nowhere deeper than the job asks. RELIEF : the
    share of the job's depth that the art is dark. MIDDLE : as deep as the job asks along the middle; the rest of the
    art may be cut, and need not.
    """

    EVEN = "even"
    WEDGE = "wedge"
    TONE = "tone"
    RELIEF = "relief"
    MIDDLE = "middle"

    @property
    def wants_tone(self) -> bool:
        """Whether a picture is read for its light and dark."""
        return self in (Depth.TONE, Depth.RELIEF)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shows:
    """What of the art a style cuts: the inside of its rings, the rings themselves, and how deep. shift_mm : how far
    outside the rings, on the skin, their lines run; less than 0: inside. chord_mm : how near to the depth asked the tip
    has to keep; inf: as near as ever.
    """

    fills: bool
    draws_rings: bool
    depth: Depth = Depth.EVEN
    shift_mm: float = 0.0
    chord_mm: float = inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marked:
    """Strokes on the sheet, and what is worth telling about them."""

    strokes: Strokes
    findings: tuple[Finding, ...] = ()


class Style(Protocol):
    """A style is a frozen value of its own options; marking is a pure function of it, the art and the layout."""

    @property
    def shows(self) -> Shows:
        """What of the art is cut: from this the wanted depth is laid down, without a look at the strokes."""

    def mark(self, drawing: Drawing, layout: Layout) -> Marked:
        """The strokes that draw `drawing` as it lies on `layout`; empty art gives empty strokes and a finding."""
