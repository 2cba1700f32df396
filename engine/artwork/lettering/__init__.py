"""Lettering: typed words in a shipped or an uploaded face to a drawing."""

from engine.artwork.lettering.arc import Arc, parted
from engine.artwork.lettering.faces import FACES, STROKE_FACES
from engine.artwork.lettering.outline_face import read_font
from engine.artwork.lettering.setting import Lettering, set_text
from engine.artwork.lettering.text import Align, Along, Direction, Text

__all__ = [
    "FACES",
    "STROKE_FACES",
    "Align",
    "Along",
    "Arc",
    "Direction",
    "Lettering",
    "Text",
    "parted",
    "read_font",
    "set_text",
]
