"""Places that were read more than once: whether their readings agree as well as the fit to all places says.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.4.6 (pure error of replicates beside the lack of fit) and
2.4.4 (repeatability, pooled); the numbers of the sections are from memory.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.robust import robust_sigma
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings
from engine.measure.surface.outliers import CUT
from engine.measure.surface.settling import LEAST_NOISE_MM, Surface

__all__ = ["Repeats", "repeats_of"]

SAME = 1e-6  # mm or radians: places nearer than this are one
MORE = 2.0  # times the noise that the fit tells


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """least_sigma_mm : of the skin, half the usual difference of two readings of one place; 0 where they agree."""

    least_sigma_mm: float
    findings: tuple[Finding, ...]


def repeats_of(surface: Surface, laid_out: Readings) -> Repeats:
    """Whether repeats contradict each other. laid_out : where the readings were meant to be."""
    e = surface.equations
    place = _places(laid_out)
    times = np.bincount(place)
    again = np.flatnonzero(times[place] > 1)
    if not len(again):
        return Repeats(least_sigma_mm=0.0, findings=())
    root = np.sqrt(e.trust)
    left = root * (e.target - _mean_at(place, e.target, e.trust))
    agree = _lack_of_fit(surface, place)
    wide = left[again] * np.sqrt(times[place[again]] / (times[place[again]] - 1.0))
    kept = again[np.abs(wide) <= CUT * max(float(robust_sigma(wide)), agree)]  # a slip is told among the outliers
    free = float((1.0 - 1.0 / times[place[kept]]).sum())
    pooled = float(np.sqrt((left[kept] ** 2).sum() / free)) if free > 0 else 0.0
    if pooled <= MORE * agree:
        return Repeats(least_sigma_mm=0.0, findings=())
    return Repeats(least_sigma_mm=pooled / np.sqrt(2.0), findings=(_told(laid_out, place, kept, pooled, agree),))


def _places(readings: Readings) -> np.ndarray:
    """(k,) the number of each reading's place, places alike to `SAME`, angles a turn apart being one."""
    turned = np.mod(readings.theta_rad, TURN_RAD)
    turned = np.where(turned > TURN_RAD - 0.5 * SAME, 0.0, turned)
    rounded = np.stack([np.round(readings.x_mm / SAME), np.round(turned / SAME)], axis=1)
    return np.unique(rounded, axis=0, return_inverse=True)[1].ravel()


def _mean_at(place: np.ndarray, values: Floats, weight: Floats) -> Floats:
    """(k,) the weighted mean of the values of each reading's own place; of none with weight: 0."""
    total = np.bincount(place, weight)
    return np.asarray((np.bincount(place, weight * values) / np.where(total > 0, total, 1.0))[place])


def _lack_of_fit(surface: Surface, place: np.ndarray) -> float:
    """The noise of one reading that the means of the places show about the skin, mm."""
    e = surface.equations
    mean = _mean_at(place, surface.residual_mm, e.weight)
    free = len(np.unique(place[surface.used])) - surface.parameters
    shown = float(np.sqrt((e.weight * mean**2).sum() / max(free, 1.0)))
    return max(shown, e.stated_mm, LEAST_NOISE_MM)


def _told(readings: Readings, place: np.ndarray, kept: np.ndarray, pooled: float, agree: float) -> Finding:
    highest, lowest = np.full(place.max() + 1, -np.inf), np.full(place.max() + 1, np.inf)
    np.maximum.at(highest, place[kept], readings.radius_mm[kept])
    np.minimum.at(lowest, place[kept], readings.radius_mm[kept])
    apart = np.where(np.isfinite(highest), highest - lowest, 0.0)
    worst = int(np.round(apart, 9).argmax())
    k = int((place == worst).argmax())
    x, angle = float(readings.x_mm[k]), round(float(np.degrees(readings.theta_rad[k])), 6) % 360.0
    return Finding(
        severity=Severity.WARNING,
        code="repeats-differ",
        message=f"readings of one place differ by up to {apart[worst]:.3f} mm (x {x:.1f}, angle {angle:.0f}) and strew "
        f"by {pooled:.3f} mm, where the others tell {agree:.3f} mm; the error counts with half their difference",
        advice="look for a blank that slipped or a zero that moved between the readings, and take them again",
        where=Where(x_mm=x, angle_deg=angle),
    )
