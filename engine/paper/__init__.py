"""Paper first: the art at its true size, to be cut out, wrapped round the blank and looked at before it is engraved."""

from engine.paper.flat import Flat, flats_of
from engine.paper.pages import Paper, paper_pdf

__all__ = ["Flat", "Paper", "flats_of", "paper_pdf"]
