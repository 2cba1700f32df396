"""The medial axis of an outline, what is kept of it, and the strokes that run along it."""

from engine.marking.medial.axis import Medial, medial_axis, thinned
from engine.marking.medial.burn import pruned, spared, within
from engine.marking.medial.crossings import strokes_of
from engine.marking.medial.edges import Edges, edges_of, nearest, pulled_in
from engine.marking.medial.inset import Region, region_of
from engine.marking.medial.mesh import meshed
from engine.marking.medial.tips import blunted
from engine.marking.medial.trails import branches, trails

__all__ = [
    "Edges",
    "Medial",
    "Region",
    "blunted",
    "branches",
    "edges_of",
    "medial_axis",
    "meshed",
    "nearest",
    "pruned",
    "pulled_in",
    "region_of",
    "spared",
    "strokes_of",
    "thinned",
    "trails",
    "within",
]
