"""Photographs to a skin: the found edge, the lens, and the rays that touch the piece."""

from engine.measure.photographs.edge import Edge, find_edge
from engine.measure.photographs.mending import NO_MEND, Mend

__all__ = [
    "NO_MEND",
    "Edge",
    "Mend",
    "find_edge",
]
