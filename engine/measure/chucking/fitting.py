"""The fit that every way of joining shares: a body moved, and a little reshaped, until its skin runs through points.

Takes a skin, points of the new frame with their sigma, and what is believed beforehand of each parameter (a normal
prior; sigma 0 holds it). Works on many starts at once. Distances are signed along the skin's normal, positive outside;
the weights are Cauchy's while starts are compared, and points beyond four sigma are left out of the last fit.
Sources: P. Huber, Robust Statistics (weights, median scale); W. Foerstner and B. Wrobel, Photogrammetric Computer
Vision (Gauss-Newton with priors, covariance of the estimate, variance factor).
"""

from dataclasses import dataclass, field

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.robust import robust_sigma
from engine.measure.chucking.continued import Continued, Local
from engine.measure.chucking.motion import Motion, rotations
from engine.measure.measured import Readings

__all__ = [
    "GUESS_MM",
    "MOTION",
    "TILT_Y",
    "TILT_Z",
    "TURN",
    "WILD",
    "Fit",
    "Prior",
    "Problem",
    "Terms",
    "costs",
    "refit",
    "settle",
    "solve",
]

MOTION = 6  # parameters of a motion: shift, turn, tilt_y, tilt_z, offset_y, offset_z; a shape's terms follow
SHIFT, TURN, TILT_Y, TILT_Z, OFFSET_Y, OFFSET_Z = range(MOTION)
GUESS_MM = 0.02  # of a reading that states no sigma, to start from; what is left over then sets the true scale
CAUCHY = 2.385  # 95 % as good as least squares on normal noise (Huber, and common practice)
WILD = 4.0  # sigma: one normal reading in 16,000 lies further out
STRIDE = np.array([3.0, 0.15, 0.03, 0.03, 1.5, 1.5])  # mm and rad: no step is longer, lest a far start runs away
ALIKE_MM = 15.0  # places of a skin nearer than this err alike: about the distance between calliper stations
FADE_MM = 1.0  # a point this far beyond the known end counts half
SETTLED = 1e-7  # of a prior's sigma: a step shorter than that changes nothing
_STEP = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How a body may be reshaped: its radius scaled, and harmonics of these orders added, alike at every station."""

    scale: bool = False
    orders: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """How many numbers that takes."""
        return int(self.scale) + 2 * len(self.orders)

    def columns(self, r: Floats, theta_rad: Floats) -> Floats:
        """(..., count) mm of radius for one unit of each number, at radii and angles (...)."""
        made = [r] if self.scale else []
        for order in self.orders:
            made += [np.cos(order * theta_rad), np.sin(order * theta_rad)]
        return np.stack(made, axis=-1) if made else np.zeros((*r.shape, 0))

    def turning(self, per_theta: Floats, theta_rad: Floats) -> Floats:
        """(..., count) the same of the slope dr/dtheta."""
        made = [per_theta] if self.scale else []
        for order in self.orders:
            made += [-order * np.sin(order * theta_rad), order * np.cos(order * theta_rad)]
        return np.stack(made, axis=-1) if made else np.zeros((*per_theta.shape, 0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is believed of the parameters beforehand, (p,): mean and one standard deviation, 0 where held."""

    mean: Floats
    sigma: Floats

    @property
    def free(self) -> Bools:
        """(p,) what is fitted."""
        return np.asarray(self.sigma > 0.0)

    @property
    def weight(self) -> Floats:
        """(p,) 1 / variance of what is fitted, 0 of what is held."""
        return np.where(self.free, 1.0 / np.where(self.free, self.sigma, 1.0) ** 2, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """A body, points (k, 3) mm it is to run through, their sigma (k,) mm (reading and skin), all about one pivot.

    given: the readings state their sigma, which is then never taken for less. skin_sigma_mm: the body's part of it.
    """

    body: Continued
    points_mm: Floats
    sigma_mm: Floats
    pivot_mm: float
    prior: Prior
    terms: Terms = field(default_factory=Terms)
    given: bool = True
    skin_sigma_mm: float = 0.0

    @classmethod
    def of(cls, skin: Skin, readings: Readings, prior: Prior, terms: Terms | None = None) -> "Problem":
        """A skin that is to run through readings, turned about its middle."""
        given = bool((readings.sigma_mm > 0).all())
        own = readings.sigma_mm if given else np.full(len(readings), GUESS_MM)
        theta, r = readings.theta_rad, readings.radius_mm
        return cls(
            body=Continued(skin),
            points_mm=np.stack([readings.x_mm, r * np.cos(theta), r * np.sin(theta)], axis=1),
            sigma_mm=np.hypot(own, skin.sigma_mm),
            pivot_mm=0.5 * sum(skin.x_range_mm),
            prior=prior,
            terms=terms or Terms(),
            given=given,
            skin_sigma_mm=skin.sigma_mm,
        )

    def motion(self, parameters: Floats) -> Motion:
        """The rigid part of parameters (p,)."""
        shift, turn, tilt_y, tilt_z, offset_y, offset_z = parameters[:MOTION].tolist()
        return Motion(
            shift_mm=shift,
            turn_rad=turn,
            tilt_y_rad=tilt_y,
            tilt_z_rad=tilt_z,
            offset_y_mm=offset_y,
            offset_z_mm=offset_z,
            pivot_mm=self.pivot_mm,
        )

    def distances(self, parameters: Floats) -> "Distances":
        """Of the points from the body under parameters (s, p)."""
        turned, over_y, over_z = _rotations(parameters)
        pivot = np.array([self.pivot_mm, 0.0, 0.0])
        ahead = self.points_mm - pivot - parameters[:, None, [SHIFT, OFFSET_Y, OFFSET_Z]]
        from_pivot = ahead @ turned
        old = from_pivot + pivot
        theta = np.arctan2(old[..., 2], old[..., 1])
        local = self.body.at(old[..., 0], theta)
        columns = self.terms.columns(local.r, theta)
        if self.terms.count:
            extra = parameters[:, MOTION:, None]
            turning = (self.terms.turning(local.per_theta, theta) @ extra)[..., 0]
            grow = 1.0 + parameters[:, MOTION, None] if self.terms.scale else 1.0
            local = Local(local.r + (columns @ extra)[..., 0], local.per_x * grow, local.per_theta + turning)
        normal = local.gradient(old)
        steep = np.sqrt((normal**2).sum(axis=-1))
        out = (np.hypot(old[..., 1], old[..., 2]) - local.r) / steep
        normal /= steep[..., None]
        per = np.zeros((*out.shape, MOTION + self.terms.count))
        per[..., [SHIFT, OFFSET_Y, OFFSET_Z]] = -normal @ np.swapaxes(turned, -1, -2)
        per[..., TURN] = normal[..., 1] * from_pivot[..., 2] - normal[..., 2] * from_pivot[..., 1]
        per[..., TILT_Y] = (normal * (ahead @ over_y)).sum(axis=-1)
        per[..., TILT_Z] = (normal * (ahead @ over_z)).sum(axis=-1)
        per[..., MOTION:] = -columns / steep[..., None]
        x0, x1 = self.body.x_range_mm
        beyond = np.abs(old[..., 0] - np.clip(old[..., 0], x0, x1))
        return Distances(out_mm=out, per=per, beyond_mm=beyond, old_mm=old, steep=steep)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Distances:
    """Of points from a body, for s sets of parameters.

    out_mm (s, k) signed distances; per (s, k, p) their slopes; beyond_mm (s, k) how far past the body's stations;
    old_mm (s, k, 3) the points in the old frame; steep (s, k) radial over normal distance.
    """

    out_mm: Floats
    per: Floats
    beyond_mm: Floats
    old_mm: Floats
    steep: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What a fit came to.

    parameters (p,) and their covariance (p, p). residual_mm (k,) along the normal. used (k,) the points it rests on;
    beyond (k,) those past the body's stations. factor: root of the variance factor, what was left over against what
    the sigmas say.
    """

    parameters: Floats
    covariance: Floats
    residual_mm: Floats
    used: Bools
    factor: float
    beyond: Bools


def _rotations(parameters: Floats) -> tuple[Floats, Floats, Floats]:
    """(s, 3, 3) each: the rotations, and their slopes along tilt_y and tilt_z by central differences."""
    turn, y, z = parameters[:, TURN], parameters[:, TILT_Y], parameters[:, TILT_Z]
    several = rotations(
        np.tile(turn, 5),
        np.concatenate([y, y + _STEP, y - _STEP, y, y]),
        np.concatenate([z, z, z, z + _STEP, z - _STEP]),
    )
    at, y_more, y_less, z_more, z_less = several.reshape((5, len(turn), 3, 3))
    return at, (y_more - y_less) / (2 * _STEP), (z_more - z_less) / (2 * _STEP)


def solve(problem: Problem, starts: Floats, rounds: int) -> tuple[Floats, Floats]:
    """Parameters (s, p) after some rounds of robust Gauss-Newton from `starts`, and each one's scale (s,) in sigmas."""
    at, free, prior = starts.copy(), problem.prior.free, problem.prior
    factor = np.ones(len(at))
    for _ in range(rounds):
        d = problem.distances(at)
        unit = d.out_mm / (problem.sigma_mm * (1.0 + d.beyond_mm / FADE_MM))
        factor = np.maximum(robust_sigma(unit), 1.0 if problem.given else 1e-6)
        wild = 1.0 / (1.0 + (unit / (CAUCHY * factor[:, None])) ** 2)
        weight = wild / (problem.sigma_mm * factor[:, None] * (1.0 + d.beyond_mm / FADE_MM)) ** 2
        at = at + _step(d, weight, at, prior, free)
    return at, factor


def costs(problem: Problem, parameters: Floats, factor: float) -> Floats:
    """(s,) minus twice the log likelihood and prior of parameters (s, p), up to what all share, at one scale."""
    d = problem.distances(parameters)
    unit = d.out_mm / (factor * problem.sigma_mm * (1.0 + d.beyond_mm / FADE_MM))
    prior = problem.prior.weight * (parameters - problem.prior.mean) ** 2
    whole: Floats = CAUCHY**2 * np.log1p((unit / CAUCHY) ** 2).sum(axis=1) + prior.sum(axis=1)
    return whole


def settle(problem: Problem, start: Floats, rounds: int = 30) -> Fit:
    """The last fit from a start (p,) that is near: least squares of the points that are not wild, with its covariance.

    A point is wild beyond WILD sigma of the others' scatter, and left out too where it lies past the body's stations.
    """
    at, free, prior = start[None, :].copy(), problem.prior.free, problem.prior
    used, factor = np.ones(len(problem.points_mm), np.bool_), 1.0
    for k in range(rounds):
        d = problem.distances(at)
        unit = d.out_mm[0] / problem.sigma_mm
        scatter = float(robust_sigma(unit))
        spare = len(unit) / max(len(unit) - int(free.sum()), 1)  # a fit through few points leaves little over
        gate = WILD * max(scatter * np.sqrt(spare), 1.0 if problem.given else 1e-9)
        used = (np.abs(unit) <= gate) & (d.beyond_mm[0] == 0.0)
        factor = _factor(problem, unit[used], int(free.sum()))
        weight = np.where(used, 1.0 / (problem.sigma_mm * factor) ** 2, 0.0)[None, :]
        step = _step(d, weight, at, prior, free)
        at = at + step
        if k > 2 and np.abs(step[0][free] / np.maximum(prior.sigma[free], 1e-9)).max(initial=0.0) < SETTLED:
            break
    d = problem.distances(at)
    return Fit(
        parameters=at[0],
        covariance=_covariance(problem, d, used, factor),
        residual_mm=d.out_mm[0],
        used=used,
        factor=factor,
        beyond=d.beyond_mm[0] > 0.0,
    )


def refit(problem: Problem, fit: Fit, kept: Bools, rounds: int) -> tuple[Floats, Floats]:
    """The fit again with only some of the points it rests on, each row of kept (s, k) for itself, from where it ended.

    Gives parameters (s, p) and (s, p, p) their covariance; sigmas and what is wild are those of the whole fit.
    """
    at, free, prior = np.tile(fit.parameters, (len(kept), 1)), problem.prior.free, problem.prior
    weight = np.where(kept & fit.used, 1.0 / (problem.sigma_mm * fit.factor) ** 2, 0.0)
    for _ in range(rounds):
        at = at + _step(problem.distances(at), weight, at, prior, free)
    per = problem.distances(at).per[..., free]
    normal = np.swapaxes(per * weight[..., None], -1, -2) @ per + np.diag(prior.weight[free])
    covariance = np.zeros((len(at), len(free), len(free)))
    covariance[np.ix_(np.arange(len(at)), free.nonzero()[0], free.nonzero()[0])] = np.linalg.inv(normal)
    return at, covariance


def _factor(problem: Problem, unit: Floats, parameters: int) -> float:
    """Root of the variance factor; not under 1 where the readings state their sigma."""
    if len(unit) <= parameters:
        return 1.0
    found = float(np.sqrt((unit**2).sum() / (len(unit) - parameters)))
    return max(found, 1.0 if problem.given else 1e-6)


def _step(d: Distances, weight: Floats, at: Floats, prior: Prior, free: Bools) -> Floats:
    """(s, p) one Gauss-Newton step, cut back where it is too long to trust."""
    per = d.per[..., free]
    weighted = np.swapaxes(per * weight[..., None], -1, -2)
    normal = weighted @ per + np.diag(prior.weight[free])
    towards = -(weighted @ d.out_mm[..., None])[..., 0] - (prior.weight * (at - prior.mean))[:, free]
    step = np.zeros_like(at)
    step[:, free] = np.linalg.solve(normal, towards[..., None])[..., 0]
    over = np.abs(step[:, :MOTION]) / STRIDE
    return step / np.maximum(over.max(axis=1, initial=1.0), 1.0)[:, None]


def _covariance(problem: Problem, d: Distances, used: Bools, factor: float) -> Floats:
    """(p, p): the readings' noise counts as independent, the skin's own error as alike within ALIKE_MM.

    Sandwich form (Huber): estimator H^-1 A' W, data's covariance S, so H^-1 (A' W S W A + prior) H^-1.
    """
    free, prior = problem.prior.free, problem.prior
    per = d.per[0][used][:, free]
    variance = (factor * problem.sigma_mm[used]) ** 2
    skin = min((factor * problem.skin_sigma_mm) ** 2, float(variance.min(initial=np.inf)))
    places = d.old_mm[0][used]
    apart = ((places[:, None, :] - places[None, :, :]) ** 2).sum(axis=-1)
    data = np.diag(variance - skin) + skin * np.exp(-0.5 * apart / ALIKE_MM**2)
    gain = (per / variance[:, None]).T
    turned = np.linalg.inv(gain @ per + np.diag(prior.weight[free]))
    inner = gain @ data @ gain.T + np.diag(prior.weight[free])
    whole = np.zeros((len(free), len(free)))
    whole[np.ix_(free, free)] = turned @ inner @ turned
    return whole
