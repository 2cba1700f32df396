"""A fit run to its end: what is wild left out, the smoothing chosen, the noise told, until nothing changes.

Readings first count less the further off they lie, at a smoothing that follows most skins; then what the others do not
foresee is left out whole, and smoothing and leaving out take turns.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.robust import robust_sigma
from engine.measure.spline import Smoothing
from engine.measure.surface.blocks import Inverse
from engine.measure.surface.equations import Decades, Equations
from engine.measure.surface.outliers import studentized, wild
from engine.measure.surface.profile import huber
from engine.measure.surface.sureness import neighbour_growth, over_grid, spread

__all__ = ["Surface", "settle"]

START = Decades(round_=-1.0, along=-2.0, around=-2.0)  # the search begins here; readings of a gourd end near it
HUBER_ROUNDS = 3
MOST_ROUNDS = 8  # of leaving out, should it swing between two sets of readings
CHOSEN = "chosen by generalised cross-validation (leaving out one reading after the other)"
WIDTHS = ((2.0, 1.0), (1.0, 0.5))  # decades: steps of each search, one a round
LEAST_NOISE_MM = 0.001  # no probe or calliper tells less, so no reading is wild for less than a few of these


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A settled fit. used : (k,). away_mm : (k,) reading less what the others foretell. noise_mm : of a reading of
    weight 1. parameters : how many the surface spends.
    """

    equations: Equations
    decades: Decades
    chosen: str
    inverse: Inverse
    coefficients: Floats
    used: Bools
    away_mm: Floats
    residual_mm: Floats
    noise_mm: float
    growth: float
    parameters: float

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(m, n) the skin's radius over a grid."""
        e = self.equations
        return np.asarray(e.profile.radius(x_mm)[:, None] + e.model.grid(self.coefficients, x_mm, theta_rad))

    def sigma(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(m, n) one standard deviation of it: no surer than the profile where the round part follows it stiffly."""
        variance = over_grid(self.equations.model, self.inverse.near(), x_mm, theta_rad)
        variance = np.maximum(variance, self.equations.profile.variance(x_mm)[:, None])
        return np.asarray(self.noise_mm * self.growth * np.sqrt(variance))

    def sigma_at(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(k,) one standard deviation at k places."""
        e = self.equations
        variance = spread(e.model, self.inverse.near(), *e.model.rows(x_mm, theta_rad))
        return np.asarray(self.noise_mm * self.growth * np.sqrt(variance))


def settle(e: Equations, smoothing: Smoothing | None) -> Surface:
    """Fit, leave out what is wild, choose the smoothing, and again until nothing changes."""
    at = START
    if smoothing is not None:
        at = Decades(round_=at.round_, along=_decade(smoothing.along), around=_decade(smoothing.around))
    free = smoothing is None
    begin = at
    for _ in range(HUBER_ROUNDS):
        e.weigh(huber(_look(e, at)[2]))
    at = e.search(at, WIDTHS[0], free=free)
    used = _reject(e, at, np.zeros(len(e.target), np.bool_))
    for widths in WIDTHS:
        at = e.search(begin if e.score(begin) < e.score(at) else at, widths, free=free)
        before, used = used, _reject(e, at, used)
        if widths is WIDTHS[-1] or (before == used).all():
            break
    return _settled(e, at, used, CHOSEN if free else "given")


def _reject(e: Equations, at: Decades, used: Bools) -> Bools:
    """The readings that are not wild at that smoothing; the equations are left with these."""
    for _ in range(MOST_ROUNDS):
        before, used = used, ~wild(_look(e, at)[2], e.places, e.spacing.box)
        e.weigh(used.astype(np.float64))
        if (before == used).all():
            break
    return used


def _look(e: Equations, at: Decades) -> tuple[Floats, Floats, Floats]:
    """(residual, reading less what the others foretell, the same in its own standard deviations), each (k,)."""
    inverse, c = e.solve(at)
    residual = e.target - e.rows @ c
    variance = spread(e.model, inverse.near(), e.index, e.value) * e.trust
    away, wide = studentized(residual, e.weight / e.trust, variance)
    deviate = away * np.sqrt(e.trust) / wide
    scale = float(robust_sigma(deviate))
    return residual, away, deviate / max(scale, LEAST_NOISE_MM)


def _settled(e: Equations, at: Decades, used: Bools, chosen: str) -> Surface:
    inverse, c = e.solve(at)
    residual, away, _ = _look(e, at)
    parameters = inverse.near().trace_with(e.normal)
    noise = float(np.sqrt((e.weight * residual**2).sum() / max(used.sum() - parameters, 1.0)))
    kept = np.flatnonzero(used)
    return Surface(
        equations=e,
        decades=at,
        chosen=chosen,
        inverse=inverse,
        coefficients=c,
        used=used,
        away_mm=away,
        residual_mm=residual,
        noise_mm=max(noise, e.stated_mm, 1e-6),
        growth=neighbour_growth(e.places[kept], (residual * np.sqrt(e.trust))[kept], e.spacing.box),
        parameters=parameters,
    )


def _decade(share: float) -> float:
    return float(np.log10(max(share, 1e-12)))
