"""Which points of a run must stay, that no other is shifted off by more than a tolerance.

Source: U. Ramer (1972), D. Douglas and T. Peucker (1973).
"""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled

__all__ = ["essential", "essential_between"]


@compiled
def essential(points: Floats, offsets: Ints, tolerance: float) -> Bools:
    """(n,) of runs (n, k), run i being points[offsets[i]:offsets[i + 1]]: their ends, and what must stay between."""
    return essential_between(points, offsets[:-1], offsets[1:] - 1, tolerance)


@compiled
def essential_between(points: Floats, first: Ints, last: Ints, tolerance: float) -> Bools:
    """(n,) the same of runs from first[i] to last[i], which may share their ends; one of no points has last < first."""
    keep = np.zeros(len(points), np.bool_)
    stack = np.zeros((64 + len(points), 2), np.int64)
    width = points.shape[1]
    way = np.zeros(width)
    for run in range(len(first)):
        if last[run] < first[run]:
            continue
        stack[0, 0], stack[0, 1] = first[run], last[run]
        keep[first[run]] = keep[last[run]] = True
        held = 1
        while held:
            held -= 1
            a, b = stack[held, 0], stack[held, 1]
            square = 0.0
            for c in range(width):
                way[c] = points[b, c] - points[a, c]
                square += way[c] ** 2
            worst, at = tolerance * tolerance, -1
            for i in range(a + 1, b):
                dot, far = 0.0, 0.0
                for c in range(width):
                    dot += (points[i, c] - points[a, c]) * way[c]
                share = min(1.0, max(0.0, dot / square)) if square > 0 else 0.0
                for c in range(width):
                    far += (points[i, c] - points[a, c] - share * way[c]) ** 2
                if far > worst:
                    worst, at = far, i
            if at >= 0:
                keep[at] = True
                stack[held, 0], stack[held, 1] = a, at
                stack[held + 1, 0], stack[held + 1, 1] = at, b
                held += 2
    return keep
