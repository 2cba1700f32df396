"""What should appear: regions and lines on a flat sheet."""

from engine.artwork.drawing import Drawing, Note

__all__ = ["Drawing", "Note"]
