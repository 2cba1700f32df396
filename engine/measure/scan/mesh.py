"""A mesh of triangles, what a file may hold at most, and the two steps every reader shares: fanning and welding."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints, frozen_floats, frozen_ints
from engine.kernel.errors import BlankError
from engine.kernel.ragged import spread

__all__ = [
    "AGAIN",
    "MOST_BYTES",
    "MOST_CORNERS",
    "MOST_FACES",
    "MOST_VERTICES",
    "Mesh",
    "fanned",
    "mesh_fault",
    "too_large",
    "welded",
]

MOST_BYTES = 50 << 20  # a binary STL of MOST_FACES triangles still fits
MOST_FACES = 1_000_000  # after fanning
MOST_VERTICES = 3 * MOST_FACES
MOST_CORNERS = 4 * MOST_FACES  # before fanning
WIDEST = 1e6  # in the file's own unit: coordinates beyond this are no blank and lose digits
WHERE = "/asset"
AGAIN = "the file is cut short or damaged: export the scan again"


def mesh_fault(message: str, hint: str) -> BlankError:
    """The error of a file that is no usable mesh."""
    return BlankError(message, where=WHERE, hint=hint)


def too_large() -> BlankError:
    """The error of a mesh beyond MOST_FACES, or beyond what so many can hold."""
    return mesh_fault("the mesh is too large", f"thin it to at most {MOST_FACES:,} triangles")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Triangles as a file gives them, in its own unit.

    vertices : (n, 3). faces : (m, 3) three vertices each, right-handed seen from outside where the file says so.
    Raises BlankError where a coordinate is not finite or beyond WIDEST, an index is out of range, or faces are none or
    too many.
    """

    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        vertices, faces = frozen_floats(self.vertices), frozen_ints(self.faces)
        if vertices.ndim != 2 or faces.ndim != 2 or vertices.shape[1:] != (3,) or faces.shape[1:] != (3,):
            raise ValueError("vertices and faces are (n, 3)")
        if len(faces) == 0:
            raise mesh_fault("the mesh has no faces", "export the scan as a surface of triangles, not as points")
        if len(faces) > MOST_FACES or len(vertices) > MOST_VERTICES:
            raise too_large()
        if not (np.abs(vertices) <= WIDEST).all():  # NaN lands here too
            bad = int(np.argmin((np.abs(vertices) <= WIDEST).all(axis=1)))
            raise mesh_fault(
                f"vertex {bad + 1} is not three numbers within ±{WIDEST:,.0f}", "export the scan again, in mm"
            )
        if faces.min() < 0 or faces.max() >= len(vertices):
            bad = int(np.argmax(((faces < 0) | (faces >= len(vertices))).any(axis=1)))
            raise mesh_fault(
                f"triangle {bad + 1} names a vertex that is not there ({len(vertices)} are)",
                AGAIN,
            )
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)

    @property
    def used(self) -> Floats:
        """(k, 3) the vertices that faces name: a file may hold others."""
        named = np.zeros(len(self.vertices), np.bool_)
        named[self.faces] = True
        return self.vertices[named]

    @property
    def extent(self) -> Floats:
        """(3,) length along each of the file's axes of what the faces use."""
        used = self.used
        return np.asarray(used.max(axis=0) - used.min(axis=0))

    def scaled(self, factor: float) -> "Mesh":
        """The same with every coordinate times `factor`."""
        return self if factor == 1.0 else Mesh(vertices=self.vertices * factor, faces=self.faces)


def fanned(corners: Ints, sizes: Ints) -> Ints:
    """(m, 3) triangles of polygons: each is a fan from its first corner, right for convex ones.

    corners : flat, polygon after polygon. sizes : (k,) corners of each; BlankError where one is below 3.
    """
    if len(sizes) and sizes.min() < 3:
        raise mesh_fault(f"face {int(np.argmax(sizes < 3)) + 1} has under 3 corners", "export the scan as triangles")
    if int((sizes - 2).sum()) > MOST_FACES:
        raise too_large()
    if len(sizes) and (sizes == 3).all():
        return corners.reshape(-1, 3)
    first = np.cumsum(sizes) - sizes
    count = sizes - 2
    start = np.repeat(first, count)
    within = spread(0, count)
    return np.stack([corners[start], corners[start + within + 1], corners[start + within + 2]], axis=1)


def welded(corners: Floats) -> Mesh:
    """A mesh of loose triangles (m, 3, 3): corners of equal coordinates become one vertex, in order of x, y, z."""
    points = corners.reshape(-1, 3) + 0.0  # -0 is 0
    if not np.isfinite(points).all():
        bad = int(np.argmin(np.isfinite(points).all(axis=1)))
        raise mesh_fault(f"triangle {bad // 3 + 1} has a corner that is no number", "export the scan again")
    order = np.lexsort(points.T[::-1])
    ranked = points[order]
    new = np.ones(len(ranked), np.bool_)
    new[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
    index = np.zeros(len(ranked), np.int64)
    index[order] = np.cumsum(new) - 1
    return Mesh(vertices=ranked[new], faces=index.reshape(-1, 3))
