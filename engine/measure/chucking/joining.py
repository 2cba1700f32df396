"""A base shape and a few probed points made one skin: the profile from callipers, tilt and runout from the probe.

Takes any skin and six readings or more; fits how the base leans and runs out, and reshapes it (its size, oval, three
lobes, alike at every station) only where points that were left out are foretold better for it. Gives a `Measured` on
an even grid whose sigma holds the fit's doubt, the base's own error and what the readings show of it.
Source of the choice: T. Hastie, R. Tibshirani, J. Friedman, The Elements of Statistical Learning, 7.10
(cross-validation, and the simpler model unless the other is better by one standard error).
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding
from engine.kernel.robust import robust_sigma
from engine.measure.chucking.doubts import left_out, warning
from engine.measure.chucking.fitting import (
    MOTION,
    TILT_Y,
    TILT_Z,
    WILD,
    Fit,
    Prior,
    Problem,
    Terms,
    refit,
    settle,
)
from engine.measure.chucking.moving import moved_skin
from engine.measure.measured import Measured, Readings, even_angles

__all__ = ["corrected"]

LEAST_POINTS = 6  # as many as a motion has numbers
SPARE_POINTS = 2  # readings more than numbers that a reshaping needs at least
MOST_FOLDS = 12  # readings are left out one by one up to here, then in this many groups
ROUNDS = 5  # from the fit of all readings to that of nearly all
OFFSET_SIGMA_MM, TILT_SIGMA_DEG = 3.0, 3.0  # a gourd chucked by eye; no source
SCALE_SIGMA, LOBE_SIGMA_MM = 0.05, 3.0
MISFIT = 3.0  # times what the base states
MISFIT_MM = 0.1  # an engraving's depth is asked to within less
TILT_LIMIT_DEG = 0.5  # 0.4 mm at the end of a blank of 100 mm
LEAST_REACH = 0.1  # of the length: points nearer together along it foretell no tilt at its ends
STATION_MM = 1.0
FEWEST_STATIONS, MOST_STATIONS = 41, 241
_Words = tuple[tuple[str, str], ...]
OFFERED = (
    ("tilt and runout", Terms()),
    ("tilt, runout and size", Terms(scale=True)),
    ("tilt, runout and an oval", Terms(orders=(2,))),
    ("tilt, runout, size and an oval", Terms(scale=True, orders=(2,))),
    ("tilt, runout, an oval and three lobes", Terms(orders=(2, 3))),
    ("tilt, runout, size, an oval and three lobes", Terms(scale=True, orders=(2, 3))),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reshaped:
    """`skin` with terms added to its radius: a skin."""

    skin: Skin
    terms: Terms
    amounts: Floats

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """The base's."""
        return self.skin.x_range_mm

    @property
    def sigma_mm(self) -> float:
        """The base's."""
        return self.skin.sigma_mm

    @property
    def is_round(self) -> bool:
        """Where no lobe was added."""
        return self.skin.is_round and not self.terms.orders

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r, mm."""
        r = self.skin.radius(x_mm, theta_rad)
        return r + self.terms.columns(r, np.broadcast_to(theta_rad, r.shape)) @ self.amounts

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr/dx, dr/dtheta)."""
        per_x, per_theta = self.skin.slopes(x_mm, theta_rad)
        grow = 1.0 + float(self.amounts[0]) if self.terms.scale else 1.0
        return per_x * grow, per_theta + self.terms.turning(per_theta, np.broadcast_to(theta_rad, per_x.shape)) @ (
            self.amounts
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tried:
    """One way of correcting, and how well it foretells readings that it was not given.

    misses_mm : (k,) radial, reading minus what was foretold. doubt_mm : (k,) one standard deviation of that by the fit.
    """

    name: str
    problem: Problem
    fit: Fit
    misses_mm: Floats
    doubt_mm: Floats

    def error_mm(self, gate_mm: float) -> float:
        """Root mean square miss, a wild one counted as `gate_mm`."""
        return float(np.sqrt(self.squares(gate_mm).mean()))

    def squares(self, gate_mm: float) -> Floats:
        """(k,) mm2."""
        squares: Floats = np.minimum(np.abs(self.misses_mm), gate_mm) ** 2
        return squares


def corrected(base: Skin, readings: Readings, *, angles: int = 120) -> Measured:
    """`base` as it stands in the chuck by `readings`, at the base's stations and so many even angles.

    Its shift along x and its turn are taken as they are. Raises BlankError for fewer than six readings, or where fewer
    than six lie on the base.
    """
    if len(readings) < LEAST_POINTS:
        raise BlankError(
            f"{len(readings)} points cannot tell tilt and runout",
            where="/readings",
            hint="probe at least six: three round the blank at each of two stations far apart",
        )
    tried = [_tried(base, readings, *offer) for offer in OFFERED if _allowed(offer[1], len(readings))]
    chosen = tried[0]
    gate = WILD * float(robust_sigma(chosen.misses_mm))
    for other in tried[1:]:
        if _better(other.squares(gate), chosen.squares(gate)):
            chosen = other
    fit = chosen.fit
    if int(fit.used.sum()) < LEAST_POINTS:
        raise BlankError(
            f"only {int(fit.used.sum())} of {len(readings)} points lie on the base shape",
            where="/readings",
            hint="check the stations and the unit of both; probe between the first and the last station",
        )
    return _drawn(base, readings, chosen, _words(chosen, tried, gate), angles)


def _allowed(terms: Terms, points: int) -> bool:
    return terms.count == 0 or points >= 4 + terms.count + SPARE_POINTS


def _better(other: Floats, chosen: Floats) -> bool:
    """By more than one standard error of the difference, reading by reading, of squared misses (k,)."""
    gain = chosen - other
    return bool(gain.mean() > gain.std() / np.sqrt(len(gain)))


def _tried(base: Skin, readings: Readings, name: str, terms: Terms) -> _Tried:
    problem = _problem(base, readings, terms)
    k = len(readings)
    fold = np.arange(k) % min(k, MOST_FOLDS)
    out = fold == np.arange(int(fold.max()) + 1)[:, None]
    fit = settle(problem, problem.prior.mean)
    parameters, covariance = refit(problem, fit, ~out, ROUNDS)
    d = problem.distances(parameters)
    foretold = (fold, np.arange(k))
    misses, per = (d.out_mm * d.steep)[foretold], (d.per * d.steep[..., None])[foretold]
    doubt = np.sqrt(np.einsum("kp,kpq,kq->k", per, covariance[fold], per))
    return _Tried(name=name, problem=problem, fit=fit, misses_mm=misses, doubt_mm=doubt)


def _radial(problem: Problem, fit: Fit) -> tuple[Floats, Floats]:
    """(k,) how far points stand over a fitted body along the old radius, and the standard deviation of its skin."""
    d = problem.distances(fit.parameters[None, :])
    per = d.per[0] * d.steep[0][:, None]
    doubt: Floats = np.sqrt(np.maximum(np.einsum("kp,pq,kq->k", per, fit.covariance, per), 0.0))
    return d.out_mm[0] * d.steep[0], doubt


def _problem(base: Skin, readings: Readings, terms: Terms) -> Problem:
    tilt = np.radians(TILT_SIGMA_DEG)
    rigid = [0.0, 0.0, tilt, tilt, OFFSET_SIGMA_MM, OFFSET_SIGMA_MM]
    shape = [SCALE_SIGMA] * terms.scale + [LOBE_SIGMA_MM] * (2 * len(terms.orders))
    prior = Prior(mean=np.zeros(MOTION + terms.count), sigma=np.array(rigid + shape))
    return Problem.of(base, readings, prior, terms)


def _drawn(base: Skin, readings: Readings, chosen: _Tried, how: _Words, angles: int) -> Measured:
    problem, fit = chosen.problem, chosen.fit
    x0, x1 = base.x_range_mm
    stations = int(np.clip(np.ceil((x1 - x0) / STATION_MM) + 1, FEWEST_STATIONS, MOST_STATIONS))
    x = np.linspace(x0, x1, stations)
    shape = (stations, angles)
    body = Reshaped(skin=base, terms=problem.terms, amounts=fit.parameters[MOTION:])
    motion = problem.motion(fit.parameters)
    radius, known = moved_skin(body, motion, x, even_angles(angles))
    along, around = np.repeat(x, angles), np.tile(even_angles(angles), stations)
    spots = np.stack([along, radius.ravel() * np.cos(around), radius.ravel() * np.sin(around)], axis=1)
    _, doubt = _radial(replace(problem, points_mm=spots, sigma_mm=np.ones(len(spots))), fit)
    shown = _shown(readings, chosen)
    left, _ = _radial(problem, fit)
    return Measured(
        x_mm=x,
        radius_mm=radius,
        sigma_mm=np.hypot(doubt, max(base.sigma_mm, shown)).reshape(shape),
        known=known,
        findings=_findings(readings, fit, shown, base),
        how=(*how, ("the base's own error", f"{base.sigma_mm:.3f} mm stated, {shown:.3f} mm shown by the readings")),
        readings=readings,
        residual_mm=left,
        used=fit.used,
    )


def _shown(readings: Readings, chosen: _Tried) -> float:
    """The base's own error as left-out readings show it beyond their own and the fit's doubt, mm."""
    own = readings.sigma_mm**2 + chosen.doubt_mm**2
    return float(np.sqrt(max((chosen.misses_mm**2 - own)[chosen.fit.used].mean(), 0.0)))


def _findings(readings: Readings, fit: Fit, shown: float, base: Skin) -> tuple[Finding, ...]:
    made = left_out(fit, "the base shape")
    if shown > max(MISFIT * base.sigma_mm, MISFIT_MM):
        text = f"between the probed points the true skin strays from the base shape by {shown:.2f} mm rms"
        advice = "probe a whole grid of points, or measure the base at more stations"
        made.append(warning("base-does-not-fit", text, advice))
    tilt = float(np.degrees(np.sqrt(np.linalg.eigvalsh(fit.covariance[TILT_Y : TILT_Z + 1, TILT_Y : TILT_Z + 1])[-1])))
    reach, length = float(np.ptp(readings.x_mm[fit.used])), base.x_range_mm[1] - base.x_range_mm[0]
    if tilt > TILT_LIMIT_DEG or reach <= LEAST_REACH * length:
        text = f"the points do not tell the tilt: only within {tilt:.2f} deg, from {reach:.1f} of {length:.1f} mm"
        made.append(warning("tilt-unknown", text, "probe at stations further apart, and all round at each"))
    return tuple(made)


def _words(chosen: _Tried, tried: list[_Tried], gate_mm: float) -> _Words:
    """What was fitted, how much, and by which left-out error it was chosen."""
    fit = chosen.fit
    m, left = chosen.problem.motion(fit.parameters), min(len(fit.used), MOST_FOLDS)
    errors = "; ".join(f"{one.name} {one.error_mm(gate_mm):.4f} mm" for one in tried)
    groups = "one reading" if left == len(fit.used) else f"a {left}th of the readings"
    told = [
        ("fitted", chosen.name),
        ("chosen by", f"leaving out {groups} at a time; what was left out is missed by: {errors} rms"),
        ("taken as given", "the shift along the axis and the turn about it"),
        ("runout", f"{m.offset_y_mm:.3f} and {m.offset_z_mm:.3f} mm along y and z at x = {m.pivot_mm:g}"),
        ("tilt", f"{np.degrees(m.tilt_y_rad):.3f} and {np.degrees(m.tilt_z_rad):.3f} deg about y and z"),
    ]
    amounts = fit.parameters[MOTION:].tolist()
    if chosen.problem.terms.scale:
        told.append(("size", f"{100 * amounts.pop(0):+.3f} %"))
    for k, order in enumerate(chosen.problem.terms.orders):
        told.append((f"harmonic {order}", f"{amounts[2 * k]:.3f} cos and {amounts[2 * k + 1]:.3f} sin, mm"))
    return tuple(told)
