"""Splines to the cubics that they are, or that they are to a millionth of their size.

A piece of a B-spline of degree 3 or less without weights is one cubic, given by its ends and its slopes there. Other
pieces are halved until the cubics through their ends and slopes stray no further. Source of the evaluation: C. de Boor,
"On calculating with B-splines", J. Approx. Theory 6 (1972) 50-62, in homogeneous coordinates where there are weights.
"""

from typing import Literal

import numpy as np
from scipy.interpolate import CubicSpline

from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import ArtworkError, TooBigError

__all__ = ["fit_cubics", "spline_cubics"]

SHARE = 1e-6  # of the curve's size: 0.1 µm on a curve of 100 mm
HALVINGS = 10
MOST_PIECES = 200_000  # of one spline
FARTHEST = 1e15  # units: beyond, their squares are no numbers
HIGHEST = 25  # degree; no drawing needs a third


def spline_cubics(degree: int, knots: Floats, control: Floats, weights: Floats | None, where: str) -> Floats:
    """(n, 4, 2) cubics end to end along a B-spline of control points (m, 2), knots (m + degree + 1,).

    Raises
    ------
    ArtworkError where the numbers make no spline; TooBigError.
    """
    m = len(control)
    if not 1 <= degree <= HIGHEST or m < degree + 1 or len(knots) != m + degree + 1:
        said = f"{m} control points and {len(knots)} knots make no spline of degree {degree}"
        raise ArtworkError(said, where=where)
    if not (np.diff(knots) >= 0).all() or not np.isfinite(knots).all() or not np.isfinite(control).all():
        raise ArtworkError("the knots of a spline do not rise", where=where)
    w = np.ones(m) if weights is None else weights
    if len(w) != m or not (w > 0).all() or not np.isfinite(w).all():
        raise ArtworkError("a spline has a weight that is not above 0", where=where)
    span = np.arange(degree, m)
    span = span[knots[span + 1] > knots[span]]
    if not len(span):
        raise ArtworkError("the knots of a spline do not rise", where=where)
    if len(span) * (degree + 1) > MOST_PIECES:
        raise TooBigError(f"a spline of {m:,} points of degree {degree} is too large", where=where)
    homogeneous = np.column_stack([control * w[:, None], w])
    size = max(float(np.ptp(control, axis=0).max()), 1e-12)
    return _pieces(degree, knots, homogeneous, span, SHARE * size, where)


def fit_cubics(points: Floats, start: Floats | None, end: Floats | None, where: str) -> Floats:
    """(n - 1, 4, 2) cubics of the interpolating spline through (n, 2) points: by chord length, with the directions
    given at its ends or none (natural).

    Raises
    ------
    ArtworkError where fewer than two points differ.
    """
    if not (np.abs(points) <= FARTHEST).all():  # NaN fails here too
        raise ArtworkError("a coordinate is not finite or far off the sheet", where=where)
    if len(points) < 2:
        raise ArtworkError("a spline goes through fewer than two points", where=where)
    points = points[np.append(True, (np.diff(points, axis=0) != 0).any(1))]
    if len(points) < 2:
        raise ArtworkError("a spline goes through fewer than two points", where=where)
    t = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    one, two = _end(start), _end(end)
    made = CubicSpline(t, points, bc_type=(one, two))
    step, slope = np.diff(t)[:, None], made(t, 1)
    return np.stack(
        [points[:-1], points[:-1] + slope[:-1] * step / 3, points[1:] - slope[1:] * step / 3, points[1:]], 1
    )


def _end(tangent: Floats | None) -> tuple[Literal[1, 2], Floats]:
    """The slope of length 1 in the direction of a tangent; without one, no bend (the second derivative is 0)."""
    size = 0.0 if tangent is None else float(np.hypot(tangent[0], tangent[1]))
    if tangent is None or not 1e-9 < size < np.inf:
        return 2, np.zeros(2)
    return 1, tangent / size


def _pieces(degree: int, knots: Floats, control: Floats, span: Ints, off: float, where: str) -> Floats:
    """Cubics along the spans, each halved until its quarters and its middle lie within `off` of the curve."""
    low, high = knots[span], knots[span + 1]
    done: list[tuple[Floats, Floats]] = []
    for halving in range(HALVINGS + 1):
        (p0, d0), (p3, d3) = _at(degree, knots, control, span, low), _at(degree, knots, control, span, high)
        third = (high - low)[:, None] / 3
        cubic = np.stack([p0, p0 + d0 * third, p3 - d3 * third, p3], axis=1)
        good = np.ones(len(span), bool)
        for t in (0.25, 0.5, 0.75):
            true, _ = _at(degree, knots, control, span, low + t * (high - low))
            share = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
            good &= np.hypot(*(np.einsum("k,nkj->nj", share, cubic) - true).T) <= off
        good |= halving == HALVINGS
        done.append((low[good], cubic[good]))
        if good.all():
            break
        if sum(len(start) for start, _ in done) + 2 * np.count_nonzero(~good) > MOST_PIECES:
            raise TooBigError("a spline bends too often", where=where)
        span, low, high = np.tile(span[~good], 2), low[~good], high[~good]
        middle = 0.5 * (low + high)
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
    order = np.argsort(np.concatenate([start for start, _ in done]), kind="stable")
    out: Floats = np.concatenate([cubics for _, cubics in done])[order]
    return out


def _at(degree: int, knots: Floats, control: Floats, span: Ints, t: Floats) -> tuple[Floats, Floats]:
    """(n, 2) points and slopes at t (n,), each by the polynomial of its own span, also at that span's ends."""
    held = control[span[:, None] - degree + np.arange(degree + 1)]  # (n, degree + 1, 3)
    for level in range(1, degree + 1):
        k = span[:, None] - degree + np.arange(level, degree + 1)
        left, right = knots[k], knots[k + degree + 1 - level]
        share = ((t[:, None] - left) / (right - left))[..., None]
        if level == degree:
            slope = degree * (held[:, 1] - held[:, 0]) / (right - left)
        held = (1 - share) * held[:, :-1] + share * held[:, 1:]
    value = held[:, 0]
    point = value[:, :2] / value[:, 2:]
    return point, (slope[:, :2] - point * slope[:, 2:]) / value[:, 2:]
