"""A measurement carried over to where its blank stands now: radius, sigma per place and what is known, on a new grid.

Takes a `Measured` and the motion found since, with its covariance where it has one; the doubt of the motion is added to
the sigma of every place that it moves. Places past the old ends are filled and said not to be known.
"""

from dataclasses import replace

import numpy as np

from engine.blank import Sampled, tilt_cos
from engine.kernel.arrays import Bools, Floats
from engine.kernel.units import TURN_RAD
from engine.measure.chucking.continued import Continued
from engine.measure.chucking.motion import Motion
from engine.measure.chucking.moving import Met, filled, meet
from engine.measure.measured import Measured, even_angles

__all__ = ["carried", "surroundings"]

STRAY = 0.3  # mm a mm: how fast the true skin may leave a continued end; common practice, no source
LEAST_COS = 0.05  # steeper than 87 degrees nothing radial is measured


def carried(
    measured: Measured,
    motion: Motion,
    *,
    covariance: Floats | None = None,
    after: Motion | None = None,
    x_mm: Floats | None = None,
    angles: int | None = None,
) -> Measured:
    """`measured` after `motion`, at even stations (m,) and so many angles of the new frame; its own ones where none.

    covariance : (6, 6) of the motion as `Registered` gives it. after : a second motion that is exact, done after it
    (end for end). Raises BlankError for a grid too small to carry a cubic.
    """
    x = measured.x_mm if x_mm is None else x_mm
    count = measured.radius_mm.shape[1] if angles is None else angles
    skin = measured.skin()
    whole = motion if after is None else motion.then(after)
    met = meet(skin, whole, np.repeat(x, count), np.tile(even_angles(count), len(x)))
    variance, known = surroundings(measured, met.old_x_mm, met.old_theta_rad)
    beyond = met.old_x_mm - np.clip(met.old_x_mm, *skin.x_range_mm)
    variance = variance + (STRAY * beyond) ** 2
    if covariance is not None:
        variance = variance + _doubt(skin, met, motion, covariance)
    shape = (len(x), count)
    return replace(
        measured,
        x_mm=x,
        radius_mm=np.maximum(filled(met.radius_mm.reshape(shape)), 1e-6),
        sigma_mm=np.sqrt(variance).reshape(shape),
        known=(met.known & known).reshape(shape),
        readings=None,
        residual_mm=None,
        used=None,
    )


def surroundings(measured: Measured, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Bools]:
    """(k,) the variance, mm2, between the grid's places round each of (k,), and whether all of those are known."""
    m, n = measured.radius_mm.shape
    x0, x1 = float(measured.x_mm[0]), float(measured.x_mm[-1])
    along = np.round((np.clip(x_mm, x0, x1) - x0) * ((m - 1) / (x1 - x0)), 6)
    around = np.round((theta_rad % TURN_RAD) * (n / TURN_RAD), 6)
    i, j = np.minimum(along.astype(np.int64), m - 2), around.astype(np.int64) % n
    u, v = along - i, around - np.floor(around)
    variance, known = np.zeros(len(u)), np.ones(len(u), np.bool_)
    for di, share_x in ((0, 1.0 - u), (1, u)):
        for dj, share_theta in ((0, 1.0 - v), (1, v)):
            share, place = share_x * share_theta, (i + di, (j + dj) % n)
            variance += share * measured.sigma_mm[place] ** 2
            known &= measured.known[place] | (share == 0.0)
    return variance, known


def _doubt(skin: Sampled, met: Met, motion: Motion, covariance: Floats) -> Floats:
    """(k,) variance, mm2, of the radius at each place by what is not known of the motion."""
    x, theta = met.old_x_mm, met.old_theta_rad
    local = Continued(skin).at(x, theta)
    spot = np.stack([x, local.r * np.cos(theta), local.r * np.sin(theta)], axis=1)
    normal = local.gradient(spot)
    normal = normal / np.sqrt((normal**2).sum(axis=1, keepdims=True)) @ motion.rotation.T
    arm = (spot - np.array([motion.pivot_mm, 0.0, 0.0])) @ motion.rotation.T
    spin = np.cross(arm, normal)
    per = np.column_stack([normal[:, 0], spin, normal[:, 1:]])
    cos = np.maximum(tilt_cos(np.maximum(met.radius_mm, 1e-6), met.per_x, met.per_theta), LEAST_COS)
    variance: Floats = np.einsum("kp,pq,kq->k", per, covariance, per) / cos**2
    return np.maximum(variance, 0.0)
