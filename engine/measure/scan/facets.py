"""How far a mesh of flat facets lies from the smooth skin it stands for, told by the angles between neighbours.

A chord of length h on a curve that turns by phi from chord to chord is h phi / 8 off its middle (the sagitta of an arc,
h^2 / 8 rho with rho = h / phi). A facet takes the sum over its edges, h its height over each: exact for strips along a
cylinder, 12 % too much for even triangles on a sphere (derived in tests/measure/scan/test_facets.py). Noise of the
scanner turns neighbours too, so that it is counted about as large as it is.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.measure.scan.mesh import Mesh

__all__ = ["Facets"]

CORNER_RAD = np.radians(40.0)  # neighbours turned by more meet at a true edge: a circle of under nine chords is none
RMS_SHARE = np.sqrt(8.0 / 15.0)  # root mean square of a parabola over its chord, of its greatest height


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facets:
    """normal : (m, 3) unit, 0 where a facet has no area. chord_mm : (m,) the sagitta over it."""

    normal: Floats
    chord_mm: Floats

    @classmethod
    def of(cls, mesh: Mesh) -> "Facets":
        """Of a mesh in mm."""
        corners = mesh.vertices[mesh.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        twice = np.linalg.norm(across, axis=1)
        normal = across / np.where(twice > 0, twice, 1.0)[:, None]
        one, other, length = _neighbours(mesh)
        whole = (twice[one] > 0) & (twice[other] > 0) & (length > 0)
        one, other, length = one[whole], other[whole], length[whole]
        sine = np.linalg.norm(np.cross(normal[one], normal[other]), axis=1)
        turn = np.arctan2(sine, np.abs((normal[one] * normal[other]).sum(axis=1)))  # some files mix the senses
        height = (twice[one] + twice[other]) / (2.0 * length)
        sagitta = np.where(turn < CORNER_RAD, turn * height / 8.0, 0.0)
        count = len(mesh.faces)
        chord = np.zeros(count)
        np.add.at(chord, one, sagitta)
        np.add.at(chord, other, sagitta)
        return cls(normal=normal, chord_mm=chord)


def _neighbours(mesh: Mesh) -> tuple[Ints, Ints, Floats]:
    """(k,) two facets for each edge that at least two share, and its length."""
    start = mesh.faces.T.ravel()
    end = np.roll(mesh.faces, -1, axis=1).T.ravel()
    key = np.minimum(start, end) * len(mesh.vertices) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    first, second = order[same], order[same + 1]
    edge = mesh.vertices[start[first]] - mesh.vertices[end[first]]
    count = len(mesh.faces)
    return first % count, second % count, np.linalg.norm(edge, axis=1)
