"""OBJ: its `v` and `f` lines; polygons are fanned, indices count from 1 or back from the last vertex.

Everything else (normals, texture, groups, curves) is passed over, and no other file is looked for. The format holds no
count, so a file cut short between two faces is a mesh with a hole.
"""

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.measure.scan.mesh import MOST_CORNERS, MOST_VERTICES, Mesh, fanned, mesh_fault, too_large
from engine.measure.scan.tokens import line_chunks, real_numbers, whole_numbers

__all__ = ["read_obj"]


def read_obj(data: bytes) -> Mesh:
    """The mesh; BlankError where a line is not whole or an index is out of range."""
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    points: list[Floats] = []
    corners: list[Ints] = []
    sizes: list[Ints] = []
    vertices, turns = 0, 0
    for chunk in line_chunks(text):
        rows = [line.split() for line in chunk.split(b"\n") if line.lstrip()[:2] in _KEPT]
        is_vertex = np.array([row[0] == b"v" for row in rows], np.bool_)
        points.append(_points([row for row in rows if row[0] == b"v"], vertices))
        seen = vertices + np.cumsum(is_vertex)[~is_vertex]
        index, size = _corners([row for row in rows if row[0] == b"f"], seen)
        corners.append(index)
        sizes.append(size)
        vertices += len(points[-1])
        turns += len(index)
        if vertices > MOST_VERTICES or turns > MOST_CORNERS:
            raise too_large()
    if not turns:
        raise mesh_fault("the file has no faces", "export the scan as a surface of triangles, not as points")
    return Mesh(vertices=np.concatenate(points), faces=fanned(np.concatenate(corners), np.concatenate(sizes)))


_KEPT = frozenset((b"v ", b"v\t", b"f ", b"f\t", b"v", b"f"))


def _points(rows: list[list[bytes]], before: int) -> Floats:
    """(k, 3): x, y, z; a weight or a colour may follow."""
    if any(len(row) < 4 for row in rows):
        bad = next(k for k, row in enumerate(rows) if len(row) < 4)
        raise mesh_fault(f"vertex {before + bad + 1} has under three numbers", "export the scan again")
    return real_numbers([word for row in rows for word in row[1:4]], "a vertex's coordinate").reshape(-1, 3)


def _corners(rows: list[list[bytes]], seen: Ints) -> tuple[Ints, Ints]:
    """Flat corners, counted from 0, and how many each face has. seen : (k,) vertices above each face's line."""
    sizes = np.array([len(row) - 1 for row in rows], np.int64)
    words = [word.partition(b"/")[0] for row in rows for word in row[1:]]
    index = whole_numbers(words, "a face's corner")
    back = index < 0
    index = np.where(back, index + np.repeat(seen, sizes), index - 1)
    if (index < 0).any():
        raise mesh_fault("a face names a vertex before the first, which is 1", "export the scan again")
    return index, sizes
