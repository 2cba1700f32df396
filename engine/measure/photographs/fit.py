"""The skin and the corrections of the set-up that all edge points agree with best: steps of linear least squares.

At its contact a ray asks: splines times coefficients, less the corrections' effect, is the contact's rho squared. The
coefficients come from a banded factor, the corrections (some hundred) from its Schur complement, both held by their
priors. Weights are robust; the priors are set against residuals counted with their correlation along the outline.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Bools, Floats
from engine.kernel.robust import robust_sigma
from engine.measure.photographs.camera import Setup
from engine.measure.photographs.contact import Contacts, Skin, contacts
from engine.measure.photographs.corrections import Corrections, columns, expected, rays_for
from engine.measure.photographs.holders import Holders, information
from engine.measure.photographs.rays import ALL_ROUND, EdgePoints
from engine.measure.spline import Basis, Factor, Smoothing, around_penalty, penalties

__all__ = ["Linear", "Problem", "State", "known", "linearised", "problem_of", "started", "stepped"]

_KNOT_MM = 2.2  # along: finer than any form that turning or growing leaves, coarser than the edge's noise
_AROUND = 36  # knots round a section seen from all sides
_HUBER = 2.0
_TUKEY = 4.685  # 95 % as good as least squares on Gaussian errors
_TUKEY_INSIDE = 10.0
_FARTHEST = 3.0  # of what a correction was told to be: a longer step leaves the contacts it was reckoned at
_LAGS = 60  # edge points over which residuals may hang together
_FLOOR_PX = 0.5  # a pixel's share below which no residual is called wild


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """What does not change while the skin is searched for."""

    points: EdgePoints
    holders: Holders
    setup: Setup
    basis: Basis
    along: sparse.csr_matrix
    around: sparse.csr_matrix


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """The skin and the corrections so far, and the smoothing in use.

    scale_mm : of the residuals that the last step began with. noise_mm2 : the least that the priors were set against;
    priors that hold, and residuals that hang together for it, would else keep each other up. moved_mm : by the last
    step. foretold_mm : how near to the skin photographs lie that were left out of its fit.
    """

    skin: Skin
    corrections: Corrections
    smoothing: Smoothing
    scale_mm: float = math.inf
    noise_mm2: float = math.inf
    moved_mm: float = math.inf
    foretold_mm: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linear:
    """The rows of one step, one for each of the m used edge points.

    touch and trust (0 to 1) : of all edge points. use : which of them have a row. matrix : (m, size), target (m,) and
    effect (m, k) weighted to mm. scale_mm : of the residuals, robust. unit : mean weight of a coefficient's rows.
    together : how many neighbouring residuals say the same.
    """

    touch: Contacts
    trust: Floats
    use: Bools
    matrix: sparse.csr_matrix
    target: Floats
    effect: Floats
    scale_mm: float
    unit: float
    together: float

    @property
    def square_mm2(self) -> float:
        """Mean square of the trusted residuals."""
        trust, gap = self.trust[self.use], self.touch.gap_mm[self.use]
        return float((trust * gap**2).sum()) / max(float(trust.sum()), 1.0)

    @property
    def noise_mm2(self) -> float:
        """What a prior's inverse variance counts among the rows. Of their mean square, not of `scale_mm`: outlines that
        no skin fits are not to settle what they hardly tell.
        """
        return self.square_mm2 * self.together


def problem_of(points: EdgePoints, holders: Holders, setup: Setup) -> Problem:
    """Splines fine enough for what this many photographs can show."""
    n = points.photos
    nt = 1 if n == 1 else _AROUND if n >= ALL_ROUND else max(8, 4 * n)
    nx = max(8, round(setup.length_mm / _KNOT_MM)) + 3
    basis = Basis(x0_mm=0.0, x1_mm=setup.length_mm, nx=nx, nt=nt)
    along, around = penalties(basis)
    if nt > 1:
        around = _free_of_low(basis)
    return Problem(points=points, holders=holders, setup=setup, basis=basis, along=along, around=around)


def _free_of_low(basis: Basis) -> sparse.csr_matrix:
    """A penalty around that leaves the mean, the first and the second harmonic of a section alone.

    A piece that runs out, or is oval, and a camera that moves can look nearly alike; were runout smoothed at all, the
    smoothing would settle the matter instead of what is known of the camera. The filter is a fifth difference with
    its zeros moved from frequency 0 to 0, 1 and 2 a turn. Derived here.
    """
    nt = basis.nt
    taps = np.array([-1.0, 1.0])
    for harmonic in (1, 2):
        taps = np.convolve(taps, [1.0, -2.0 * math.cos(2.0 * math.pi * harmonic / nt), 1.0])
    taps *= 8.0 / np.abs(taps).sum()  # as strong on the finest ripple as a third difference
    return around_penalty(basis, taps)


def started(problem: Problem, smoothing: Smoothing) -> State:
    """A first skin: a ray's distance from the axis, put at its foot (exact on a body of revolution)."""
    points, basis = problem.points, problem.basis
    corrections = expected(problem.setup, points.photos)
    beta, foot, _ = rays_for(points, problem.setup, corrections)
    rho = np.hypot(foot[:, 1], foot[:, 2])
    inside = (foot[:, 0] > basis.x0_mm) & (foot[:, 0] < basis.x1_mm)
    weight = inside / np.maximum(2.0 * rho, 2.0)
    theta = np.arctan2(foot[:, 1], foot[:, 2]) + beta
    matrix = basis.matrix(foot[:, 0], theta, weight)
    unit = float(matrix.multiply(matrix).sum()) / basis.size
    factor = Factor(basis, matrix.T @ matrix, problem.along, problem.around, smoothing, unit)
    coefficients = factor.solve(matrix.T @ (rho**2 * weight)).reshape(basis.nx, basis.nt)
    return State(skin=Skin(basis=basis, coefficients=coefficients), corrections=corrections, smoothing=smoothing)


