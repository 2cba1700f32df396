"""Where the art lies: the named pair sheet <-> skin, its projection, its distortion."""

from engine.layout.distortion import Distortion, distortion
from engine.layout.laying import lay_out
from engine.layout.layout import Layout
from engine.layout.placement import Eye, Fit, Placement, Projection, place
from engine.layout.straight import Bows, bows, sight, straight_lines
from engine.layout.tensor import area_stretch, stretch

__all__ = [
    "Bows",
    "Distortion",
    "Eye",
    "Fit",
    "Layout",
    "Placement",
    "Projection",
    "area_stretch",
    "bows",
    "distortion",
    "lay_out",
    "place",
    "sight",
    "straight_lines",
    "stretch",
]
