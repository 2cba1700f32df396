"""The simulated engraving as a picture, unwrapped: up is +x, right is +theta, to scale on its mean circle."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from engine.kernel.arrays import Bytes8

__all__ = ["difference_png", "unwrapped_png"]

LONGEST_PX = 1200
PAPER = (250, 247, 238)
INK = (44, 38, 30)
# By Match: bare, made as asked, left uncut, cut beside. Told apart by the colour-blind: M. Okabe, K. Ito (2008).
MATCHES = (PAPER, (120, 113, 102), (213, 94, 0), (0, 114, 178))


def unwrapped_png(depth_mm: NDArray[np.floating[Any]], *, height_mm: float, width_mm: float) -> bytes:
    """PNG bytes of a carved field.

    depth_mm : (nx, nt), x rising by rows, theta by columns. height_mm : along the axis. width_mm : around, on the mean
    circle. The darker the deeper (by the root of the depth, so that shallow cuts show); nothing cut is plain paper.
    """
    deepest = float(depth_mm.max(initial=0.0)) or 1.0
    share = np.sqrt(np.clip(depth_mm[::-1].astype(np.float32) * np.float32(1.0 / deepest), 0.0, 1.0))
    grey = Image.fromarray((share * np.float32(255.0) + np.float32(0.5)).astype(np.uint8))
    scale = LONGEST_PX / max(height_mm, width_mm)
    size = max(1, round(width_mm * scale)), max(1, round(height_mm * scale))
    shrinks = size[0] < grey.width
    grey = grey.resize(size, Image.Resampling.BOX if shrinks else Image.Resampling.BILINEAR)
    grey.putpalette([round(p + (i - p) * k / 255) for k in range(256) for p, i in zip(PAPER, INK, strict=True)])
    return _png(grey)


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
