"""The frame of a piece of art as it lies on the skin: what the walk shows at the machine before anything is cut."""

from itertools import pairwise
from math import radians

import numpy as np

from engine.kernel.arrays import Floats
from engine.outcome.art_raster import Patch
from engine.outcome.preview import Placed

__all__ = ["box_on_skin", "frame_on_skin"]

STEP_MM = 1.0  # a point a millimetre: far less than an eye sees of a tool in the air


def frame_on_skin(placed: Placed, patch: Patch) -> tuple[Floats, Floats]:
    """(x_mm, theta_rad) once round the art from its upper left corner, clockwise as seen from outside.

    The frame is the picture's extent, turned with the art; where a corner of it lies off the blank, the stretch of
    stations and angles that is cut.
    """
    corners = _corners(placed)
    closed = np.vstack([corners, corners[:1]])
    uv = np.vstack([_side(a, b) for a, b in pairwise(closed)] + [closed[:1]])
    if placed.layout.holds(uv).all():
        return placed.layout.wrap(uv)
    return box_on_skin(placed, patch)


def box_on_skin(placed: Placed, patch: Patch) -> tuple[Floats, Floats]:
    """(x_mm, theta_rad) once round the stretch of stations and angles that is cut, from the same corner."""
    (x0, x1), (t0, t1) = patch.x_mm, patch.theta_rad
    r = placed.radius_mm
    box = np.array([[t0 * r, x1], [t1 * r, x1], [t1 * r, x0], [t0 * r, x0], [t0 * r, x1]])
    way = np.vstack([_side(a, b) for a, b in pairwise(box)] + [box[:1]])
    return way[:, 1], way[:, 0] / r


def _corners(placed: Placed) -> Floats:
    """(4, 2) sheet corners: upper left, upper right, lower right, lower left of the picture, turned."""
    turn = radians(placed.item.placement.turn_deg)
    w, h = 0.5 * placed.drawing.width_mm, 0.5 * placed.drawing.height_mm
    flat = np.array([[-w, h], [w, h], [w, -h], [-w, -h]])
    c, s = np.cos(turn), np.sin(turn)
    return flat @ np.array([[c, s], [-s, c]])


def _side(a: Floats, b: Floats) -> Floats:
    """Points from a towards b, b left out."""
    n = max(2, int(np.ceil(np.linalg.norm(b - a) / STEP_MM)) + 1)
    return np.linspace(a, b, n)[:-1]
