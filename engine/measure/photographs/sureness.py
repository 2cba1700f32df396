"""How sure the skin is at each place: the fit's posterior, the corrections' among it, and what no residual can show.

Source: G. Wahba, "Bayesian confidence intervals for the cross-validated smoothing spline", J. R. Stat. Soc. B 45
(1983) 133-150, with the residual variance times the residuals' correlation length.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats
from engine.measure.photographs.fit import Linear, Problem, State, known
from engine.measure.spline import RIDGE, covariance

__all__ = ["Sureness", "sureness", "surface"]

_NEAREST_MM = 500.0  # a camera whose distance is not told stands hardly nearer
_AT_ONCE = 4096  # places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sureness:
    """sigma_mm : (m, n). parts_mm : root mean squares of what it is made of. free : parameters that the data settle."""

    sigma_mm: Floats
    parts_mm: dict[str, float]
    free: float
    rms_mm: float


def surface(state: State, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats, Floats]:
    """(r, dr/dx, dr/dtheta) on the grid of x (m,) and theta (n,); the slopes as if r were 1 mm at least."""
    x, theta = np.meshgrid(x_mm, theta_rad, indexing="ij")
    q, qx, qt = (part.reshape(x.shape) for part in state.skin.q(x.ravel(), theta.ravel()))
    r = np.sqrt(np.maximum(q, 0.0))
    held = 2.0 * np.maximum(r, 1.0)
    return r, qx / held, qt / held


def sureness(problem: Problem, state: State, row: Linear, x_mm: Floats, theta_rad: Floats) -> Sureness:
    """One standard deviation of r on the grid; the parts are independent, so their squares add."""
    cov, free, rms = _posterior(problem, state, row)
    r, rx, rt = surface(state, x_mm, theta_rad)
    parts = {"fit": _spread(problem, cov, x_mm, theta_rad) / (2.0 * np.maximum(r, 1.0))}
    parts |= _unseen_parts(problem, state, x_mm, (r, rx, rt))
    sigma = np.sqrt(np.sum([np.square(part) for part in parts.values()], axis=0))
    told = {name: float(np.sqrt(np.mean(np.square(part)))) for name, part in parts.items()}
    return Sureness(sigma_mm=sigma, parts_mm=told, free=free, rms_mm=rms)


def _posterior(problem: Problem, state: State, row: Linear) -> tuple[Floats, float, float]:
    """Covariance of the coefficients with the corrections unknown, parameters settled, weighted rms residual."""
    size = problem.basis.size
    whole = sparse.csr_matrix(sparse.hstack([row.matrix, sparse.csr_matrix(row.effect)]))
    rows = np.asarray((whole.T @ whole).todense())
    held = rows.copy()
    smooth = state.smoothing.along * problem.along + state.smoothing.around * problem.around
    held[:size, :size] += np.asarray(((smooth + RIDGE * sparse.identity(size)) * row.unit).todense())
    held[size:, size:] += known(problem, state.corrections)[0] * row.noise_mm2
    inverse = covariance(held)
    free = float((inverse * rows).sum())
    squares = row.square_mm2 * float(row.trust[row.use].sum())
    variance = squares / max(int(row.use.sum()) - free, 10.0)
    return inverse[:size, :size] * (variance * row.together), free, math.sqrt(row.square_mm2)


def _spread(problem: Problem, cov: Floats, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(m, n) standard deviation of q."""
    x, theta = np.meshgrid(x_mm, theta_rad, indexing="ij")
    index, value = problem.basis.rows(x.ravel(), theta.ravel())
    variance = np.zeros(len(index))
    for start in range(0, len(index), _AT_ONCE):
        at, by = index[start : start + _AT_ONCE], value[start : start + _AT_ONCE]
        block = cov[at[:, :, None], at[:, None, :]]
        variance[start : start + _AT_ONCE] = np.einsum("ki,kij,kj->k", by, block, by)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)).reshape(x.shape))


def _unseen_parts(
    problem: Problem, state: State, x_mm: Floats, skin: tuple[Floats, Floats, Floats]
) -> dict[str, Floats]:
    """Standard deviations, mm, that no residual tells: they move the whole skin, or every edge, alike.

    The marked ends, each wrong by e along the axis, shift and stretch it: dr = e0 (r' (1 - x/L) + r/L) + e1 (r' x/L
    - r/L). Without a camera distance r is short by r^3 / (2 D^2). Derived here.
    """
    r, rx, rt = skin
    setup, now = problem.setup, state.corrections
    length = setup.length_mm
    mark = setup.axis_sigma_px * setup.mm_per_px
    share = x_mm[:, None] / length
    parts = {
        "marks": mark * np.hypot(rx * (1.0 - share) + r / length, rx * share - r / length),
        "edge": setup.edge_sigma_px * setup.mm_per_px * np.sqrt(1.0 + rx**2 + (rt / np.maximum(r, 1.0)) ** 2),
    }
    alone = math.sqrt(now.photos)
    if "along" in now.each and setup.axis_photo is None:
        parts["stand"] = now.sigma["along"] / alone * np.abs(rx)
    if "across" in now.each and "away" in now.each and not problem.holders.seen:
        parts["runout"] = now.sigma["across"] / alone * np.hypot(1.0, rt / np.maximum(r, 1.0))
    if "turn" in now.each:
        parts["angles"] = now.sigma["turn"] / alone * np.abs(rt)
    if setup.camera_mm is None:
        parts["camera's distance"] = r**3 / (2.0 * _NEAREST_MM**2)
    return parts
