"""A sheet fitted to the art's own patch of any skin: angle-true with the least change of scale, or least strained."""

from engine.layout.chart.fitted import Fitted
from engine.layout.chart.fitting import fitted
from engine.layout.chart.footprint import Footprint

__all__ = ["Fitted", "Footprint", "fitted"]
