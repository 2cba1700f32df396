"""How widely residuals scatter, by their median: wild ones hardly move it."""

import numpy as np

from engine.kernel.arrays import Floats

__all__ = ["robust_sigma"]

NORMAL = 1.4826  # 1 / 0.67449, the upper quartile of the standard normal distribution


def robust_sigma(residual: Floats) -> Floats:
    """One standard deviation of residuals (..., n) about 0, were they normal, from the median of their sizes: (...).

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.6 (median absolute deviation).
    """
    sigma: Floats = NORMAL * np.median(np.abs(residual), axis=-1)
    return sigma
