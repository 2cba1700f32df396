"""The simulated engraving as a picture, unwrapped: up is +x, right is +theta, to scale on its mean circle."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from engine.kernel.arrays import Bytes8, Floats
from engine.kernel.units import TURN_RAD
from engine.outcome.shading import once_round, shades

__all__ = ["difference_png", "opened", "unwrapped_png"]


LONGEST_PX = 1200  # of the longer side
PAPER = (250, 247, 238)
# Paper under k / 255 of the light: what is dark is warmer, as in wood. The middle (green) is linear.
WARMTH = (0.82, 1.0, 1.22)
PALETTE = [round(p * (k / 255) ** w) for k in range(256) for p, w in zip(PAPER, WARMTH, strict=True)]
SEAM_CELLS = 8
# By Match: bare, made as asked, left uncut, cut beside. Told apart by the colour-blind: M. Okabe, K. Ito (2008).
MATCHES = (PAPER, (120, 113, 102), (213, 94, 0), (0, 114, 178))


def unwrapped_png(
    depth_mm: NDArray[np.floating[Any]], *, height_mm: float, width_mm: float, around_mm: Floats, whole: bool
) -> bytes:
    """PNG bytes of a carved field, shaded as by a lamp at the upper left; nothing cut is plain paper.

    depth_mm : (nx, nt), x rising by rows, theta by columns. height_mm : along the axis, width_mm : around, on the mean
    circle, of the picture. around_mm : (nx,) from column to column on each row's own circle. whole : once round.
    """
    nx, nt = depth_mm.shape
    shade = shades(depth_mm, dx_mm=height_mm / nx, around_mm=around_mm, whole=whole)
    # What lies beyond the seam is beside it on the blank: scaling looks across.
    seam = min(SEAM_CELLS, nt) if whole else 0
    shade = np.concatenate([shade[:, nt - seam :], shade, shade[:, :seam]], axis=1)[::-1]
    scale = LONGEST_PX / max(height_mm, width_mm)
    size = max(1, round(width_mm * scale)), max(1, round(height_mm * scale))
    how = Image.Resampling.BOX if size[0] < nt else Image.Resampling.BICUBIC
    grey = Image.fromarray(np.ascontiguousarray(shade)).resize(size, how, box=(seam, 0, seam + nt, nx))
    grey.putpalette(PALETTE)
    return _png(grey)


def opened(field: NDArray[Any], theta_rad: Floats, seam_rad: float) -> NDArray[Any]:
    """A field (nx, nt) that goes once round, its columns begun at the seam; one that does not, as it is."""
    if not once_round(theta_rad):
        return field
    step = float(theta_rad[-1] - theta_rad[0]) / max(1, len(theta_rad) - 1)
    after = np.mod(theta_rad - seam_rad + 1e-3 * step, TURN_RAD)  # a middle that is on the seam is the first
    return np.roll(field, -int(np.argmin(after)), axis=1)


def difference_png(match: Bytes8, *, height_mm: float, width_mm: float) -> bytes:
    """PNG bytes of a field of `Match` (nx, nt), laid as the carved field is; of cells that share a pixel the worst."""
    step = max(1, -(-max(match.shape) // LONGEST_PX))
    for axis in (0, 1):
        match = np.maximum.reduceat(match, np.arange(0, match.shape[axis], step), axis=axis)
    codes = Image.fromarray(np.ascontiguousarray(match[::-1]))
    scale = LONGEST_PX / max(height_mm, width_mm)
    codes = codes.resize((max(1, round(width_mm * scale)), max(1, round(height_mm * scale))), Image.Resampling.NEAREST)
    codes.putpalette([level for colour in MATCHES for level in colour])
    return _png(codes)


def _png(picture: Image.Image) -> bytes:
    held = BytesIO()
    picture.save(held, "PNG", compress_level=1)
    return held.getvalue()
