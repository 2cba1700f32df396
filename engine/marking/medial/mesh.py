"""Delaunay's triangles of many small sets of points, a batch of sets at a time.

Triangles between sets are of no use to who asks, so sets need not be in one mesh; and Qhull takes twice as long over a
point among a hundred thousand as among two thousand.
"""

import numpy as np
from scipy.spatial import Delaunay

from engine.kernel.arrays import Floats, Ints

__all__ = ["meshed"]

BATCH = 2_000  # points: by trial, Qhull takes 4 us over each up to here, 7 among 10,000, 10 among 100,000
LEAST = 64  # points that a batch has at least, where there are so many: four are a mesh, if they are not in a line


def meshed(points: Floats, owner: Ints) -> tuple[Ints, Ints]:
    """(n, 3) points of each triangle and (n, 3) the triangles beyond its sides, side k against corner k; -1: none.

    points : (m, 2). owner : (m,) the set that each is of, from 0. No point of another set is needed to tell whether a
    triangle of one set belongs to its mesh; what triangles join points of several sets depends on the batches.
    """
    order = np.argsort(owner, kind="stable")
    begin = np.flatnonzero(np.diff(owner[order], prepend=-1))
    cuts = [0]
    for at in begin[1:].tolist():
        if at - cuts[-1] >= BATCH and len(points) - at >= LEAST:
            cuts.append(at)
    corners, beside, held = [], [], 0
    for first, last in zip(cuts, [*cuts[1:], len(points)], strict=True):
        net = Delaunay(points[order[first:last]])
        corners.append(order[first:last][net.simplices])
        beside.append(np.where(net.neighbors >= 0, net.neighbors.astype(np.int64) + held, -1))
        held += len(net.simplices)
    return np.concatenate(corners), np.concatenate(beside)
