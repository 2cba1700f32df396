"""The scale levelled along the art's own rim: the harmonic function that takes its changes there away.

On an angle-true sheet every polynomial in u + iv is angle-true again, and the real part of one adds to the scale's
logarithm: the least squares on the rim find the one that leaves the scale there as even as can be. A round piece of art
on a ball comes out in the stereographic projection, a narrow one as if along an equator.
"""

import numpy as np

from engine.kernel.arrays import Floats

__all__ = ["levelled"]

DEGREES = (8, 4, 2)  # of the polynomial: the finest that does not run wild beside the rim
WILD = 0.7  # of the logarithm: twofold
SMALL = 1e-8  # singular values below this share say nothing of a rim as thin as a line


def levelled(rim_mm: Floats, w: Floats, places_mm: Floats) -> Floats:
    """(n,) what to add at the places (n, 2), w (m,) being the scale's logarithm along the rim (m, 2); 0 if nothing."""
    size = float(np.hypot(*rim_mm.T).max())
    for degree in DEGREES:
        form = np.linalg.lstsq(_powers(rim_mm / size, degree), -w, rcond=SMALL)[0]
        added = _powers(places_mm / size, degree) @ form
        if np.ptp(added) < WILD:
            return np.asarray(added, np.float64)
    return np.zeros(len(places_mm))


def _powers(places: Floats, degree: int) -> Floats:
    """(n, 2 degree + 1): real and imaginary parts of the powers of u + iv."""
    z = places @ np.array([1.0, 1j])
    powers = z[:, None] ** np.arange(degree + 1)[None, :]
    return np.concatenate([powers.real, powers.imag[:, 1:]], axis=1)
