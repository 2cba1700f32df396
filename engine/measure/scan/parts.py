"""Which faces of a mesh hang together: strays, a table or a clamp left in a scan are parts of their own."""

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from engine.kernel.arrays import Floats, Ints
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.scan.mesh import Mesh, welded
from engine.measure.scan.polar import Rays

__all__ = ["parts", "parts_told"]


def parts(mesh: Mesh) -> Ints:
    """(m,) the part of each face, from 0; faces with a vertex in common, or at the same place, are of one part."""
    own = _joined(mesh.faces, len(mesh.vertices))
    if own.max() == 0:
        return own
    one = welded(mesh.vertices[mesh.faces])  # some files give every face corners of its own
    return _joined(one.faces, len(one.vertices))


def _joined(faces: Ints, count: int) -> Ints:
    start, end = np.concatenate([faces[:, 0], faces[:, 0]]), np.concatenate([faces[:, 1], faces[:, 2]])
    links = sparse.csr_matrix((np.ones(len(start)), (start, end)), (count, count))
    _, part = csgraph.connected_components(links, directed=False)
    _, named = np.unique(part[faces[:, 0]], return_inverse=True)
    return np.asarray(named, np.int64).ravel()


def parts_told(mesh: Mesh, within: Floats, met: Rays, kept: Rays) -> list[Finding]:
    """`loose-parts`, where the mesh is of several: a note where all but the main one lie inside it, else a warning.

    The main part has the most faces. within : (n, 3) the vertices in the axis frame. met : rays of the whole length.
    kept : the same without those that met the back of a facet. A part that no kept ray met as the outermost, nor any
    ray further out than the main one at that station, and that does not pass its ends, is an inner wall.
    """
    part = parts(mesh)
    size = np.bincount(part)
    if len(size) == 1:
        return []
    main = int(np.argmax(size))
    along = within[:, 0][mesh.faces]
    low, high = along.min(axis=1), along.max(axis=1)
    own = part == main
    outer = (low < low[own].min()) | (high > high[own].max())
    outer[kept.face[kept.met]] = True
    mains = met.met & own[met.face]
    widest = np.where(mains, met.radius_mm, 0.0).max(axis=1, keepdims=True)
    outer[met.face[met.met & (met.radius_mm > widest)]] = True
    loose = np.bincount(part, weights=outer, minlength=len(size)) > 0
    loose[main] = False
    outside = bool(loose.any())
    others = loose if outside else np.arange(len(size)) != main
    biggest = int(np.argmax(np.where(others, size, 0)))
    points = within[mesh.faces[part == biggest]].reshape(-1, 3)
    x, y, z = points.mean(axis=0)
    long = float(np.ptp(points, axis=0).max())
    far = float(np.hypot(points[:, 1], points[:, 2]).max())
    angle = float(np.degrees(np.arctan2(z, y))) % 360.0
    return [
        Finding(
            severity=Severity.WARNING if outside else Severity.NOTE,
            code="loose-parts",
            message=f"{int(others.sum())} of the scan's {len(size)} parts hang together with no other and lie "
            f"{'outside' if outside else 'inside'} the main one; the biggest has {size[biggest]:,} triangles, is "
            f"{long:.3g} mm long near x {x:.1f}, angle {angle:.0f} and reaches {far:.4g} mm from the axis",
            advice="remove the table, the clamp and strays from the scan" if outside else "",
            where=Where(x_mm=round(float(x), 3), angle_deg=round(angle, 3)),
        )
    ]
