"""How the true skin may differ from the described one: a smooth normal field to draw from, and its chances.

Takes places of the blank and a length; gives fields of standard deviation 1 there, exactly normal at every place, once
periodic around the blank: its wave 0 is a blank out of size, its wave 1 one held off its axis.

Model (ours: no published figures for the deviations of eggs, gourds or turned blanks were found): covariance
exp(-d2 / 2 l2) along the axis, the same wrapped round the circle around it, both multiplied. A wave's power is the
covariance's Fourier series (Poisson's summation for the wrapped one).
Sources: C. Rasmussen, C. Williams, Gaussian Processes for Machine Learning, MIT Press 2006, 4.2 (the covariance and its
spectrum); M. Shinozuka, G. Deodatis, Simulation of stochastic processes by spectral representation, Appl. Mech. Rev. 44
(1991) 191-204 (cosines with random sizes). Both from memory.
"""

import math
from statistics import NormalDist

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.units import TURN_RAD

__all__ = ["chance_below", "draw_fields", "spread_normal"]

APART = 4.0  # lengths after which the field repeats along the axis: the covariance there is 3e-4
HIGHEST = 3.0  # wave number times length beyond which 0.3 % of the power lies: left out, the rest made up to 1
MOST_WAVES = 600  # a shorter length is drawn as if it were as long as these resolve: shares swing more, never less
LONGER = 1.1
LEAST_MM = 1e-6  # an even error smaller than this is none, and a normal one as narrow as this a step


def draw_fields(
    x_mm: Floats, theta_rad: Floats, r_mm: float, length_mm: float, draws: int, rng: np.random.Generator
) -> Floats:
    """(draws, n) of independent fields at n places of a blank of about the radius r_mm, length_mm > 0."""
    period = float(np.ptp(x_mm)) + APART * length_mm
    while _waves(period, length_mm) * _waves(TURN_RAD * r_mm, length_mm) > MOST_WAVES:
        length_mm *= LONGER
    along = _basis(x_mm * (TURN_RAD / period), _waves(period, length_mm), TURN_RAD * length_mm / period)
    around = _basis(theta_rad, _waves(TURN_RAD * r_mm, length_mm), length_mm / r_mm)
    both = (along[:, :, None] * around[:, None, :]).reshape(len(x_mm), -1)
    fields: Floats = rng.standard_normal((draws, both.shape[1])) @ both.T
    return fields


def _waves(period_mm: float, length_mm: float) -> int:
    """Columns that a period needs: the mean, and a cosine and a sine for each whole wave."""
    return 1 + 2 * math.floor(HIGHEST * period_mm / (TURN_RAD * length_mm))


def _basis(angle_rad: Floats, columns: int, length_rad: float) -> Floats:
    """(n, columns) whose squares sum to 1 in every row."""
    wave = np.arange(1, (columns + 1) // 2)
    power = 2.0 * np.exp(-0.5 * (wave * length_rad) ** 2)
    size = np.sqrt(power / (1.0 + power.sum()))
    turned = angle_rad[:, None] * wave
    mean = np.full((len(angle_rad), 1), math.sqrt(1.0 / (1.0 + power.sum())))
    return np.concatenate([mean, size * np.cos(turned), size * np.sin(turned)], axis=1)


def spread_normal(draws: int, rng: np.random.Generator) -> Floats:
    """(draws,) standard normal, one from each of as many equally likely slices, rising."""
    share = (np.arange(draws) + rng.uniform(0.0, 1.0, draws)) / draws
    inverse = NormalDist().inv_cdf
    return np.array([inverse(min(max(s, 1e-12), 1.0 - 1e-12)) for s in share.tolist()])


def chance_below(z_mm: Floats, sigma_mm: Floats, half_mm: Floats) -> Floats:
    """(n,) chance that a normal error of sigma_mm and an even one within +- half_mm add up to z or less. All (n,).

    The integral of the normal distribution function over the even error: g(y) = y P(y / s) + s p(y / s) is its
    antiderivative (integration by parts). Both 0: the step at 0.
    """
    half, sigma = np.maximum(half_mm, LEAST_MM), np.maximum(sigma_mm, LEAST_MM)
    even = (_risen(z_mm + half, sigma) - _risen(z_mm - half, sigma)) / (2.0 * half)
    alone = np.where(sigma_mm > 0, _normal(z_mm / sigma), np.where(z_mm >= 0, 1.0, 0.0))
    return np.clip(np.where(half_mm > LEAST_MM, even, alone), 0.0, 1.0)


def _risen(y: Floats, sigma: Floats) -> Floats:
    t = y / sigma
    return y * _normal(t) + sigma / math.sqrt(2.0 * math.pi) * np.exp(-0.5 * np.minimum(t * t, 1e3))


def _normal(t: Floats) -> Floats:
    """The normal distribution function."""
    return np.array([0.5 * math.erfc(-v) for v in (t / math.sqrt(2.0)).tolist()])
