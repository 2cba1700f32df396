"""What is asked of a piece of lettering: the words, the face, the size, and what the lines run along."""

from dataclasses import dataclass
from enum import Enum

from engine.kernel.errors import ArtworkError

__all__ = ["Align", "Along", "Direction", "Text"]


class Align(Enum):
    """Where lines of unlike length meet."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


class Direction(Enum):
    """The way a line runs: by its own first letter of a strong direction, or as stated."""

    AUTO = "auto"
    LTR = "ltr"
    RTL = "rtl"


class Along(Enum):
    """What the lines run along: round the blank, along its axis, a helix that climbs evenly, or an arc."""

    LINE = "line"
    AXIS = "axis"
    HELIX = "helix"
    ARC = "arc"


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Lettering as asked.

    string : lines parted by newlines. font : a shipped face's name, or the id of an uploaded font. size_mm : height of
    a plain capital. line_spacing : share of the face's own distance of lines. letter_spacing_mm : between letters, more
    or less than the face's own. features : OpenType features by tag; "-" before one turns it off. radius_mm : of an
    arc, at the first line's foot; above 0 it bulges up. climb_deg : of a helix, counter-clockwise from sheet right.
    true_size : letters stand at their true height on the skin along their line, whatever the projection does to them.
    """

    string: str
    font: str = "sans"
    size_mm: float = 5.0
    align: Align = Align.CENTRE
    line_spacing: float = 1.0
    letter_spacing_mm: float = 0.0
    direction: Direction = Direction.AUTO
    features: tuple[str, ...] = ()
    along: Along = Along.LINE
    radius_mm: float | None = None
    climb_deg: float = 0.0
    true_size: bool = True

    def __post_init__(self) -> None:
        if not 0 < self.size_mm < float("inf"):
            raise ArtworkError("lettering needs a height above 0", where="text/size_mm")
        if (self.along is Along.ARC) != (self.radius_mm is not None):
            raise ArtworkError("a radius goes with lettering along an arc, and only there", where="text/radius_mm")
        if self.radius_mm is not None and not 0 < abs(self.radius_mm) < float("inf"):
            raise ArtworkError("an arc needs a radius other than 0", where="text/radius_mm")

    @property
    def turn_deg(self) -> float:
        """How far the lines are turned on the sheet, counter-clockwise."""
        return {Along.AXIS: 90.0, Along.HELIX: self.climb_deg}.get(self.along, 0.0)
