"""Edits of photographs: pure, from greys and a value that says what is done to other greys; the file stays as it is."""

from engine.artwork.picture.card import ToneCard, measured_card, tone_card
from engine.artwork.picture.editing import as_placed, edited
from engine.artwork.picture.edits import Background, Crop, Detail, Edits, Levels
from engine.artwork.picture.preview import picture_preview
from engine.artwork.picture.response import Response

__all__ = [
    "Background",
    "Crop",
    "Detail",
    "Edits",
    "Levels",
    "Response",
    "ToneCard",
    "as_placed",
    "edited",
    "measured_card",
    "picture_preview",
    "tone_card",
]
