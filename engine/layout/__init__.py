"""Where the art lies: the named pair sheet <-> skin, its projection, its distortion."""

from engine.layout.distortion import Distortion, distortion
from engine.layout.laying import lay_out
from engine.layout.layout import Layout
from engine.layout.placement import Eye, Fit, Placement, Projection, place
from engine.layout.tensor import stretch

__all__ = ["Distortion", "Eye", "Fit", "Layout", "Placement", "Projection", "distortion", "lay_out", "place", "stretch"]
