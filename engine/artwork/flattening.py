"""Cubic curves to points: as many straight steps as hold the chord, all curves at once."""

import math

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import ArtworkError, TooBigError
from engine.kernel.ragged import spread

__all__ = ["FARTHEST", "flatten"]

FARTHEST = 1e7  # mm or px from the middle: beyond, a double no longer holds a nanometre


def flatten(control: Floats, straight: Bools, begin: Ints, chord: float, most: int, where: str) -> tuple[Floats, Ints]:
    """(points (p, 2), offsets (m + 1,)) of m runs of cubics, no further than `chord` from the curves.

    control : (n, 4, 2). straight : (n,) which are lines, of one step. begin : (m,) the first cubic of each run; a cubic
    begins where the one before it in its run ends.
    Steps of a cubic: sqrt(3/4 of its greatest second difference / chord). Source: G. Wang, "The subdivision
    method for finding the intersection between two Bezier curves or surfaces" (1984), from memory; checked in
    tests by distance.

    Raises
    ------
    ArtworkError for a coordinate that is not finite or far out; TooBigError beyond `most` points.
    """
    if not (np.abs(control) <= FARTHEST).all():  # NaN fails here too
        raise ArtworkError("a coordinate is not finite or far off the sheet", where=where)
    bend = np.abs(np.diff(control, 2, axis=1)).max((1, 2), initial=0.0) * math.sqrt(2)
    steps = np.where(straight, 1, np.maximum(1, np.ceil(np.sqrt(0.75 * bend / chord)))).astype(np.int64)
    if steps.sum() > most:
        raise TooBigError(f"the curves flatten to over {most:,} points", where=where)
    first = np.cumsum(steps) - steps
    body = np.zeros((int(steps.sum()), 2))
    body[first + steps - 1] = control[:, 3]
    inner = steps - 1  # points of each before its end
    t = (spread(1, inner) / np.repeat(steps, inner))[:, None]
    p = np.repeat(control, inner, axis=0)
    curve = (1 - t) ** 3 * p[:, 0] + 3 * t * (1 - t) ** 2 * p[:, 1] + 3 * t * t * (1 - t) * p[:, 2] + t**3 * p[:, 3]
    body[spread(first, inner)] = curve
    at = first[begin]  # where each run's body begins
    points = np.insert(body, at, control[begin, 0], axis=0)
    offsets = np.append(at + np.arange(len(at)), len(points)).astype(np.int64)
    return points, offsets
