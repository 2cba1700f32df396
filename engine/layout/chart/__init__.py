"""A sheet fitted to the art's own patch of any skin: angle-true with the least change of scale, or least strained."""

from engine.layout.chart.fitted import Fitted
from engine.layout.chart.fitting import fitted
from engine.layout.chart.patch import Patch

__all__ = ["Fitted", "Patch", "fitted"]
