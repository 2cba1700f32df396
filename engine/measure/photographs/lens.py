"""How a lens bends a picture: radial distortion, found from photographs of the printed card.

With rho = distance from the picture's middle over half the picture's diagonal, of the place that a perfect lens would
give: distorted = middle + (perfect - middle) (1 + k1 rho^2 + k2 rho^4).

Sources (from memory): D. C. Brown, "Decentering distortion of lenses", Photogrammetric Engineering 32 (1966) 444-462,
for the radial series; Z. Zhang, "A flexible new technique for camera calibration", IEEE Trans. Pattern Analysis and
Machine Intelligence 22 (2000) 1330-1334, for a flat pattern seen several times. Here only the series is wanted, so each
view keeps a plane projective map of its own, and neither the print's scale nor the focal length enters.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import BlankError
from engine.kernel.robust import robust_sigma
from engine.measure.photographs.card import DOT_PITCHES, LARGE_PITCHES, is_large
from engine.measure.photographs.card_reading import CardView

__all__ = ["Lens", "lens_from_cards"]

_UNIT = 10.0
"""Pitches of the card that a view's map takes for one length: its numbers then lie near 1."""
_LEAST_REACH = 0.6
"""rho that the dots must reach: nearer the middle a lens bends too little to be measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """Radial distortion; all nought is a perfect lens.

    k1_sigma : one standard deviation of k1. residual_px : root mean square of what the dots were missed by; dots :
    how many there were. Raises BlankError where the series folds the picture over itself.
    """

    k1: float = 0.0
    k2: float = 0.0
    k1_sigma: float = 0.0
    residual_px: float = 0.0
    dots: int = 0

    def __post_init__(self) -> None:
        k1, k2 = np.nan_to_num([self.k1, self.k2], nan=9.0, posinf=9.0, neginf=9.0)
        rho = np.linspace(0.0, 1.5, 151)
        stretch = 1.0 + 3.0 * k1 * rho**2 + 5.0 * k2 * rho**4
        out = rho * (1.0 + k1 * rho**2 + k2 * rho**4)
        used = np.concatenate([[True], np.maximum.accumulate(out)[:-1] < 1.0])
        if max(abs(k1), abs(k2)) > 2.0 or out.max() < 1.0 or (stretch[used] <= 0.0).any():
            hint = "photograph the printed card again"
            raise BlankError(f"no lens bends a picture by k1 = {self.k1:.3g}, k2 = {self.k2:.3g}", hint=hint)

    def distort(self, px: Floats, size_px: tuple[int, int]) -> Floats:
        """(n, 2) where the lens puts what a perfect one would put at px (n, 2), in a picture of (w, h)."""
        perfect, half = _from_middle(px, size_px)
        rho2 = (perfect**2).sum(axis=-1, keepdims=True) / half**2
        return np.asarray(px + perfect * (self.k1 * rho2 + self.k2 * rho2**2))

    def undistort(self, px: Floats, size_px: tuple[int, int]) -> Floats:
        """(n, 2) where a perfect lens would have put what stands at px (n, 2): the inverse of `distort`."""
        seen, half = _from_middle(px, size_px)
        goal = np.sqrt((seen**2).sum(axis=-1, keepdims=True)) / half
        rho = goal.copy()
        for _ in range(20):  # Newton; the slope is positive all over the picture
            slope = 1.0 + 3.0 * self.k1 * rho**2 + 5.0 * self.k2 * rho**4
            rho = rho - (rho * (1.0 + self.k1 * rho**2 + self.k2 * rho**4) - goal) / np.maximum(slope, 0.05)
        factor = 1.0 / (1.0 + self.k1 * rho**2 + self.k2 * rho**4)
        return np.asarray(px + seen * (factor - 1.0))


def _from_middle(px: Floats, size_px: tuple[int, int]) -> tuple[Floats, float]:
    return np.asarray(px, np.float64) - np.array(size_px) / 2.0, float(np.hypot(*size_px)) / 2.0


def lens_from_cards(views: Sequence[CardView]) -> Lens:
    """The lens that one camera saw the card through, all views at the same zoom.

    k2 is kept only where it is more than four of its own standard deviations and the dots are missed by clearly less.
    Dots that are missed by far more than the rest are left out once.

    Raises
    ------
    BlankError : no views, views of different sizes, or dots that stay near the middle of the picture.
    """
    if not views:
        raise BlankError("no photograph of the card", where="/photos", hint="photograph it four times or more")
    if len({max(v.size_px) for v in views} | {-min(v.size_px) for v in views}) != 2:
        told = "photographs of the card of different sizes"
        raise BlankError(told, where="/photos", hint="use one camera at one setting")
    half = float(np.hypot(*views[0].size_px)) / 2.0
    reach = max(float(np.hypot(*_from_middle(v.points_px, v.size_px)[0].T).max()) / half for v in views)
    if reach < _LEAST_REACH:
        hint = "go nearer, let dots reach the picture's corners"
        raise BlankError("the card's dots stay near the middle", where="/photos", hint=hint)
    kept = [np.ones(len(v.points_px), bool) for v in views]
    first = _fitted(views, kept, half, terms=1)
    limit = 6.0 * float(robust_sigma(np.concatenate(first.missed_px))) + 0.05
    kept = [missed < limit for missed in first.missed_px]
    one, two = _fitted(views, kept, half, terms=1), _fitted(views, kept, half, terms=2)
    best = two if abs(two.k[1]) > 4.0 * two.sigma[1] and two.rms_px < 0.97 * one.rms_px else one
    k1, k2 = best.k[0], best.k[1] if len(best.k) > 1 else 0.0
    dots = sum(int(k.sum()) for k in kept)
    return Lens(k1=k1, k2=k2, k1_sigma=best.sigma[0], residual_px=best.rms_px, dots=dots)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    k: list[float]
    sigma: list[float]
    rms_px: float
    missed_px: list[Floats]


def _fitted(views: Sequence[CardView], kept: list[Bools], half: float, *, terms: int) -> _Fit:
    """Least squares for the series and one plane projective map a view; lengths in half diagonals."""
    seen = [_from_middle(v.points_px, v.size_px)[0] / half for v in views]
    start = [_projective(v.index[k] / _UNIT, s[k]) for v, s, k in zip(views, seen, kept, strict=True)]

    def missed(unknown: Floats) -> list[Floats]:
        maps = unknown[terms:].reshape(-1, 8)
        out = []
        for view, at, part in zip(views, seen, maps, strict=True):
            perfect = _middles(np.append(part, 1.0).reshape(3, 3), view.index)
            rho2 = (perfect**2).sum(axis=1, keepdims=True)
            series = sum(unknown[i] * rho2 ** (i + 1) for i in range(terms))
            out.append((perfect * (1.0 + series) - at) * half)
        return out

    def used(unknown: Floats) -> Floats:
        return np.concatenate([m[k].ravel() for m, k in zip(missed(unknown), kept, strict=True)])

    found = least_squares(used, np.concatenate([np.zeros(terms), *start]), method="lm", x_scale="jac")
    slopes = np.asarray(found.jac, np.float64)
    freedom = max(len(found.fun) - len(found.x), 1)
    spread = np.linalg.pinv(slopes.T @ slopes) * (found.fun**2).sum() / freedom
    return _Fit(
        k=[float(v) for v in found.x[:terms]],
        sigma=[float(v) for v in np.sqrt(np.diag(spread)[:terms])],
        rms_px=float(np.sqrt((found.fun**2).sum() * 2.0 / len(found.fun))),
        missed_px=[np.hypot(*m.T) for m in missed(np.asarray(found.x))],
    )


def _projective(flat: Floats, seen: Floats) -> Floats:
    """(8,) plane projective map from flat (n, 2) to seen (n, 2), last of nine 1: linear start for the fit."""
    x, y = flat.T
    one, nought = np.ones_like(x), np.zeros_like(x)
    rows = []
    for at, (a, b) in zip(seen.T, (((x, y, one), (nought,) * 3), ((nought,) * 3, (x, y, one))), strict=True):
        rows.append(np.stack([*a, *b, -at * x, -at * y], axis=1))
    return np.asarray(np.linalg.lstsq(np.vstack(rows), np.concatenate([*seen.T]), rcond=None)[0])


def _middles(H: Floats, index: Ints) -> Floats:
    """(n, 2) the middle of each dot's image: an ellipse's middle, which is not where the dot's own middle falls.

    Derived: a circle about c with radius r has the dual conic diag(1, 1, 0) - p p^T / r^2 (p = c in homogeneous form);
    H maps it to H (..) H^T, and an ellipse's middle is its dual's last column.
    """
    flat = index / _UNIT
    radius = np.where(is_large(index), LARGE_PITCHES, DOT_PITCHES) / (2.0 * _UNIT)
    p = np.stack([flat[:, 0], flat[:, 1], np.ones(len(flat))], axis=1) @ H.T
    weight = p[:, 2:] / radius[:, None] ** 2
    last = H[2, 0] * H[:, 0] + H[2, 1] * H[:, 1] - weight * p
    return np.asarray(last[:, :2] / last[:, 2:])
