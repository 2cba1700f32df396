"""Turning, cropping and averaging: what moves light from pixel to pixel, done in linear light."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import affine_transform
from scipy.sparse import csr_array

from engine.artwork.picture.edits import Crop
from engine.kernel.arrays import Floats
from engine.kernel.errors import TooBigError

__all__ = ["Light", "averaged", "cropped", "frame_mm", "turned"]

Light = NDArray[np.float32]
Pitch = tuple[float, float]
QUARTER = 90.0
WHITE = 1.0


def frame_mm(shape: tuple[int, int], pitch: Pitch, turn_deg: float) -> tuple[float, float]:
    """Width and height of the upright frame around a turned picture of (rows, columns), in what the pitch is in."""
    width, height = shape[1] * pitch[0], shape[0] * pitch[1]
    c, s = abs(math.cos(math.radians(turn_deg))), abs(math.sin(math.radians(turn_deg)))
    return width * c + height * s, width * s + height * c


def turned(light: Light, pitch: Pitch, turn_deg: float, most: int) -> tuple[Light, Pitch]:
    """The picture turned counter-clockwise about its middle, with the frame around it and white in the corners.

    Whole quarters move pixels and nothing else; any other turn is read between four pixels, on square ones as fine as
    the finer side. most : pixels, beyond which it is refused.
    """
    quarters, rest = divmod(turn_deg, QUARTER)
    light = np.ascontiguousarray(np.rot90(light, int(quarters)))
    pitch = (pitch[1], pitch[0]) if quarters % 2 else pitch
    if rest == 0.0:
        return light, pitch
    fine = min(pitch)
    width, height = (max(1, round(side / fine)) for side in frame_mm((light.shape[0], light.shape[1]), pitch, rest))
    if width * height > most:
        raise TooBigError(f"the turned picture has {width:,} by {height:,} pixels", where="picture/turn_deg")
    c, s = math.cos(math.radians(rest)), math.sin(math.radians(rest))
    # rows run down: a place of the turned picture, seen from its middle, is turned back clockwise
    back = np.array([[c, s], [-s, c]]) * fine / np.array([[pitch[1]], [pitch[0]]])
    middle_in, middle_out = (np.array(light.shape) - 1) / 2, np.array([height - 1, width - 1]) / 2
    out: Light = affine_transform(
        light,
        back,
        middle_in - back @ middle_out,
        (height, width),
        order=1,
        mode="grid-constant",
        cval=WHITE,
        prefilter=False,
        output=np.float32,
    )
    return out, (fine, fine)


def cropped(light: Light, crop: Crop) -> Light:
    """The part that is kept, to whole pixels; one at least."""
    rows, columns = light.shape
    top, left = min(round(crop.top * rows), rows - 1), min(round(crop.left * columns), columns - 1)
    bottom, right = max(round(crop.bottom * rows), top + 1), max(round(crop.right * columns), left + 1)
    return light[top:bottom, left:right]


def averaged(light: Light, pitch: Pitch, resolution: float) -> tuple[Light, Pitch]:
    """Pixels finer than the resolution averaged to it, each by the share of it that lies in the new one."""
    rows, columns = light.shape
    down, across = (max(1, math.ceil(n * p / resolution - 1e-9)) for n, p in ((rows, pitch[1]), (columns, pitch[0])))
    down, across = min(down, rows), min(across, columns)
    if (down, across) == (rows, columns):
        return light, pitch
    out: Light = (_shares(rows, down) @ light) @ _shares(columns, across).T
    return np.asarray(out, np.float32), (pitch[0] * columns / across, pitch[1] * rows / down)


def _shares(n: int, m: int) -> csr_array:
    """(m, n) the share of each of m equal parts that each of n pixels makes up."""
    edge = np.arange(m + 1) * (n / m)
    first, last = np.floor(edge[:-1]).astype(np.int64), np.minimum(np.ceil(edge[1:]).astype(np.int64), n)
    count = last - first
    row = np.repeat(np.arange(m), count)
    column = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count - first, count)
    share: Floats = np.minimum(column + 1, edge[row + 1]) - np.maximum(column, edge[row])
    return csr_array(((share * (m / n)).astype(np.float32), (row, column)), shape=(m, n))
