"""Closed outlines and a fill rule to the regions they fill, exactly; nothing is mended by buffering.

Source of the rules: SVG 2, section 13.4.2. Winding numbers are counted by signed crossings of a ray (K. Hormann,
A. Agathos, "The point in polygon problem for arbitrary polygons", Comput. Geom. 20 (2001) 131-144).
"""

from typing import Literal

import numpy as np
import shapely

from engine.artwork.limits import Limits
from engine.artwork.regions import Objects, polygons_of
from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.errors import TooBigError

__all__ = ["Rule", "fill"]

Rule = Literal["nonzero", "evenodd"]
SAMPLES = 500  # segments on which the number of crossings is estimated


def fill(points: Floats, offsets: Ints, rule: Rule, limits: Limits, where: str) -> Objects:
    """(n,) valid polygons, interiors disjoint, of what closed rings fill.

    points : (p, 2). offsets : (m + 1,) of m rings, closed or not (the closing edge is implied). Rings of fewer than
    three different points fill nothing. Rings that neither cross nor touch, the common case, are nested by
    containment; others are cut into faces, and each face takes the winding number of a point inside it.

    Raises
    ------
    TooBigError where the outline crosses itself too often.
    """
    if len(offsets) == 2 and len(points) > 2:  # one ring, the commonest of all, without the search for repeats
        solid = shapely.polygons(points[None])
        if shapely.is_valid(solid[0]) and not shapely.is_empty(solid[0]):
            return np.asarray(solid, object)
    rings = _closed(points, offsets)
    if not len(rings):
        return np.zeros(0, object)
    if len(rings) == 1 and bool(shapely.is_valid(shapely.polygons(rings[0]))):
        return np.asarray(shapely.polygons(rings), object)
    _check_crossings(rings, limits, where)
    if bool(shapely.is_simple(shapely.multilinestrings(_lines(rings)))):
        return _nested(rings, rule)
    return _faces(rings, rule)


def _closed(points: Floats, offsets: Ints) -> Objects:
    """(m,) linear rings; points repeated in a row are dropped, and rings of fewer than three points."""
    if not len(points):
        return np.zeros(0, object)
    owner = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    keep = np.ones(len(points), bool)
    keep[1:] = (points[1:] != points[:-1]).any(1) | (owner[1:] != owner[:-1])
    points, owner = points[keep], owner[keep]
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    last = np.append(first[1:], len(points)) - 1
    count = last - first + 1 - (points[first] == points[last]).all(1)
    good = np.isin(owner, owner[first[count >= 3]])
    if not good.any():
        return np.zeros(0, object)
    _, owner = np.unique(owner[good], return_inverse=True)
    return np.asarray(shapely.linearrings(points[good], indices=owner), object)  # closes each ring itself


def _lines(rings: Objects) -> Objects:
    """(m,) the rings as linestrings."""
    points, owner = shapely.get_coordinates(rings, return_index=True)
    return np.asarray(shapely.linestrings(points, indices=owner), object)


def _segments(rings: Objects) -> tuple[Floats, Floats]:
    """(s, 2) beginnings and ends of every ring's segments."""
    points, owner = shapely.get_coordinates(rings, return_index=True)
    same = owner[1:] == owner[:-1]
    return points[:-1][same], points[1:][same]


def _check_crossings(rings: Objects, limits: Limits, where: str) -> None:
    """Refuse a scribble whose crossings would fill the memory, judged by the boxes of evenly chosen segments."""
    a, b = _segments(rings)
    if len(a) < SAMPLES:
        return
    (left, low), (right, high) = np.minimum(a, b).T.copy(), np.maximum(a, b).T.copy()
    chosen = (np.arange(SAMPLES) * len(a) // SAMPLES).tolist()
    meet = sum(
        int(np.count_nonzero((left <= right[i]) & (right >= left[i]) & (low <= high[i]) & (high >= low[i])))
        for i in chosen
    )
    if meet * len(a) / SAMPLES / 2 > limits.crossings:
        raise TooBigError(f"the outline crosses itself over {limits.crossings:,} times", where=where)


def _nested(rings: Objects, rule: Rule) -> Objects:
    """Rings that do not meet: which ones bound the fill, and which hole lies in which shell."""
    solid = shapely.polygons(rings)
    turn = np.where(shapely.is_ccw(rings), 1, -1) if rule == "nonzero" else np.ones(len(rings), np.int64)
    inner, outer = shapely.STRtree(solid).query(shapely.get_point(rings, 0), predicate="within")
    inner, outer = inner[inner != outer], outer[inner != outer]
    around = np.rint(np.bincount(inner, turn[outer], len(rings))).astype(np.int64)  # winding just outside the ring
    within = around + turn
    if rule == "evenodd":
        around, within = around % 2, within % 2
    shell, hole = (within != 0) & (around == 0), (within == 0) & (around != 0)
    depth = np.bincount(inner, minlength=len(rings))
    owned = hole[inner] & shell[outer]
    order = np.lexsort((depth[outer[owned]], inner[owned]))
    child, owner = inner[owned][order], outer[owned][order]
    deepest = np.append(child[1:] != child[:-1], True) if len(child) else np.zeros(0, bool)
    child, owner = child[deepest], owner[deepest]  # the deepest shell around a hole is its own
    shells = np.flatnonzero(shell)
    owners = np.concatenate([np.arange(len(shells)), np.searchsorted(shells, owner)])
    order = np.argsort(owners, kind="stable")  # each shell before its holes
    bounds = np.concatenate([rings[shells], rings[child]])[order]
    return np.asarray(shapely.polygons(bounds, indices=owners[order]), object)


def _faces(rings: Objects, rule: Rule) -> Objects:
    """Rings that meet: cut into faces, keep those whose winding number counts, join them."""
    noded = shapely.union_all(_lines(rings))
    faces = polygons_of(shapely.polygonize(shapely.get_parts(noded)))
    if not len(faces):
        return faces
    number = _winding(shapely.get_coordinates(shapely.point_on_surface(faces)), rings)
    kept = faces[number % 2 != 0 if rule == "evenodd" else number != 0]
    return polygons_of(_joined(kept)) if len(kept) else kept


def _joined(faces: Objects) -> shapely.Geometry:
    """Faces that share edges as one region: quickly where their edges match to the last bit, else by overlay."""
    try:
        quick = shapely.coverage_union_all(faces)
    except shapely.errors.GEOSException:  # an edge was rounded differently on its two sides
        return shapely.union_all(faces)
    return quick if shapely.is_valid(quick) else shapely.union_all(faces)


def _winding(points: Floats, rings: Objects) -> Ints:
    """(n,) winding numbers of (n, 2) points about closed rings, none of them on a ring."""
    a, b = _segments(rings)
    order = np.lexsort((points[:, 0], points[:, 1]))
    out = np.zeros(len(points), np.int64)
    out[order] = _turns(points[order], a, b)
    return out


@compiled
def _turns(points: Floats, a: Floats, b: Floats) -> Ints:
    """(n,) signed crossings of the ray to the right from (n, 2) points that rise in y, by segments from a to b."""
    number = np.zeros(len(points), np.int64)
    for i in range(len(a)):
        low, high, turn = a[i], b[i], 1
        if low[1] > high[1]:
            low, high, turn = b[i], a[i], -1
        first = np.searchsorted(points[:, 1], low[1])
        for p in range(first, len(points)):
            if points[p, 1] >= high[1]:
                break
            x, y = points[p, 0], points[p, 1]
            if (high[0] - low[0]) * (y - low[1]) - (x - low[0]) * (high[1] - low[1]) > 0:
                number[p] += turn
    return number
