"""What the stations about it foretell of a diameter: one that stands out is told by its row, and how all scatter."""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.robust import robust_sigma

__all__ = ["foretold", "scatter", "standing", "standing_told"]

SIDE = 2  # neighbours on either side: as many as carry a straight line on each, and a cubic together
SHARE = 0.25  # of what is foretold: a smooth blank is read closer than that from far fewer stations; no source
CLEAR = 1.5  # times what the neighbours differ among themselves; an even zigzag of turned beads reaches 4/3
BEYOND = 0.25  # of what it is off, it lies beyond both the stations beside it; one of a pair in a groove hardly does
HALVED = (0.45, 0.55)  # of what is foretold: a radius
SWAPPED = 0.25  # of what a pair is off as read, where it fits when swapped; chosen by trial
APART = 0.05  # of their mean: less apart than this a swapped pair cannot be told from the blank's own run; no source
LEAST_SCATTER = 12  # stations that are foretold: fewer do not tell scatter from the blank's own run; by trial
TURNING = 0.65  # share of neighbours off to opposite sides; scatter alone has 0.79, a smooth blank less than half
MOST_SCATTER = 0.02  # of the usual diameter: more is the blank's own shape; no source
TAIL = 3.0  # times the median, the fifth that is off most begins below: 1.9 for scatter, far more where steps are about


def foretold(x_mm: Floats, size_mm: Floats) -> tuple[Floats, Floats]:
    """What the cubic through two stations on either side foretells of each of (k,): NaN for the two at either end.

    x_mm : (k,) rising. Returns it, and how much more than one reading's its error is: (k,), the root of the sum of the
    squared weights, 1 for the station's own.
    """
    return _cubic(x_mm, size_mm, (-2, -1, 1, 2), SIDE)


def standing(x_mm: Floats, diameter_mm: Floats) -> tuple[Floats, Bools]:
    """What is foretold of (k,) diameters that stand out, NaN for all others; and True for those swapped with the next.

    One stands out that is off by more than SHARE of what is foretold, while its neighbours agree: the line from those
    before, the line from those after and the line between; and that lies beyond both beside it. A step, and a groove
    that holds two stations, do not. Two are swapped that fit the stations about them when they change places, and do
    not as they are.
    """
    fitting, _ = foretold(x_mm, diameter_mm)
    out, swapped = np.full(len(x_mm), np.nan), np.zeros(len(x_mm), np.bool_)
    k = np.arange(SIDE, len(x_mm) - SIDE)
    lines = np.stack([_line(x_mm, diameter_mm, k, i, j) for i, j in ((-2, -1), (-1, 1), (1, 2))])
    off = np.abs(diameter_mm[k] - fitting[k])
    beyond = np.abs(
        diameter_mm[k] - np.clip(diameter_mm[k], *np.sort([diameter_mm[k - 1], diameter_mm[k + 1]], axis=0))
    )
    alone = (
        (beyond > BEYOND * off)
        & (off > SHARE * np.abs(fitting[k]))
        & (off > CLEAR * np.ptp(lines, axis=0))
        & (fitting[k] > 0)
    )
    out[k[alone]] = fitting[k[alone]]
    first, _ = _cubic(x_mm, diameter_mm, (-2, -1, 2, 3), SIDE)
    second, _ = _cubic(x_mm, diameter_mm, (-3, -2, 1, 2), SIDE)
    for i in range(SIDE, len(x_mm) - SIDE - 1):
        pair, fits = diameter_mm[i : i + 2], np.array([first[i], second[i + 1]])
        apart = abs(pair[1] - pair[0]) > APART * pair.mean()
        if apart and np.hypot(*(pair[::-1] - fits)) < SWAPPED * np.hypot(*(pair - fits)):
            out[i : i + 2], swapped[i] = fits, True
    return out, swapped


