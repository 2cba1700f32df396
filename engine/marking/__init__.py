"""How the art is drawn with a point: strokes on the sheet, true-spaced on the skin."""

from engine.marking.hatch import Hatch, Lines
from engine.marking.outline import Outline
from engine.marking.strokes import Strokes
from engine.marking.style import Depth, Marked, Shows, Style

__all__ = ["STYLES", "Depth", "Hatch", "Lines", "Marked", "Outline", "Shows", "Strokes", "Style"]

STYLES: dict[str, type[Hatch] | type[Outline]] = {"hatch": Hatch, "outline": Outline}
