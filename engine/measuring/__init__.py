"""Measuring, read aloud: from what a person has at hand to a skin for a job; one way for each route."""

from engine.measuring.answer import Answer
from engine.measuring.edges import card_svg
from engine.measuring.ways import WAYS, check_measure, measure

__all__ = ["WAYS", "Answer", "card_svg", "check_measure", "measure"]
