"""Photographs to a skin: the found edge, the lens, and the rays that touch the piece."""

from engine.measure.photographs.camera import Setup
from engine.measure.photographs.card import Paper, card_svg
from engine.measure.photographs.card_reading import CardView, read_card
from engine.measure.photographs.edge import Edge, find_edge
from engine.measure.photographs.lens import Lens, lens_from_cards
from engine.measure.photographs.mending import NO_MEND, Mend
from engine.measure.photographs.skin import skin_from_edges

__all__ = [
    "NO_MEND",
    "CardView",
    "Edge",
    "Lens",
    "Mend",
    "Paper",
    "Setup",
    "card_svg",
    "find_edge",
    "lens_from_cards",
    "read_card",
    "skin_from_edges",
]
