"""Dots spread over a field of density: as many as it asks for in every part, and nowhere two close together.

Takes dots per cell on a raster and a seed; gives places. The density is laid along a Hilbert curve and cut into equal
shares, one dot in each; then each dot moves to the middle of its cell of the weighted Voronoi diagram, a few times.
Sources: A. Secord, Weighted Voronoi stippling (2002); S. Lloyd, IEEE Trans. IT 28 (1982) 129-137; D. Hilbert, Math.
Ann. 38 (1891) 459-460.
"""

from math import ceil, log2

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from engine.kernel.arrays import Bools, Floats, Ints

__all__ = ["STEPS", "spread_dots"]

STEPS = 8  # more gain nothing that is seen; `stipple` knows how well its dots cover after so many
LEAST_MASS = 1e-12  # of a cell of the diagram: nothing is asked there


def spread_dots(density: Floats, seed: int) -> Floats:
    """(n, 2) column and row, in cells from the raster's corner, of the dots; n is the density's sum, rounded. None lies
    in a cell of density 0: the middle of a bent part may, and goes to the nearest cell that asks for dots.

    density : (rows, columns) dots per cell, 0 or more.
    """
    rows, columns = density.shape
    count = round(float(density.sum()))
    if count < 1:
        return np.zeros((0, 2))
    rng = np.random.default_rng(seed)
    row, column = _curve(rows, columns)
    mass = np.cumsum(density[row, column])
    wanted = (np.arange(count) + rng.random(count)) / count * mass[-1]
    cell = np.minimum(np.searchsorted(mass, wanted), len(mass) - 1)
    places = np.column_stack([column[cell], row[cell]]) + rng.random((count, 2))
    weight = density.ravel()
    down, across = np.divmod(np.arange(rows * columns), columns)
    to_right, to_below = weight * (across + 0.5), weight * (down + 0.5)
    for _ in range(STEPS):
        owner = _owners(places, (rows, columns))
        total = np.bincount(owner, weight, count)
        live = total > LEAST_MASS
        middle = np.column_stack([np.bincount(owner, moment, count) for moment in (to_right, to_below)])
        places[live] = middle[live] / total[live, None]
    return _on(density > 0, places)


def _on(asked: Bools, places: Floats) -> Floats:
    """The places, those in cells where nothing is asked moved to the middle of the nearest where something is."""
    column, row = np.clip(places.astype(np.int64), 0, np.array(asked.shape)[::-1] - 1).T
    off = np.flatnonzero(~asked[row, column])
    if not len(off):
        return places
    near: NDArray[np.int32] = distance_transform_edt(~asked, return_distances=False, return_indices=True)
    down, across = near[:, row[off], column[off]]
    places[off] = np.column_stack([across, down]) + 0.5
    return places


def _owners(places: Floats, shape: tuple[int, int]) -> Ints:
    """(rows x columns,) the dot that is nearest to each cell."""
    at = np.clip(places.astype(np.int64), 0, np.array(shape)[::-1] - 1)
    held = np.full(shape, -1, np.int64)
    held[at[:, 1], at[:, 0]] = np.arange(len(places))
    near: NDArray[np.int32] = distance_transform_edt(held < 0, return_distances=False, return_indices=True)
    owners: Ints = held[near[0], near[1]].ravel()
    return owners


def _curve(rows: int, columns: int) -> tuple[Ints, Ints]:
    """Row and column of every cell along Hilbert curves over squares strung on the longer side."""
    if rows > columns:
        row, column = _curve(columns, rows)
        return column, row
    order = ceil(log2(max(rows, 2)))
    side = 1 << order
    y, x = _hilbert(order)
    x, y = x[y < rows], y[y < rows]
    count = -(-columns // side)
    column = (x[None, :] + side * np.arange(count)[:, None]).ravel()
    row = np.tile(y, count)
    return row[column < columns], column[column < columns]


def _hilbert(order: int) -> tuple[Ints, Ints]:
    """Row and column of the cells of a square of 2**order a side, along the curve from its first corner to the next."""
    n = 1 << order
    t = np.arange(n * n, dtype=np.int64)
    x, y = np.zeros_like(t), np.zeros_like(t)
    s = 1
    while s < n:
        right = 1 & (t // 2)
        up = 1 & (t ^ right)
        turned = (up == 0) & (right == 1)
        x[turned], y[turned] = s - 1 - x[turned], s - 1 - y[turned]
        flat = up == 0
        x[flat], y[flat] = y[flat].copy(), x[flat].copy()
        x += s * right
        y += s * up
        t //= 4
        s *= 2
    return y, x
