"""What changes greys where they stand, on stored (sRGB) values from 0 to 1, where steps look alike to the eye."""

import math

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d, label, uniform_filter, uniform_filter1d

from engine.artwork.picture.edits import Detail, Levels
from engine.artwork.picture.frame import Light
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled

__all__ = ["brought_out", "curved", "denoised", "levelled", "sharpened", "without_background"]

REACH = 3  # pixels: the bilateral filter looks at 7 by 7
NEAR = 1.5  # pixels: one standard deviation of its nearness
ALIKE = 0.2  # of black to white: one standard deviation of its likeness at full strength
STEPS = 4096  # of the table of likeness
EDGE = 0.1  # of black to white: a step larger than this is an edge, and is not brought out
WIDE, MEANS = 16.0, 4  # pixels: a wider Gaussian is four running means, within a hundredth of it
TRIM = 0.5  # the half of the border that fits a plane best is taken for the ground


def denoised(grey: Light, strength: float) -> Light:
    """A bilateral filter: C. Tomasi, R. Manduchi, "Bilateral filtering for gray and color images", ICCV 1998."""
    if strength <= 0:
        return grey
    spread = ALIKE * strength
    alike = np.exp(-0.5 * (np.arange(STEPS + 1) / STEPS / spread) ** 2).astype(np.float32)
    near = np.exp(-0.5 * ((np.arange(-REACH, REACH + 1)) / NEAR) ** 2)
    return _bilateral(np.pad(grey, REACH, mode="edge"), alike, np.outer(near, near).astype(np.float32))


@compiled
def _bilateral(grey: Light, alike: Light, near: Light) -> Light:
    side = near.shape[0]
    rows, columns = grey.shape[0] - side + 1, grey.shape[1] - side + 1
    out = np.zeros((rows, columns), np.float32)
    most = len(alike) - 1
    for i in range(rows):
        for j in range(columns):
            here = grey[i + side // 2, j + side // 2]
            total, weight = np.float32(0.0), np.float32(0.0)
            for a in range(side):
                for b in range(side):
                    value = grey[i + a, j + b]
                    w = near[a, b] * alike[int(min(abs(value - here), np.float32(1.0)) * most + 0.5)]
                    total += w * value
                    weight += w
            out[i, j] = total / weight
    return out


def without_background(grey: Light, tolerance: float) -> Light:
    """The ground made white: what hangs together with the border and lies within the tolerance of a plane through it.

    The plane is fitted to the border, then to the half of it that fits best, so that neither uneven light nor what runs
    out of the picture spoils it.
    """
    rows, columns = grey.shape
    i, j = np.arange(rows)[:, None], np.arange(columns)[None, :]
    rim = (i == 0) | (i == rows - 1) | (j == 0) | (j == columns - 1)
    y, x = np.nonzero(rim)
    base = np.column_stack([np.ones(len(x)), y / rows, x / columns])
    value = grey[rim].astype(np.float64)
    kept: Bools = np.ones(len(value), bool)
    plane: Floats = np.zeros(3)
    off = np.abs(value - np.median(value))
    for _ in range(3):
        kept = off <= np.quantile(off, TRIM) + 1e-6
        plane = np.linalg.lstsq(base[kept], value[kept], rcond=1e-6)[0]
        off = np.abs(value - base @ plane)
    ground = np.abs(grey - (plane[0] + plane[1] * i / rows + plane[2] * j / columns)) <= tolerance
    part, _ = label(ground)
    reached = np.unique(part[rim & ground])
    return np.where(np.isin(part, reached) & ground, np.float32(1.0), grey)


def levelled(grey: Light, levels: Levels) -> Light:
    """((g - black) / (white - black)) ^ (1 / middle), held in 0 to 1."""
    share = np.clip((grey - levels.black / 255.0) / ((levels.white - levels.black) / 255.0), 0.0, 1.0)
    out: Light = (share ** (1.0 / levels.middle)).astype(np.float32)
    return out


def curved(grey: Light, curve: tuple[tuple[float, float], ...]) -> Light:
    """The PCHIP curve through the points, level beyond the first and the last."""
    into, out = np.array(curve).T
    made: Light = PchipInterpolator(into, out)(np.clip(grey, into[0], into[-1])).astype(np.float32)
    return made


def brought_out(grey: Light, detail: Detail, pitch: tuple[float, float]) -> Light:
    """Local contrast: what differs from an edge-keeping mean of its surroundings, added once more by the amount.

    Source: K. He, J. Sun, X. Tang, "Guided image filtering", ECCV 2010, the picture its own guide. Strong edges belong
    to the mean, so no halo stands beside them.
    """
    sides = zip(grey.shape, (pitch[1], pitch[0]), strict=True)
    # a window that reaches over the whole picture from every pixel takes in no more when it is wider
    size = tuple(2 * max(1, round(min(detail.radius_mm / side, n))) + 1 for n, side in sides)

    def mean(values: Light) -> Light:
        out: Light = uniform_filter(values, size, output=np.float32, mode="nearest")
        return out

    middle = mean(grey)
    spread: Light = np.maximum(mean(grey * grey) - middle * middle, np.float32(0.0))
    slope: Light = spread / (spread + np.float32(EDGE**2))
    base = mean(slope) * grey + mean(middle - slope * middle)
    out: Light = np.clip(grey + np.float32(detail.amount) * (grey - base), 0.0, 1.0)
    return out


def sharpened(grey: Light, detail: Detail, pitch: tuple[float, float]) -> Light:
    """Unsharp masking: g + amount (g - g blurred by a Gaussian of the radius), held in 0 to 1."""
    blurred = grey
    for axis, side in enumerate((pitch[1], pitch[0])):
        blurred = _blurred(blurred, min(detail.radius_mm / side, float(grey.shape[axis])), axis)
    out: Light = np.clip(grey + np.float32(detail.amount) * (grey - blurred), 0.0, 1.0)
    return out


def _blurred(grey: Light, sigma: float, axis: int) -> Light:
    """A Gaussian along one axis; a wide one, whose weights would be too many, as that many running means.

    Widths of the means: P. Kovesi, "Fast almost-Gaussian filtering", DICTA 2010.
    """
    if sigma <= WIDE:
        return gaussian_filter1d(grey, sigma, axis, mode="reflect", output=np.float32)
    least = int(math.sqrt(12.0 * sigma**2 / MEANS + 1.0))
    least -= 1 - least % 2
    narrow = round((12.0 * sigma**2 - MEANS * (least**2 + 4 * least + 3)) / (-4 * least - 4))
    out = grey
    for k in range(MEANS):
        out = uniform_filter1d(out, least if k < narrow else least + 2, axis, output=np.float32, mode="reflect")
    return out
