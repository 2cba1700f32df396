"""The artwork stage: bytes of a picture, an SVG or a DXF file to what should appear on a flat sheet."""

from engine.artwork.darkness import LIGHTEST, Darkness
from engine.artwork.drawing import Drawing, Note
from engine.artwork.dxf import DrawingChoice
from engine.artwork.limits import Limits
from engine.artwork.picture import (
    Background,
    Crop,
    Detail,
    Edits,
    Levels,
    Response,
    ToneCard,
    measured_card,
    picture_preview,
    tone_card,
)
from engine.artwork.reading import Description, describe, read_artwork, read_grey, read_photograph
from engine.artwork.tone import Tone

__all__ = [
    "LIGHTEST",
    "Background",
    "Crop",
    "Darkness",
    "Description",
    "Detail",
    "Drawing",
    "DrawingChoice",
    "Edits",
    "Levels",
    "Limits",
    "Note",
    "Response",
    "Tone",
    "ToneCard",
    "describe",
    "measured_card",
    "picture_preview",
    "read_artwork",
    "read_grey",
    "read_photograph",
    "tone_card",
]
