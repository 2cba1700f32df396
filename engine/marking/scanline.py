"""Where a family of lines lies inside closed rings: an even-odd scan over all rings at once.

The rule is half-open, so that a vertex on a line is counted once and holes need no care. Source: even-odd filling as in
any computer-graphics textbook (common practice).
"""

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import spread

__all__ = ["inside"]

MOST_CROSSINGS = 8_000_000  # of lines with edges: half a gigabyte; a thousand times what a day of cutting holds


def inside(across: Floats, along: Floats, offsets: Ints) -> tuple[Ints, Floats, Floats]:
    """(line, start, stop) of every stretch inside the rings, by line, then along it.

    across : (n,) of each ring's points, in units of the lines' distance: line k lies at k. along : (n,) in any unit,
    that of start and stop. offsets : (m + 1,) of m closed rings. MarkingError where there were too many.
    """
    first = np.ones(len(across), np.bool_)
    first[offsets[1:] - 1] = False
    k = np.flatnonzero(first)
    y0, y1, x0, x1 = across[k], across[k + 1], along[k], along[k + 1]
    low = np.ceil(np.minimum(y0, y1)).astype(np.int64)
    count = np.ceil(np.maximum(y0, y1)).astype(np.int64) - low
    if count.sum() > MOST_CROSSINGS:
        raise MarkingError(
            f"lines so near each other would be {int(count.sum()) // 2} strokes",
            where="marking/pitch_mm",
            hint="choose a wider pitch or smaller art",
        )
    edge = np.repeat(np.arange(len(k)), count)
    line = spread(low, count)
    x = x0[edge] + (line - y0[edge]) / (y1[edge] - y0[edge]) * (x1[edge] - x0[edge])
    order = np.lexsort((x, line))
    line, x = line[order], x[order]
    return line[::2], x[::2], x[1::2]