def linearised(problem: Problem, state: State, *, settled: bool) -> Linear:
    """The rows at the present contacts. settled : wild points may be left out wholly (see `_trust`)."""
    points, setup = problem.points, problem.setup
    rays = rays_for(points, setup, state.corrections)
    touch = contacts(state.skin, *rays)
    scale = float(robust_sigma(touch.gap_mm[touch.touching])) + 1e-6
    trust = touch.touching * _trust(touch.gap_mm / max(scale, _FLOOR_PX * setup.mm_per_px), settled=settled)
    weight = np.sqrt(trust) / touch.steep
    use = weight > 0.0
    effect = -columns(points, setup, state.corrections, state.skin, touch, rays)
    matrix = problem.basis.matrix(touch.x_mm[use], touch.theta_rad[use], weight[use])
    return Linear(
        touch=touch,
        trust=trust,
        use=use,
        matrix=matrix,
        target=(touch.rho_mm**2 * weight)[use],
        effect=effect[use] * weight[use, None],
        scale_mm=scale,
        unit=float(matrix.multiply(matrix).sum()) / problem.basis.size,
        together=_together(touch.gap_mm[use], points, use),
    )


def _trust(z: Floats, *, settled: bool) -> Floats:
    """Weight of each residual, in scales. Huber's while the skin is searched for.

    What hides background (holders, dirt, fingers) only pushes an edge outwards: once settled those fade out wholly
    (Tukey). A skin that stands over an edge is rarely right for long: those keep a bounded pull until far off, for a
    fit that starts by bridging a hollow would else throw away the very rays that look into it.
    """
    huber = np.minimum(1.0, _HUBER / np.maximum(np.abs(z), 1e-9))
    if not settled:
        return huber
    fading = np.where(np.abs(z) < _TUKEY, (1.0 - (z / _TUKEY) ** 2) ** 2, 0.0)
    inside = np.where(np.abs(z) < _TUKEY_INSIDE, huber * (1.0 - (z / _TUKEY_INSIDE) ** 2) ** 2, 0.0)
    return np.where(z < 0.0, inside, fading)


def _together(gap_mm: Floats, points: EdgePoints, use: Bools) -> float:
    """The residuals' integrated correlation along the outlines, 1 where independent."""
    run = points.run[use]
    lines = np.full((points.photos * 2, int(run.max(initial=0)) + 1 + _LAGS), 0.0)
    there = np.zeros(lines.shape, np.bool_)
    line = points.photo[use] * 2 + (points.side[use] > 0)
    lines[line, run], there[line, run] = gap_mm, True
    kept = lines.shape[1] - _LAGS
    joint = np.array([(lines[:, :kept] * lines[:, g : g + kept]).sum() for g in range(_LAGS)])
    pairs = np.array([(there[:, :kept] & there[:, g : g + kept]).sum() for g in range(_LAGS)])
    share = joint / np.maximum(pairs, 1)
    share = share / max(share[0], 1e-30)
    stop = int(np.argmax(share < 0.05)) if (share < 0.05).any() else _LAGS
    return float(1.0 + 2.0 * share[1:stop].sum())


def known(problem: Problem, corrections: Corrections) -> tuple[Floats, Floats]:
    """What is known of the corrections beside the outlines: inverse covariance (k, k), and its pull (k,) from here."""
    prior = corrections.precision()
    shown, pull = information(problem.holders, problem.setup, corrections)
    if not problem.holders.seen:
        prior = prior + corrections.circling(problem.points.beta_rad)
    return prior + shown, pull - prior @ corrections.value


def stepped(problem: Problem, state: State, *, correct: bool, settled: bool) -> State:
    """The state after one step; `correct` = corrections too."""
    row = linearised(problem, state, settled=settled)
    basis, now, noise = problem.basis, state.corrections, min(state.noise_mm2, row.noise_mm2)
    normal = sparse.csr_matrix(row.matrix.T @ row.matrix)
    factor = Factor(basis, normal, problem.along, problem.around, state.smoothing, row.unit)
    plain = factor.solve(row.matrix.T @ row.target)
    if correct and len(now.value):
        mixed = np.asarray(row.matrix.T @ row.effect)
        through = factor.solve(mixed)
        held, pull = known(problem, now)
        schur = row.effect.T @ row.effect - mixed.T @ through + held * noise
        by = np.linalg.solve(schur, row.effect.T @ row.target - mixed.T @ plain + pull * noise)
        by = by / max(1.0, float(np.abs(by / now.stated_sigma()).max()) / _FARTHEST)
        plain = plain - through @ by
        variance = np.asarray(np.diag(np.linalg.inv(schur)), np.float64) * noise
        now = now.moved(np.asarray(by, np.float64), np.sqrt(np.maximum(variance, 0.0)))
    coefficients = plain.reshape(basis.nx, basis.nt)
    old = state.skin.coefficients
    moved = float(np.abs(np.sqrt(np.maximum(coefficients, 1.0)) - np.sqrt(np.maximum(old, 1.0))).max())
    skin = Skin(basis=basis, coefficients=coefficients)
    return replace(state, skin=skin, corrections=now, moved_mm=moved, noise_mm2=noise, scale_mm=row.scale_mm)
