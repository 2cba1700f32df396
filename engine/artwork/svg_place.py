"""The state that flows down an SVG tree, and cutting shapes to a clip."""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from fontTools.misc.transform import Transform

from engine.artwork.canvas import LINE, Canvas
from engine.artwork.regions import POLYGON, Objects, polygons_of

__all__ = ["Place", "cut"]

BOX_CORNERS = 5  # of a closed rectangle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where an element lies: affine to sheet units, its viewport's size in user units, clip region, opacity."""

    matrix: Transform
    size: tuple[float, float]
    clip: shapely.Geometry
    opacity: float = 1.0

    @property
    def scale(self) -> float:
        """Sheet units to a user unit, by area."""
        m = self.matrix
        return math.sqrt(abs(m[0] * m[3] - m[1] * m[2]))


def cut(shapes: Objects, clip: shapely.Geometry, canvas: Canvas) -> Objects:
    """What of (n,) polygons, or of lines, lies inside the clip; untouched where a box clip holds them whole."""
    if not len(shapes):
        return shapes
    a, b = shapely.total_bounds(shapes), shapely.bounds(clip)
    whole = a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]
    is_box = shapely.get_num_coordinates(clip) == BOX_CORNERS and shapely.area(clip) == shapely.area(
        shapely.envelope(clip)
    )
    if whole and is_box:
        return shapes
    canvas.spend(np.append(shapes, np.array([clip], object)), "clipping")
    parts = shapely.get_parts(shapely.get_parts(shapely.intersection(shapes, clip)))
    if shapely.get_type_id(shapes[0]) == POLYGON:
        return polygons_of(parts)
    lines: Objects = parts[(shapely.get_type_id(parts) == LINE) & ~shapely.is_empty(parts)]
    return lines
