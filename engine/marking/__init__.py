"""How the art is drawn with a point: strokes on the sheet, true-spaced on the skin."""

from engine.marking.centreline import Centreline
from engine.marking.halftone import Halftone
from engine.marking.hatch import Hatch, Lines
from engine.marking.judging import judge_lines
from engine.marking.outline import Outline
from engine.marking.relief import Relief
from engine.marking.rings import Rings
from engine.marking.stipple import Stipple
from engine.marking.strokes import Strokes
from engine.marking.style import Depth, Marked, Shows, Style
from engine.marking.v_depth import Clearing, VDepth

__all__ = [
    "STYLES",
    "Centreline",
    "Clearing",
    "Depth",
    "Halftone",
    "Hatch",
    "Lines",
    "Marked",
    "Outline",
    "Relief",
    "Rings",
    "Shows",
    "Stipple",
    "Strokes",
    "Style",
    "VDepth",
    "judge_lines",
]

STYLES: dict[str, type[Style]] = {
    "centreline": Centreline,
    "halftone": Halftone,
    "hatch": Hatch,
    "outline": Outline,
    "relief": Relief,
    "rings": Rings,
    "stipple": Stipple,
    "v-depth": VDepth,
}
