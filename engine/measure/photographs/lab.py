"""Colours as light and as they look: sRGB to linear light (IEC 61966-2-1) and to CIE L*a*b* (CIE 15, D65);
pictures made smaller.
"""

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bytes8

__all__ = ["LINEAR", "Light", "coded", "lab", "reduced"]

Light = NDArray[np.float32]

_CODE = np.arange(256) / 255.0
LINEAR: Light = np.where(_CODE <= 0.04045, _CODE / 12.92, ((_CODE + 0.055) / 1.055) ** 2.4).astype(np.float32)
"""(256,) linear light of each coded value."""

# sRGB primaries to XYZ, IEC 61966-2-1, and the white point D65 (2 degree observer).
_TO_XYZ = np.array([[0.412453, 0.357580, 0.180423], [0.212671, 0.715160, 0.072169], [0.019334, 0.119193, 0.950227]])
_WHITE = np.array([0.95047, 1.0, 1.08883])


def coded(light: Light) -> Light:
    """Coded values 0..1 of linear light; below 0 and above 1 are clipped, as a camera does."""
    v = np.clip(light, 0.0, 1.0)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-6) ** (1 / 2.4) - 0.055).astype(np.float32)


def lab(picture: Bytes8) -> Light:
    """(h, w, 3) L*, a*, b* of an sRGB picture (h, w, 3)."""
    ratio = LINEAR[picture] @ (_TO_XYZ / _WHITE[:, None]).T.astype(np.float32)
    f = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16.0 / 116.0)
    scaled = [116.0 * f[..., 1] - 16.0, 500.0 * (f[..., 0] - f[..., 1]), 200.0 * (f[..., 1] - f[..., 2])]
    return np.asarray(np.stack(scaled, axis=-1), np.float32)


def reduced(picture: Bytes8, k: int) -> Bytes8:
    """(h // k, w // k, 3): the mean of each k x k pixels; what is left over at the right and below is cut off."""
    if k == 1:
        return picture
    h, w = picture.shape[0] // k * k, picture.shape[1] // k * k
    total = np.zeros((h // k, w // k, 3), np.uint16 if k <= 16 else np.uint32)  # 16 x 16 x 255 fits
    for dy in range(k):
        for dx in range(k):
            total += picture[dy:h:k, dx:w:k]
    return ((total + k * k // 2) // (k * k)).astype(np.uint8)
