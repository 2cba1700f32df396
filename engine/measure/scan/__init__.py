"""Meshes from a scanner: read, laid on an axis, sampled to r(x, theta)."""

from engine.measure.scan.axis import Axis, find_axis
from engine.measure.scan.mesh import Mesh
from engine.measure.scan.polar import Rays, polar
from engine.measure.scan.reading import read_mesh
from engine.measure.scan.skin import scan_skin
from engine.measure.scan.stl import is_binary_stl, like_cut_stl

__all__ = ["Axis", "Mesh", "Rays", "find_axis", "is_binary_stl", "like_cut_stl", "polar", "read_mesh", "scan_skin"]
