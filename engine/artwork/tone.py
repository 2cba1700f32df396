"""How a picture's colours become dark and light, and where the line between the two is drawn.

Takes 8-bit greys, gives 8-bit greys and a level. The grey of a colour is the luma of ITU-R BT.709,
0.2126 R' + 0.7152 G' + 0.0722 B', of the values as they are stored (sRGB-encoded, not linear light): the same weights
that `scikit-image` uses, so that a saturated red counts as dark as a person with a marker would say.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.errors import ArtworkError

__all__ = ["LUMA", "MID_GREY", "Tone", "curve", "otsu", "split_level"]

LUMA = (0.2126, 0.7152, 0.0722)  # ITU-R BT.709-6, item 3.2
MID_GREY = 127.5  # halfway between black 0 and white 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """What is done to a raster's greys, in this order: contrast, gamma, invert, threshold.

    threshold : greys below it are cut; None finds it (Otsu). contrast : -1 all mid grey, 0 as is, 1 black and white.
    gamma : 1 as is, above 1 lightens the middle greys, below darkens them. invert : dark for light.
    """

    threshold: int | None = None
    invert: bool = False
    contrast: float = 0.0
    gamma: float = 1.0

    def __post_init__(self) -> None:
        if self.threshold is not None and not 0 <= self.threshold <= 255:
            raise ArtworkError(f"threshold {self.threshold} is not in 0 to 255", where="tone/threshold")
        if not -1 <= self.contrast <= 1:
            raise ArtworkError(f"contrast {self.contrast:g} is not in -1 to 1", where="tone/contrast")
        if not 0 < self.gamma < math.inf:
            raise ArtworkError(f"gamma {self.gamma:g} is not a number above 0", where="tone/gamma")


def curve(tone: Tone) -> Bytes8:
    """(256,) the grey that each grey becomes.

    Contrast turns the line g' = g about mid grey to the slope tan((1 + contrast) pi / 4) (common practice, no
    source); gamma gives 255 (g' / 255)^(1 / gamma); invert gives 255 - g'.
    """
    grey = np.arange(256.0)
    slope = math.tan((1.0 + tone.contrast) * math.pi / 4)
    share = np.clip((MID_GREY + (grey - MID_GREY) * slope) / 255.0, 0.0, 1.0) ** (1.0 / tone.gamma)
    return np.rint(255.0 * (1.0 - share if tone.invert else share)).astype(np.uint8)


def otsu(counts: Ints) -> int:
    """The grey t that splits (256,) counts into <= t and > t with the greatest variance between the two.

    The least such t where several tie. Source: N. Otsu, IEEE Trans. SMC 9 (1979) 62-66.

    Raises
    ------
    ArtworkError where all pixels have one grey.
    """
    total = counts.sum()
    if np.count_nonzero(counts) < 2:
        raise ArtworkError(
            "the picture has one grey only, so no threshold can be found",
            where="tone/threshold",
            hint="give a threshold, or choose another picture",
        )
    below, sum_below = np.cumsum(counts)[:-1], np.cumsum(counts * np.arange(256))
    sum_all, sum_below, above = sum_below[-1], sum_below[:-1], total - below
    both = (below > 0) & (above > 0)
    gap = np.zeros(255)
    gap[both] = sum_below[both] / below[both] - (sum_all - sum_below[both]) / above[both]
    between: Floats = (below / total) * (above / total) * gap**2
    # rounded, so that a tie is a tie on every machine
    return int(np.argmax(np.round(between, 9)))


def split_level(counts: Ints, threshold: int | None) -> float:
    """The grey of the line between cut and uncut, halfway between two whole greys so that no pixel lies on it.

    Where the threshold is given it is threshold - 0.5. Where it is found, it is the middle of the two classes' means,
    which parts the pixels as Otsu's threshold does and leaves an edge between two flat greys where it is.
    """
    if threshold is not None:
        return threshold - 0.5
    t = otsu(counts)
    grey = np.arange(256)
    dark, light = (np.average(grey[part], weights=counts[part]) for part in (slice(0, t + 1), slice(t + 1, 256)))
    next_light = t + 1 + int(np.flatnonzero(counts[t + 1 :])[0])
    return float(np.clip(math.floor(0.5 * (dark + light)), t, next_light - 1)) + 0.5
