"""Art that meets itself round the back: a warning beside the strokes.

Takes strokes on the sheet and their layout. Where, in any ring of the blank SLICE_MM wide, the strokes reach over more
than a whole turn, what is drawn last would be cut over what is drawn first.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.ragged import spread
from engine.kernel.units import TURN_RAD
from engine.layout import Layout
from engine.marking.strokes import Strokes

__all__ = ["overlaps"]

ONCE = TURN_RAD * (1.0 + 1e-9)  # a line once round, closed on itself, is no more than a turn
SLICE_MM = 0.5  # about the width of a cut: strokes farther apart along the axis do not meet
MOST_PLACES = 200_000  # of longer strokes they lie farther apart


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """The ring of the blank over which the art reaches farthest."""

    x_mm: float
    from_rad: float
    to_rad: float


def overlaps(strokes: Strokes, layout: Layout) -> tuple[Finding, ...]:
    """One warning where the strokes reach over more than a whole turn, else none."""
    if not len(strokes):
        return ()
    theta = layout.wrap(strokes.line.points)[1]
    if np.ptp(theta) <= ONCE:  # strokes are straight on the sheet, and theta has its extremes at their ends
        return ()
    far = _farthest(*layout.wrap(_places(strokes)))
    if far.to_rad - far.from_rad <= ONCE:
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="overlaps-itself",
            message=f"the art reaches over {np.degrees(far.to_rad - far.from_rad):.0f} degrees "
            f"and lies on itself at x {far.x_mm:.1f}",
            advice="make it narrower, or move the parts that meet",
            where=Where.on_skin(far.x_mm, far.from_rad),
        ),
    )


def _places(strokes: Strokes) -> Floats:
    """(n, 2) sheet points on every stroke, at most half a slice apart, unless that were too many."""
    points = strokes.line.points
    first = np.ones(len(points), np.bool_)
    first[strokes.line.offsets[1:] - 1] = False
    k = np.flatnonzero(first)
    step = points[k + 1] - points[k]
    far = np.linalg.norm(step, axis=1)
    apart = max(0.5 * SLICE_MM, float(far.sum()) / MOST_PLACES)
    count = np.ceil(far / apart).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(k)), count)
    m = spread(0, count)
    share = m / (count[owner] - 1)
    return np.asarray(points[k[owner]] + share[:, None] * step[owner])


def _farthest(x: Floats, theta: Floats) -> _Reach:
    ring = np.floor((x - x.min()) / SLICE_MM).astype(np.int64)
    low, high = np.full(ring.max() + 1, np.inf), np.full(ring.max() + 1, -np.inf)
    np.minimum.at(low, ring, theta)
    np.maximum.at(high, ring, theta)
    worst = int(np.argmax(np.round(high - low, 9)))
    return _Reach(x_mm=float(x.min()) + (worst + 0.5) * SLICE_MM, from_rad=float(low[worst]), to_rad=float(high[worst]))
