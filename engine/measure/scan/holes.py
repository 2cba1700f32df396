"""Places of the grid that no ray met: which belong together, how they are filled, and how wrong the filling may be.

The filling is the surface of least bending (thin plate) that joins the known cells, periodic around. Its error is
learnt from the piece itself: known places are guessed from two known ones as far away on either side, and the root
mean square miss at that distance is the error of a hole that deep.
"""

from collections.abc import Callable

import numpy as np
from scipy import ndimage, sparse
from scipy.sparse import csgraph
from scipy.sparse.linalg import spsolve

from engine.kernel.arrays import Bools, Floats, Ints
from engine.measure.scan.mesh import mesh_fault

__all__ = ["MOST_FILLED", "depth_mm", "filled", "miss_mm", "regions"]

MOST_FILLED = 60_000  # cells: a plate of that many takes seconds
_LAGS = 16  # distances at which the miss is learnt; between them it is straight
_FEWEST = 30  # places for a miss to be learnt from
_STEEPEST = 0.25  # mm of error a mm of distance, where nothing can be learnt


def regions(mask: Bools) -> list[tuple[Ints, Ints]]:
    """Rows and columns of the parts of a mask (m, n) that hang together, over the seam too; the largest first."""
    label, count = ndimage.label(mask)
    label = np.asarray(label, np.int64)
    left, right = label[:, 0], label[:, -1]
    joined = (left > 0) & (right > 0)
    links = sparse.csr_matrix((np.ones(int(joined.sum())), (left[joined], right[joined])), (count + 1, count + 1))
    _, part = csgraph.connected_components(links, directed=False)
    row, column = np.nonzero(mask)
    of = part[label[row, column]]
    sizes = np.bincount(of)
    order = np.argsort(-sizes, kind="stable")
    return [(row[of == k], column[of == k]) for k in order if sizes[k]]


def depth_mm(known: Bools, step_mm: float, arc_mm: float) -> Floats:
    """(m, n) distance of each cell from the nearest known one; cells are step_mm along and arc_mm around apart."""
    n = known.shape[1]
    half = n // 2
    around = np.concatenate([known[:, n - half :], known, known[:, :half]], axis=1)
    distance = ndimage.distance_transform_edt(~around, sampling=(step_mm, arc_mm))
    return np.asarray(distance)[:, half : half + n]


def filled(radius: Floats, known: Bools, step_mm: float, arc_mm: float) -> Floats:
    """(m, n) `radius` with every cell that is not known replaced; BlankError where those are more than MOST_FILLED."""
    if known.all():
        return radius
    if int((~known).sum()) > MOST_FILLED:
        raise mesh_fault("too much of the piece is missing to be filled", "scan it again, or ask for a coarser grid")
    free = np.flatnonzero(~known.ravel())
    column = np.full(known.size, -1, np.int64)
    column[free] = np.arange(len(free))
    ratio = step_mm / arc_mm
    rows = [
        _stencil(known, ((-1, 0, 1.0), (0, 0, -2.0), (1, 0, 1.0)), 1.0),
        _stencil(known, ((0, -1, 1.0), (0, 0, -2.0), (0, 1, 1.0)), ratio**2),
        _stencil(known, ((0, 0, 1.0), (1, 0, -1.0), (0, 1, -1.0), (1, 1, 1.0)), np.sqrt(2.0) * ratio),
    ]
    bending = sparse.vstack(rows, format="csc")
    inner = bending[:, free]
    level = float(radius[known].mean())  # bending does not see a constant: kept out for the sake of digits
    rest = np.where(known, radius - level, 0.0).ravel()
    right = -(inner.T @ (bending @ rest))
    plate = inner.T @ inner
    found = spsolve(sparse.csc_matrix(plate + 1e-12 * sparse.identity(len(free))), right)
    whole = radius.ravel().copy()
    whole[free] = level + found
    return whole.reshape(radius.shape)


