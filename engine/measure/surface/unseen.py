"""What a skin may do between its readings that they cannot show: lobes that look like fewer, bends between stations.

Readings at n angles a turn show h lobes as n - h (aliasing: H. Nyquist, "Certain topics in telegraph transmission
theory", Trans. AIEE 47 (1928) 617-644), so what is seen of n - h may as well be of h. Three to six lobes a turn are
believed possible, and their overtones; n lobes at n angles look round. Along, differences between stations tell how far
the skin bends where it was not read, and their fall from the fourth to the fifth is carried on. Both are nothing where
readings stand and most half-way between them, and the same all over where readings are strewn. The figures were chosen
by trial on the skins of the tests.
"""

import numpy as np

from engine.kernel.arrays import Floats
from engine.measure.measured import even_angles
from engine.measure.surface.settling import Surface

__all__ = ["unseen_between", "unseen_sigma"]

LOBES = (3, 6)  # fewest and most a turn, as gourds and moulded bottles have them; no source
LOBE_SHARE = 0.02  # of the radius: one standard deviation of the height of lobes where nothing tells; no source
MOST_SHARE = 0.03  # of the radius: the same where fewer are seen, which may be an oval or a blank held off its axis
OVERTONE = 0.1  # of the lobes' height at twice as many a turn; no source
EVEN = 0.5  # what is seen may be of either number of lobes
RIPPLE, RIPPLE_FALL = 0.25, 14  # a spline misses this much of h lobes' squared height, times a power of h / (n / 2)
BEND = 0.038  # mm in the middle between stations a mm of fourth difference; by trial, 0.03 to 0.1 where it counts
COARSE = 0.1  # the same a mm of second difference, where there are but four stations; by trial
ENOUGH = 3  # fifth differences: fewer may all be small by chance
AROUND = 96  # angles at which the fitted skin is looked at
SQUEEZED = 0.1  # of a spacing the other way: lobes run along, bends around


def unseen_sigma(surface: Surface, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(m, n) mm one standard deviation of what was not seen at m stations and n angles."""
    if not surface.equations.spacing.lined:
        return np.repeat(unseen_between(surface, x_mm)[:, None], len(theta_rad), axis=1)
    spacing, readings = surface.equations.spacing, surface.equations.readings
    around, along = (
        np.sin(np.pi * np.minimum(spacing.distance(readings, x_mm, theta_rad, counts=counts), 0.5))
        for counts in ((SQUEEZED, 1.0), (1.0, SQUEEZED))
    )
    lobes, bends = _lobes(surface, x_mm), _bends(surface, x_mm)
    # twice, for half-way between readings the square is twice its mean, as a sine's is
    return np.hypot(np.sqrt(2.0 * lobes)[:, None] * around, bends[:, None] * along)


def unseen_between(surface: Surface, x_mm: Floats) -> Floats:
    """(m,) mm the same for a skin that is kept at its readings alone: the root mean square of all that lies between."""
    return np.sqrt(_lobes(surface, x_mm) + 0.5 * _bends(surface, x_mm) ** 2)


def _lobes(surface: Surface, x_mm: Floats) -> Floats:
    """(m,) mm2 the mean square of what lobes that were not seen would add, at m stations."""
    radius, angles = surface.radius(x_mm, even_angles(AROUND)), surface.equations.spacing.angles
    if not surface.equations.spacing.lined:  # lobes that the fit does not follow strew such readings about it
        return np.full(len(x_mm), surface.noise_mm**2 if angles <= 2 * LOBES[1] else 0.0)
    seen = (2.0 * np.abs(np.fft.rfft(radius, axis=1)) / radius.shape[1]) ** 2
    half = angles // 2
    believed, most = ((share * radius.mean(axis=1)) ** 2 for share in (LOBE_SHARE, MOST_SHARE))
    shown = np.maximum(seen, seen.mean(axis=0))  # lobes and an axis that runs out may undo one another at a station
    below = np.arange(2, min((angles + 1) // 2, seen.shape[1]))
    out = RIPPLE * (seen[:, below] * (below / (0.5 * angles)) ** RIPPLE_FALL).sum(axis=1)
    if angles % 2 == 0:  # half of the square of these is seen in the mean, as they lie to the readings
        out += seen[:, half:].sum(axis=1).mean()
    for h in range(max(LOBES[0], half + 1), 2 * LOBES[1] + 1):
        like = abs(h - angles * round(h / angles))  # as how many they show; 0: as none
        if h <= LOBES[1]:
            square = most if like else believed
        elif h % 2 == 0:
            square = OVERTONE**2 * seen[:, h // 2]
        else:
            continue
        out += np.minimum(EVEN * shown[:, like], square) if like else square
    return out


def _bends(surface: Surface, x_mm: Floats) -> Floats:
    """(m,) mm by how much the skin may miss half-way between stations."""
    e = surface.equations
    lo, hi = float(e.readings.x_mm.min()), float(e.readings.x_mm.max())
    at = np.linspace(lo, hi, max(round((hi - lo) / e.spacing.along_mm) + 1, 4))
    order, share = (4, BEND) if len(at) > 4 else (2, COARSE)
    bent = np.diff(surface.radius(at, even_angles(AROUND)), order, axis=0)
    size = np.sqrt((bent**2).mean(axis=1))
    more = np.diff(bent, axis=0)
    least = np.finfo(np.float64).tiny  # of a straight skin, whose differences are all 0
    fall = min(1.0, np.sqrt((more**2).mean() / max((bent**2).mean(), least))) if len(more) >= ENOUGH else 1.0
    near = np.concatenate([size[:1], size, size[-1:]])
    greatest = np.maximum(np.maximum(near[:-2], size), near[2:])
    middle = at[: len(size)] + 0.5 * order * (at[1] - at[0])
    return np.asarray(np.interp(x_mm, middle, share * fall * greatest))
