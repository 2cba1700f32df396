"""Unions and differences of many polygons, each group of those that may meet by itself.

GEOS looks at each part of a geometry against all others; art in thousands of pieces would take the square of them.
"""

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from engine.artwork.regions import Objects, polygons_of
from engine.kernel.arrays import Floats, Ints

__all__ = ["groups", "less", "united"]


def groups(bounds: Floats) -> Ints:
    """(n,) the group, from 0, of each box (n, 4): boxes of different groups do not meet, so nor does what they hold."""
    boxes, count = shapely.box(*bounds.T), len(bounds)
    i, j = shapely.STRtree(boxes).query(boxes)
    _, group = connected_components(coo_matrix((np.ones(len(i)), (i, j)), shape=(count, count)), directed=False)
    return np.asarray(group, np.int64)


def less(whole: Objects, part: Objects) -> Objects:
    """(m,) polygons of what of (n,) polygons is not in (k,) others; each of the two disjoint in themselves."""
    if not len(part) or not len(whole):
        return whole
    group = groups(shapely.bounds(np.concatenate([whole, part])))
    of, by = _gathered(whole, group[: len(whole)], group.max()), _gathered(part, group[len(whole) :], group.max())
    return polygons_of(shapely.difference(of, by))


def united(polygons: Objects) -> Objects:
    """(m,) disjoint polygons of all places in any of (n,)."""
    if not len(polygons):
        return polygons
    group = groups(shapely.bounds(polygons))
    alone = np.bincount(group)[group] == 1
    _, group = np.unique(group[~alone], return_inverse=True)
    met = _gathered(polygons[~alone], group, group.max(initial=-1))
    return np.concatenate([polygons[alone], polygons_of(shapely.union_all(met[:, None], axis=1))])


def _gathered(polygons: Objects, group: Ints, last: int) -> Objects:
    """(last + 1,) multipolygons, one a group."""
    out = np.full(last + 1, shapely.MultiPolygon(), object)
    order = np.argsort(group, kind="stable")
    return np.asarray(shapely.multipolygons(polygons[order], indices=group[order], out=out), object)
