"""Slips of the pen in a list of diameters: a decimal point one place off stands out from the stations beside it."""

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where

__all__ = ["slips_told"]

FAR = 5.0  # times both neighbours, or a fifth of both: no blank swells or narrows so at one station alone; no source
TENFOLD = (5.0, 20.0)  # times its neighbour, an end may be ten times what it was; a thin one may be a pole as well


def slips_told(
    x_mm: Floats, diameter_mm: Floats, *, field: str = "diameter_mm", of: Bools | None = None
) -> tuple[Finding, ...]:
    """The finding `slipped-decimal` for each reading that stands out. x_mm, diameter_mm : (k,) in any order.

    field : what the diameters are called in the document. of : (k,) the rows that have this field; the others are there
    to be compared with. None: all have it.
    """
    order = np.argsort(x_mm, kind="stable")
    size = np.log(diameter_mm[order])
    told = []
    stated = np.ones(len(size), np.bool_) if of is None else of
    for k in np.flatnonzero(_slipped(size) & stated[order]).tolist():
        row, beside = int(order[k]), [i for i in (k - 1, k + 1) if 0 <= i < len(size)]
        pole = len(beside) == 1 and size[k] < size[beside[0]]
        near = " and ".join(f"{diameter_mm[order[i]]:g}" for i in beside)
        told.append(
            Finding(
                severity=Severity.NOTE if pole else Severity.WARNING,
                code="slipped-decimal",
                message=f"row {row + 1} (x {x_mm[row]:g}) has a diameter of {diameter_mm[row]:g} mm beside {near}: is "
                "its decimal point one place off?",
                advice="read it again, or mend the row",
                where=Where(x_mm=float(x_mm[row]), pointer=f"/stations/{row}/{field}"),
            )
        )
    return tuple(told)


def _slipped(size: Floats) -> Bools:
    """(k,) True for logarithms of diameters that are far from both neighbours, or at an end about tenfold from one.

    Of two side by side only the one that is further off: the other seems so beside it.
    """
    step = np.diff(size)
    off = np.zeros(len(size))
    off[1:-1] = np.where(step[:-1] * step[1:] < 0, np.minimum(np.abs(step[:-1]), np.abs(step[1:])), 0.0)
    wide = np.concatenate([[0.0], off, [0.0]])
    out = (off > np.log(FAR)) & (off >= wide[:-2]) & (off >= wide[2:])
    low, high = np.log(TENFOLD)
    for end, inner in ((0, 1), (-1, -2)):
        out[end] = len(size) > 2 and not out[inner] and low < abs(size[end] - size[inner]) < high
    return out
