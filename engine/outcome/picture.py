"""The simulated engraving as a picture, unwrapped: up is +x, right is +theta, to scale on its mean circle."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

__all__ = ["unwrapped_png"]

LONGEST_PX = 1600
PAPER = np.array([250, 247, 238], np.float64)
INK = np.array([44, 38, 30], np.float64)


def unwrapped_png(depth_mm: NDArray[np.floating[Any]], *, height_mm: float, width_mm: float) -> bytes:
    """PNG bytes of a carved field.

    depth_mm : (nx, nt), x rising by rows, theta by columns. height_mm : along the axis. width_mm : around, on the mean
    circle. The darker the deeper; nothing cut gives plain paper.
    """
    deepest = float(depth_mm.max(initial=0.0)) or 1.0
    share = np.sqrt(np.clip(depth_mm[::-1] / deepest, 0.0, 1.0))[..., None]
    pixels = (PAPER + (INK - PAPER) * share).round().astype(np.uint8)
    scale = LONGEST_PX / max(height_mm, width_mm)
    size = max(1, round(width_mm * scale)), max(1, round(height_mm * scale))
    held = BytesIO()
    Image.fromarray(pixels).resize(
        size, Image.Resampling.BOX if size[0] < pixels.shape[1] else Image.Resampling.BILINEAR
    ).save(held, "PNG")
    return held.getvalue()
