"""How bright the carved skin looks, unwrapped, with a lamp at the upper left: Lambert's law on the carved slopes.

The lamp stands at azimuth 315 degrees and altitude 45 degrees, the convention of shaded drawings and of shaded maps
(the defaults of GDAL's `gdaldem hillshade`). A wall's light is told relative to the flat: n . L / L_out.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bytes8, Floats
from engine.kernel.units import TURN_RAD

__all__ = ["AMBIENT", "LAMP", "light_on", "once_round", "shades"]

LAMP = (-0.5, 0.5, 0.5**0.5)  # towards +theta (right), towards +x (up), outwards
AMBIENT = 0.4  # share of the light that comes from everywhere: a wall in shadow is not black
# Of the brightness, what a groove loses: at once with its first EDGE_MM, and up to the deepest by the root of depth.
EDGE, DEEP, EDGE_MM = 0.2, 0.36, 0.01

Field = NDArray[np.float32]


def once_round(theta_rad: Floats) -> bool:
    """Whether evenly spaced angles (nt,) close the circle: the gap that they leave is less than two of their steps."""
    step = float(theta_rad[-1] - theta_rad[0]) / max(1, len(theta_rad) - 1)
    return abs(TURN_RAD - len(theta_rad) * step) < step


def light_on(depth_mm: NDArray[np.floating[Any]], *, dx_mm: float, around_mm: Floats, whole: bool) -> Field:
    """(nx, nt) direct light on the carved skin, the flat being 1 and a wall turned away 0.

    depth_mm : (nx, nt), two cells or more each way. dx_mm : between rows. around_mm : (nx,) between columns, on each
    row's own circle. whole : the last column's neighbour is the first. Slopes are central differences.
    """
    depth = np.ascontiguousarray(depth_mm, np.float32)
    up, right = np.zeros_like(depth), np.zeros_like(depth)
    np.subtract(depth[2:], depth[:-2], out=up[1:-1])
    up[0], up[-1] = 2.0 * (depth[1] - depth[0]), 2.0 * (depth[-1] - depth[-2])
    np.subtract(depth[:, 2:], depth[:, :-2], out=right[:, 1:-1])
    if whole:
        right[:, 0], right[:, -1] = depth[:, 1] - depth[:, -1], depth[:, 0] - depth[:, -2]
    else:
        right[:, 0], right[:, -1] = 2.0 * (depth[:, 1] - depth[:, 0]), 2.0 * (depth[:, -1] - depth[:, -2])
    up *= np.float32(0.5 / dx_mm)
    right *= (0.5 / np.asarray(around_mm)).astype(np.float32)[:, None]
    # The skin lies at -depth: its normal is (right, up, 1) over its length.
    light = right * np.float32(LAMP[0] / LAMP[2])
    light += up * np.float32(LAMP[1] / LAMP[2])
    light += np.float32(1.0)
    np.maximum(light, np.float32(0.0), out=light)
    up *= up
    right *= right
    up += right
    up += np.float32(1.0)
    light /= np.sqrt(up, out=up)
    return light


def shades(depth_mm: NDArray[np.floating[Any]], *, dx_mm: float, around_mm: Floats, whole: bool) -> Bytes8:
    """(nx, nt) brightness of the carved skin, 255 where nothing is cut; arguments as those of `light_on`.

    Light, with its ambient share, times a ground that darkens with depth, so that a mark in flat light still reads.
    """
    depth = np.ascontiguousarray(depth_mm, np.float32)
    shade = light_on(depth, dx_mm=dx_mm, around_mm=around_mm, whole=whole)
    shade *= np.float32(1.0 - AMBIENT)
    shade += np.float32(AMBIENT)
    deepest = float(depth.max(initial=0.0)) or 1.0
    cut = np.maximum(depth, np.float32(0.0))
    ground = np.sqrt(cut * np.float32(1.0 / deepest))
    ground *= np.float32(-DEEP)
    np.minimum(cut, np.float32(EDGE_MM), out=cut)
    ground -= cut * np.float32(EDGE / EDGE_MM)
    ground += np.float32(1.0)
    shade *= ground
    shade *= np.float32(255.0)
    shade += np.float32(0.5)
    np.minimum(shade, np.float32(255.0), out=shade)
    shade[depth <= 0.0] = 255.0
    return shade.astype(np.uint8)
