"""Polygons to the flat rings of a drawing, and back."""

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.kernel.arrays import Floats
from engine.kernel.ragged import Ragged, offsets_of

__all__ = ["Objects", "flat_lines", "polygons_of", "rings_of"]

Objects = NDArray[np.object_]
POLYGON = 3  # shapely.GeometryType.POLYGON, as get_type_id gives it


def polygons_of(geometry: Any) -> Objects:
    """The (n,) polygons in any geometry or array of geometries; points, lines and empties are left out."""
    parts = shapely.get_parts(np.atleast_1d(np.asarray(geometry, dtype=object)))
    parts = shapely.get_parts(parts)  # a collection may hold multipolygons
    keep: Objects = parts[(shapely.get_type_id(parts) == POLYGON) & ~shapely.is_empty(parts)]
    return keep


def rings_of(polygons: Objects) -> Ragged:
    """Rings of (n,) valid polygons with disjoint interiors: exteriors counter-clockwise, each before its holes."""
    return _ragged(shapely.get_rings(shapely.orient_polygons(polygons, exterior_cw=False)))


def flat_lines(lines: Objects) -> Ragged:
    """(m,) linestrings as a ragged array."""
    return _ragged(lines)


def _ragged(runs: Objects) -> Ragged:
    points: Floats = shapely.get_coordinates(runs)
    sizes = shapely.get_num_coordinates(runs).astype(np.int64)
    return Ragged(points=points, offsets=offsets_of(sizes))
