"""Where a family of lines lies inside closed rings: an even-odd scan over all rings at once."""

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import MarkingError
from engine.kernel.scan import crossings, lines_met

__all__ = ["inside"]

MOST_CROSSINGS = 8_000_000  # of lines with edges: half a gigabyte; a thousand times what a day of cutting holds


def inside(across: Floats, along: Floats, offsets: Ints) -> tuple[Ints, Floats, Floats]:
    """(line, start, stop) of every stretch inside the rings, by line, then along it.

    across : (n,) of each ring's points, in units of the lines' distance: line k lies at k. along : (n,) in any unit,
    that of start and stop. offsets : (m + 1,) of m closed rings. MarkingError where there were too many.
    """
    begins = np.ones(len(across), np.bool_)
    begins[offsets[1:] - 1] = False
    k = np.flatnonzero(begins)
    y0, y1, x0, x1 = across[k], across[k + 1], along[k], along[k + 1]
    first, count = lines_met((y0, y1))
    if count.sum() > MOST_CROSSINGS:
        raise MarkingError(
            f"lines so near each other would be {int(count.sum()) // 2} strokes",
            where="marking/pitch_mm",
            hint="choose a wider pitch or smaller art",
        )
    line, x = crossings((y0, y1), (x0, x1), first, count)
    order = np.lexsort((x, line))
    line, x = line[order], x[order]
    return line[::2], x[::2], x[1::2]
