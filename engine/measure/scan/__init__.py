"""Meshes from a scanner: read, laid on an axis, sampled to r(x, theta)."""

from engine.measure.scan.axis import Axis, find_axis
from engine.measure.scan.mesh import Mesh
from engine.measure.scan.polar import Rays, polar
from engine.measure.scan.reading import read_mesh
from engine.measure.scan.skin import scan_skin

__all__ = ["Axis", "Mesh", "Rays", "find_axis", "polar", "read_mesh", "scan_skin"]
