"""Stroke ordering on the (x, theta) cylinder, in machine time."""

from engine.toolpath.ordering.costs import Axes, hop_ticks, travel_ticks
from engine.toolpath.ordering.solve import Effort, Ordering, order
from engine.toolpath.ordering.turns import whole_turns

__all__ = ["Axes", "Effort", "Ordering", "hop_ticks", "order", "travel_ticks", "whole_turns"]