def _stencil(known: Bools, terms: tuple[tuple[int, int, float], ...], weight: float) -> sparse.csr_matrix:
    """A row for each place where the terms (down, right, factor) fit along and at least one cell is not known."""
    m, n = known.shape
    touched = np.zeros_like(known)
    for down, right, _ in terms:
        touched |= np.roll(~known, (-down, -right), axis=(0, 1))
    touched[: max(-t[0] for t in terms)] = False
    touched[m - max(t[0] for t in terms) :] = False
    i, j = np.nonzero(touched)
    cells = np.stack([(i + down) * n + (j + right) % n for down, right, _ in terms], axis=1)
    value = np.tile([weight * factor for *_, factor in terms], len(cells))
    starts = np.arange(len(cells) + 1) * len(terms)
    return sparse.csr_matrix((value, cells.ravel(), starts), (len(cells), m * n))


def miss_mm(radius: Floats, known: Bools, step_mm: float, arc_mm: float) -> Floats:
    """(m, n) one standard deviation of the filling, 0 where the cell is known; cells lie as in `depth_mm`.

    In a hole of depth D a place at depth d misses by (d (2 D - d) / D^2)^2 of the miss at D, as a clamped beam under
    an even load bends, and by no less than a hole of depth d would. A hole that is open to an end is no hole but a
    lengthening: its miss is learnt by guessing places from one side.
    """
    depth = depth_mm(known, step_mm, arc_mm)
    if known.all():
        return depth
    at = np.concatenate([[0.0], np.geomspace(min(step_mm, arc_mm), 2.0 * float(depth.max()), _LAGS)])
    along = _curve(radius.T, known.T, at, step_mm, _between, periodic=False)
    between = np.maximum(_curve(radius, known, at, arc_mm, _between, periodic=True), along)
    beyond = np.maximum(_curve(radius.T, known.T, at, step_mm, _onward, periodic=False), between)
    miss = np.zeros_like(depth)
    for row, column in regions(~known):
        deep = depth[row, column]
        deepest = float(deep.max())
        if row.min() == 0 or row.max() == len(depth) - 1:
            miss[row, column] = np.interp(deep, at, beyond)
        else:
            share = deep * (2.0 * deepest - deep) / deepest**2
            miss[row, column] = np.maximum(np.interp(deep, at, between), np.interp(deepest, at, between) * share**2)
    return np.maximum(miss, np.where(known, 0.0, np.finfo(np.float64).tiny))


_Guess = tuple[tuple[int, ...], tuple[float, ...]]  # how many cells away, and the weight of each


def _between(lag: int) -> _Guess:
    """The cubic through two cells on either side: even, so a parabola through the means of both sides."""
    near, far = lag**2, (lag + 1) ** 2
    one, other = far / (2.0 * (far - near)), -near / (2.0 * (far - near))
    return (-lag - 1, -lag, lag, lag + 1), (other, one, one, other)


def _onward(lag: int) -> _Guess:
    """The line through two cells of one side."""
    return (lag, lag + 1), (lag + 1.0, -float(lag))


def _curve(
    radius: Floats, known: Bools, at: Floats, cell: float, guess: Callable[[int], _Guess], *, periodic: bool
) -> Floats:
    """The miss along axis 1 at rising distances, the first 0; it never falls. Cells are `cell` apart.

    Beyond what can be learnt it grows with the distance squared; where nothing can be, it is _STEEPEST.
    """
    miss = np.zeros(len(at))
    some = False
    for k in range(1, len(at)):
        offsets, weights = guess(max(1, round(float(at[k]) / cell)))
        learnt = _guessed(radius, known, offsets, weights, periodic)
        some = some or learnt >= 0
        if learnt < 0:
            learnt = miss[k - 1] * (at[k] / at[k - 1]) ** 2 if some else _STEEPEST * at[k]
        miss[k] = max(learnt, miss[k - 1])
    return miss


def _guessed(
    radius: Floats, known: Bools, offsets: tuple[int, ...], weights: tuple[float, ...], periodic: bool
) -> float:
    """Root mean square miss of known places by known ones; -1 where under _FEWEST places can be guessed."""
    n = radius.shape[1]
    if max(offsets) - min(offsets) >= n:
        return -1.0
    ok = known.copy()
    miss = radius.copy()
    for offset, weight in zip(offsets, weights, strict=True):
        ok &= np.roll(known, -offset, axis=1)
        miss -= weight * np.roll(radius, -offset, axis=1)
    if not periodic:
        ok[:, : max(0, -min(offsets))] = False
        ok[:, n - max(offsets) :] = False
    if int(ok.sum()) < _FEWEST:
        return -1.0
    return float(np.sqrt((miss[ok] ** 2).mean()))
