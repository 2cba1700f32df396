"""The artwork stage: bytes of a picture, an SVG or a DXF file to what should appear on a flat sheet."""

from engine.artwork.darkness import Darkness
from engine.artwork.drawing import Drawing, Note
from engine.artwork.dxf import DrawingChoice
from engine.artwork.limits import Limits
from engine.artwork.reading import Description, describe, read_artwork, read_photograph
from engine.artwork.tone import Tone

__all__ = [
    "Darkness",
    "Description",
    "Drawing",
    "DrawingChoice",
    "Limits",
    "Note",
    "Tone",
    "describe",
    "read_artwork",
    "read_photograph",
]
