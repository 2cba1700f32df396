"""The artwork stage: bytes of a picture or an SVG file to what should appear on a flat sheet."""

from engine.artwork.darkness import Darkness
from engine.artwork.drawing import Drawing, Note
from engine.artwork.limits import Limits
from engine.artwork.reading import Description, describe, read_artwork, read_photograph
from engine.artwork.tone import Tone

__all__ = [
    "Darkness",
    "Description",
    "Drawing",
    "Limits",
    "Note",
    "Tone",
    "describe",
    "read_artwork",
    "read_photograph",
]
