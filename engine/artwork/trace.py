"""Greys on a grid to regions with sub-pixel edges.

Takes (h, w) greys and a level, gives rings in pixels, x to the right and y DOWN from the upper left
corner of the upper left pixel. What is darker than the level is inside. A grey stands at its pixel's middle and runs
straight to its neighbours' (marching squares); the outer edge of an outer pixel is the edge of the picture.
"""

from typing import Any

import numpy as np
from contourpy import FillType, contour_generator

from engine.artwork.limits import Limits
from engine.artwork.thinning import thin
from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.errors import TooBigError
from engine.kernel.ragged import Ragged

__all__ = ["trace"]

SIMPLIFY_PX = 0.05  # the greatest shift of an edge by leaving points out; a twentieth of a pixel
RAW_POINTS = 8  # a straight edge is traced with a point a pixel: so many more are let in before simplifying


def trace(grey: Bytes8, level: float, limits: Limits) -> Ragged:
    """The rings around what is darker than `level`, which equals no grey: simple, disjoint, exteriors one way round
    and holes the other (clockwise as seen on a sheet whose y runs up).

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
        return Ragged.of([])
    rings: list[Ints] = [offsets.astype(np.int64) for offsets in filled[1]]
    count = sum(map(len, points))
    if count > RAW_POINTS * limits.points:
        raise _grainy(count)
    starts = np.cumsum([0, *map(len, points)])
    traced = Ragged(
        points=np.concatenate(points) - 0.5,  # the frame shifts by one pixel, the pixel's middle by half a pixel back
        offsets=np.append(np.concatenate([o[:-1] + s for o, s in zip(rings, starts[:-1], strict=True)]), starts[-1]),
    )
    out = thin(traced, SIMPLIFY_PX)
    if len(out.points) > limits.points:
        raise _grainy(len(out.points))
    return out


def _framed(grey: Bytes8, level: float) -> Floats:
    """(h + 2, w + 2): the greys in a light frame that puts the crossing at an outer pixel's outer edge."""
    z = np.pad(grey.astype(np.float64), 1, mode="edge")
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        dark = z[edge] < level
        z[edge] = np.where(dark, 2.0 * level - z[edge], z[edge])
    return z


def _grainy(count: int) -> TooBigError:
    return TooBigError(
        f"the picture's outlines have {count:,} points",
        where="file",
        hint="smooth it, save it smaller or move the threshold: grain and dither are traced dot by dot",
    )
