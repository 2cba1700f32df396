"""How sure a fitted surface is: its variance at readings and over a grid, in units of one reading's variance.

The smoothness asked for is taken as what was known beforehand, so the variance grows by itself where readings are far.
Source: G. Wahba, "Bayesian 'confidence intervals' for the cross-validated smoothing spline", J. R. Stat. Soc. B 45
(1983) 133-150.
"""

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.arrays import Floats, Ints
from engine.measure.surface.blocks import Blocks
from engine.measure.surface.model import ROWS, Model

__all__ = ["neighbour_growth", "over_grid", "spread"]

FEWEST = 8  # residuals that a correlation can be told from
SIGNIFICANT = 2.0  # standard errors of a correlation
MOST_TOGETHER = 0.9  # as a correlation nears 1 its factor, 4.4 here, grows beyond every bound
SIDEWAYS = 3.0  # how much further a neighbour the other way counts, so that one direction is looked at by itself


def spread(model: Model, near: Blocks, index: Ints, value: Floats) -> Floats:
    """(k,) variance at places whose rows are index, value (k, 20), from the near part of the inverse."""
    out = np.zeros(len(index))
    first = index[:, 0] // model.width
    order = np.argsort(first, kind="stable")
    starts = np.searchsorted(first[order], np.arange(model.basis.nx - 2))
    for i in np.flatnonzero(np.diff(starts)):
        here = order[starts[i] : starts[i + 1]]
        local = index[here] - i * model.width
        held = _four_rows(model, near, int(i))[local[:, :, None], local[:, None, :]]
        out[here] = np.einsum("ka,kab,kb->k", value[here], held, value[here])
    return np.maximum(out, 0.0)


def over_grid(model: Model, near: Blocks, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(m, n) variance at every one of m stations and n angles."""
    along, around = model.sides(x_mm, theta_rad)
    cells = model.basis.nx - 3
    per = cells / (model.basis.x1_mm - model.basis.x0_mm)
    cell = np.minimum(np.clip((x_mm - model.basis.x0_mm) * per, 0.0, cells).astype(np.int64), cells - 1)
    out = np.zeros((len(x_mm), len(theta_rad)))
    for i in np.unique(cell):
        four = _four_rows(model, near, int(i)).reshape(4, model.width, 4, model.width)
        for k in np.flatnonzero(cell == i):
            share = along[k, i : i + 4]
            held = np.tensordot(share, np.tensordot(share, four, (0, 0)), (0, 1))
            out[k] = ((around @ held) * around).sum(1)
    return np.maximum(out, 0.0)


def neighbour_growth(places: Floats, residual: Floats, box: Floats) -> float:
    """Factor >= 1 on a standard deviation when residuals of neighbours go together, along or around.

    places : (k, 2) in usual spacings, periodic in the second of `box`. Residuals of independent readings are a little
    against one another, so only a correlation clearly above 0 counts: sqrt((1 + c) / (1 - c)) for either direction, as
    of a series whose neighbours have the correlation c.
    """
    factor = 1.0
    if len(places) < FEWEST:
        return factor
    for stretch in (np.array([1.0, SIDEWAYS]), np.array([SIDEWAYS, 1.0])):
        wide = box * stretch
        at = places * stretch
        at[at[:, 1] >= wide[1], 1] = 0.0  # the product may round up to the seam itself
        nearest = np.asarray(cKDTree(at, boxsize=wide).query(at, 2)[1])[:, 1]
        scale = float(np.sqrt((residual**2).mean() * (residual[nearest] ** 2).mean()))
        c = float((residual * residual[nearest]).mean()) / scale if scale > 0 else 0.0
        if c > SIGNIFICANT / np.sqrt(len(places)):
            c = min(c, MOST_TOGETHER)
            factor *= float(np.sqrt((1.0 + c) / (1.0 - c)))
    return factor


def _four_rows(model: Model, near: Blocks, i: int) -> Floats:
    """(4 width, 4 width) the inverse between the rows i to i + 3."""
    block, row = divmod(i, ROWS)
    size, start = ROWS * model.width, row * model.width
    whole = np.zeros((2 * size, 2 * size))
    whole[:size, :size] = near.diagonal[block]
    if block + 1 < len(near.diagonal):
        whole[size:, size:] = near.diagonal[block + 1]
        whole[size:, :size] = near.below[block]
        whole[:size, size:] = near.below[block].T
    return whole[start : start + 4 * model.width, start : start + 4 * model.width]