def standing_told(
    x_mm: Floats, diameter_mm: Floats, *, field: str = "diameter_mm", of: Bools | None = None
) -> tuple[Finding, ...]:
    """The finding `station-stands-out` for each row, or pair of swapped rows. field, of : as for `slips_told`."""
    fitting, swapped = standing(x_mm, diameter_mm)
    rows = ~np.isnan(fitting) & (True if of is None else of)
    after = np.append(False, swapped[:-1])
    return tuple(
        Finding(
            severity=Severity.WARNING,
            code="station-stands-out",
            message=f"row {k + 1} (x {x_mm[k]:g}) has a diameter of {diameter_mm[k]:g} mm where the stations about it "
            f"foretell {fitting[k]:.1f}: {_guess(k, float(diameter_mm[k] / fitting[k]), swapped=bool(swapped[k]))}",
            advice="read it again and mend the row; where the blank does have a bead or a groove there, read it at "
            "two stations or more",
            where=Where(x_mm=float(x_mm[k]), pointer=f"/stations/{k}/{field}"),
        )
        for k in np.flatnonzero(rows & ~after).tolist()
    )


def scatter(x_mm: Floats, size_mm: Floats) -> float:
    """One standard deviation by which (k,) readings scatter from station to station; 0 where none is to be seen.

    Each is compared with what its neighbours foretell. Where the blank's own run is what they miss, neighbours are
    missed to one side; where readings scatter, to opposite sides in turn. One that stands out counts as foretold.
    Source: T. Gasser, L. Sroka, C. Jennen-Steinmetz, "Residual variance and residual pattern in nonlinear regression",
    Biometrika 73 (1986) 625-633 (pseudo-residuals; from memory), here of a cubic and by their median.
    """
    out, _ = standing(x_mm, size_mm)
    size_mm = np.where(np.isnan(out), size_mm, out)
    fitting, wide = foretold(x_mm, size_mm)
    off = ((size_mm - fitting) / wide)[SIDE:-SIDE]
    if len(off) < LEAST_SCATTER or (off[:-1] * off[1:] < 0).mean() < TURNING:
        return 0.0
    sigma, size = float(robust_sigma(off)), np.abs(off)
    alike = np.quantile(size, 0.8) < TAIL * np.median(size)
    return sigma if alike and sigma < MOST_SCATTER * np.median(size_mm) else 0.0


def _cubic(x: Floats, size: Floats, beside: tuple[int, ...], side: int) -> tuple[Floats, Floats]:
    """(k,) the cubic through the four stations `beside` each (Lagrange), and the root of 1 + its squared weights."""
    low, high = max(side, -min(beside)), len(x) - max(side, *beside)
    fitting, wide = np.full(len(x), np.nan), np.ones(len(x))
    if low >= high:
        return fitting, wide
    k = np.arange(low, high)
    at = k[:, None] + np.array(beside)
    weight = np.ones(at.shape)
    for i in range(len(beside)):
        for j in range(len(beside)):
            if i != j:
                weight[:, i] *= (x[k] - x[at[:, j]]) / (x[at[:, i]] - x[at[:, j]])
    fitting[k] = (weight * size[at]).sum(axis=1)
    wide[k] = np.sqrt(1.0 + (weight**2).sum(axis=1))
    return fitting, wide


def _line(x: Floats, size: Floats, k: Ints, i: int, j: int) -> Floats:
    """The line through the stations i and j beside each k, there."""
    a, b = k + i, k + j
    return np.asarray(size[a] + (size[b] - size[a]) * (x[k] - x[a]) / (x[b] - x[a]))


def _guess(k: int, share: float, *, swapped: bool) -> str:
    """What may have happened to a reading that is so much of what was foretold."""
    if swapped:
        return f"was it swapped with row {k + 2}?"
    if HALVED[0] <= share <= HALVED[1]:
        return "half of what its neighbours foretell: a radius typed for a diameter?"
    return f"{abs(share - 1):.0%} {'more' if share > 1 else 'less'} than its neighbours foretell"
