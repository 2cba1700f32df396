"""Even-odd scanning: where the edges of closed rings meet a family of lines, and which cells of a raster lie inside.

Lines lie at whole numbers. The rule is half-open, so that a vertex on a line counts once, and holes need no care.
Source: even-odd filling as in any computer-graphics textbook (common practice).
"""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.ragged import spread

__all__ = ["cells_inside", "crossings", "lines_met"]

_Ends = tuple[Floats, Floats]  # of every edge, where it begins and where it ends, (n,) each


def lines_met(across: _Ends, low: float = -np.inf, high: float = np.inf) -> tuple[Ints, Ints]:
    """(first, count), (n,) each: the lines that each edge meets, of those from `low` to before `high`."""
    first, after = (np.clip(np.ceil(y), low, high).astype(np.int64) for y in (np.minimum(*across), np.maximum(*across)))
    return first, after - first


def crossings(across: _Ends, along: _Ends, first: Ints, count: Ints) -> tuple[Ints, Floats]:
    """(line, along) of every place where an edge meets one of `count` lines from `first` on, edge by edge."""
    (y0, y1), (x0, x1) = across, along
    edge, line = np.repeat(np.arange(len(count)), count), spread(first, count)
    return line, x0[edge] + (line - y0[edge]) / (y1[edge] - y0[edge]) * (x1[edge] - x0[edge])


def cells_inside(start: Floats, end: Floats, shape: tuple[int, ...]) -> Bools:
    """(rows, columns) cells whose middle lies inside: each crossing of a row flips all that lies at it and right of it.

    start, end : (n, 2) column and row of the edges' ends, whole numbers at the cells' middles.
    """
    rows, columns = shape
    across = start[:, 1], end[:, 1]
    row, at = crossings(across, (start[:, 0], end[:, 0]), *lines_met(across, 0, rows))
    flips = np.zeros((rows, columns + 1), np.int32)
    np.add.at(flips, (row, np.clip(np.ceil(at), 0, columns).astype(np.int64)), 1)
    odd: Bools = np.cumsum(flips, axis=1)[:, :-1] % 2 == 1
    return odd
