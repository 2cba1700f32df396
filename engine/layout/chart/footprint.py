"""The art as the fitting of a sheet sees it: a ring around its marks, and the rectangle that is to be laid."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.kernel.arrays import Floats

__all__ = ["Footprint"]

ROOM = 0.02  # of the art's size, around its marks
RIM_POINTS = 240  # evenly round the footprint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Footprint:
    """rim_mm : (n, 2) even points of a ring on the sheet around the art's marks. boxes_mm : (2, 2) each, the least and
    greatest place of what is to be laid, along the art's own right and up; the first that fits on the blank is taken.
    turn_rad : of the art's own right from the sheet's.
    """

    rim_mm: Floats
    boxes_mm: tuple[Floats, ...]
    turn_rad: float = 0.0

    @property
    def turned(self) -> Floats:
        """(2, 2) from the sheet to the art's own right and up."""
        return _turned(self.turn_rad)

    @classmethod
    def of(cls, drawing: Drawing, turn_deg: float = 0.0) -> "Footprint":
        """Of a drawing as placed: its extent and its marks where those fit, else its marks alone."""
        turn = radians(turn_deg)
        half = 0.5 * np.array([drawing.width_mm, drawing.height_mm])
        extent = np.array([-half, half])
        marks = drawing.places @ _turned(turn).T
        if not len(marks):
            marks = extent
        held = np.array([marks.min(axis=0), marks.max(axis=0)])
        room = ROOM * float(np.hypot(*half))
        ring = shapely.MultiPoint(marks).convex_hull.buffer(room).exterior
        even = shapely.line_interpolate_point(ring, np.linspace(0.0, 1.0, RIM_POINTS, endpoint=False), normalized=True)
        marked = np.array([held[0] - room, held[1] + room])
        whole = np.array([np.minimum(extent[0], held[0]), np.maximum(extent[1], held[1])])
        return cls(rim_mm=shapely.get_coordinates(even) @ _turned(turn), boxes_mm=(whole, marked), turn_rad=turn)


def _turned(turn_rad: float) -> Floats:
    c, s = cos(turn_rad), sin(turn_rad)
    return np.array([[c, s], [-s, c]])
