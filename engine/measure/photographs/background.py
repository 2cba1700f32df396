"""The background of a photograph: a smooth field of colour fitted to the picture's border."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.robust import robust_sigma
from engine.measure.photographs.lab import Light

__all__ = ["Background", "distance", "fit_background"]

_RIM = 0.035
"""Width of the border that is fitted, in parts of the long side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Background:
    """field (h, w, 3) L*a*b*; share of the border that lies on it; spread of that share about it (Delta E)."""

    field: Light
    share: float
    spread: float


def fit_background(colours: Light) -> Background:
    """Second-degree polynomial through the border of (h, w, 3) L*a*b*, trimmed so that a piece or what holds it may
    cross the border.
    """
    h, w, _ = colours.shape
    terms = _quadratic(h, w)
    m = max(2, round(_RIM * max(h, w)))
    rim = np.ones((h, w), bool)
    rim[m:-m, m:-m] = False
    A, V = terms[rim][::3].astype(np.float64), colours[rim][::3].astype(np.float64)
    off = np.linalg.norm(V - np.median(V, axis=0), axis=1)
    kept = off <= np.quantile(off, 0.6) + 4.0
    fitted = np.zeros((A.shape[1], 3))
    for _ in range(8):
        fitted = np.linalg.lstsq(A[kept], V[kept], rcond=None)[0]
        off = np.linalg.norm(V - A @ fitted, axis=1)
        # a colour has three parts: its distance's median is about 1.5 standard deviations of each
        kept = off < 4.5 * max(float(robust_sigma(off[kept])) / 1.5, 0.4)
    spread = float(np.sqrt((off[kept] ** 2).mean()))
    return Background(field=terms @ fitted.astype(np.float32), share=float(kept.mean()), spread=spread)


def _quadratic(h: int, w: int) -> Light:
    """(h, w, 6) the terms 1, x, y, x^2, xy, y^2 over the picture scaled to -1..1."""
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = 2.0 * x / w - 1.0, 2.0 * y / h - 1.0
    return np.asarray(np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1), np.float32)


def distance(colours: Light, background: Background) -> Floats:
    """(h, w) Delta E (CIE 1976) from the background."""
    return np.asarray(np.sqrt(((colours - background.field) ** 2).sum(axis=-1)), np.float64)
