"""Greys on a grid to regions with sub-pixel edges.

Takes (h, w) greys and a level, gives polygons with holes in pixels, x to the right and y DOWN from the upper left
corner of the upper left pixel. What is darker than the level is inside. A grey stands at its pixel's middle and runs
straight to its neighbours' (marching squares); the outer edge of an outer pixel is the edge of the picture.
"""

from typing import Any

import numpy as np
import shapely
from contourpy import FillType, contour_generator

from engine.artwork.limits import Limits
from engine.artwork.regions import Objects
from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.errors import TooBigError

__all__ = ["SIMPLIFY_PX", "simplify", "trace"]

SIMPLIFY_PX = 0.05  # the greatest shift of an edge by leaving points out; a twentieth of a pixel
RAW_POINTS = 8  # a straight edge is traced with a point a pixel: so many more are let in before simplifying


def trace(grey: Bytes8, level: float, limits: Limits) -> Objects:
    """(n,) valid polygons, interiors disjoint, of what is darker than `level`, which equals no grey.

    Raises
    ------
    TooBigError where the outlines have too many points, as those of a grainy photograph.
    """
    generator = contour_generator(
        z=_framed(grey, level), name="serial", fill_type=FillType.OuterOffset, total_chunk_count=1
    )
    # OuterOffset gives lists of arrays, one for a polygon with its holes: (n, 2) points and the offsets of its rings
    filled: Any = generator.filled(-np.inf, level)
    points: list[Floats] = filled[0]
    if not points:
        return np.zeros(0, object)
    rings: list[Ints] = [offsets.astype(np.int64) for offsets in filled[1]]
    count = sum(map(len, points))
    if count > RAW_POINTS * limits.points:
        raise _grainy(count)
    flat = np.concatenate(points) - 0.5  # the frame shifts by one pixel, the pixel's middle by half a pixel back
    starts = np.cumsum([0, *map(len, points)])[:-1]
    ring_offsets = np.concatenate([ring[:-1] + start for ring, start in zip(rings, starts, strict=True)])
    polygon_offsets = np.cumsum([0, *(len(ring) - 1 for ring in rings)])
    raw = shapely.from_ragged_array(
        shapely.GeometryType.POLYGON, flat, (np.append(ring_offsets, len(flat)), polygon_offsets)
    )
    out = simplify(np.asarray(raw, object), SIMPLIFY_PX)
    count = int(shapely.get_num_coordinates(out).sum())
    if count > limits.points:
        raise _grainy(count)
    return out


def _framed(grey: Bytes8, level: float) -> Floats:
    """(h + 2, w + 2): the greys in a light frame that puts the crossing at an outer pixel's outer edge."""
    z = np.pad(grey.astype(np.float64), 1, mode="edge")
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        dark = z[edge] < level
        z[edge] = np.where(dark, 2.0 * level - z[edge], z[edge])
    return z


def simplify(polygons: Objects, tolerance: float) -> Objects:
    """(n,) polygons with fewer points, no edge shifted by more than `tolerance`, still valid and disjoint.

    Polygons that simplifying would make touch their neighbours are kept as they were.
    """
    simple = np.asarray(shapely.simplify(polygons, tolerance, preserve_topology=True), object)
    raw = ~shapely.is_valid(simple) | shapely.is_empty(simple)
    simple[raw] = polygons[raw]
    while True:  # each round puts back at least one polygon, so it ends
        a, b = shapely.STRtree(simple).query(simple, predicate="intersects")
        meet = a < b
        touched = np.unique(np.concatenate([a[meet], b[meet]]))
        touched = touched[~raw[touched]]
        if not len(touched):
            return simple
        simple[touched] = polygons[touched]
        raw[touched] = True


def _grainy(count: int) -> TooBigError:
    return TooBigError(
        f"the picture's outlines have {count:,} points",
        where="picture",
        hint="smooth it, save it smaller or move the threshold: grain and dither are traced dot by dot",
    )
