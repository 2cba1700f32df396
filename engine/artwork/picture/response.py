"""What darkness a tool and a material really give for the darkness asked, and what to ask for to get it.

Measured from a card of steps that was cut and read back. Steps that fall where they should rise are levelled by
isotonic regression (scipy's, pool adjacent violators); between steps the curve is PCHIP (F. Fritsch, R. Carlson, SIAM
J. Numer. Anal. 17 (1980) 238-246), which rises wherever its steps do.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError

__all__ = ["Response"]

CELLS = 4096  # of the table by which the curve is inverted: a sixteenth of an 8-bit step


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """asked, measured : (k,) darkness in 0 to 1, asked rising. Bare skin, asked 0, measures 0 if no step says else."""

    asked: tuple[float, ...]
    measured: tuple[float, ...]

    def __post_init__(self) -> None:
        good = len(self.asked) == len(self.measured) >= 2
        good = good and all(a < b for a, b in zip(self.asked, self.asked[1:], strict=False))
        if not good or not all(0 <= v <= 1 for v in (*self.asked, *self.measured)):
            raise ArtworkError(
                "the steps of a card are two or more, asked in rising order, all in 0 to 1",
                where="picture/response/steps",
            )

    def _table(self) -> tuple[Floats, Floats]:
        """Darkness asked and given, both rising, at many places from 0 to the last step."""
        asked, measured = np.array(self.asked), np.array(self.measured)
        if asked[0] > 0:
            asked, measured = np.append(0.0, asked), np.append(0.0, measured)
        level = np.asarray(isotonic_regression(measured).x, np.float64)
        at = np.linspace(asked[0], asked[-1], CELLS + 1)
        given: Floats = np.maximum.accumulate(PchipInterpolator(asked, level)(at))
        return at, given

    @property
    def reach(self) -> tuple[float, float]:
        """The least and the greatest darkness that can be had."""
        _, given = self._table()
        return float(given[0]), float(given[-1])

    def given(self, asked: Floats) -> Floats:
        """The darkness that comes of the darkness asked."""
        return np.interp(asked, *self._table())

    def to_ask(self, wanted: Floats) -> Floats:
        """What to ask for, so that `wanted` comes of it; the nearest where it is out of reach, and 0 for 0.

        Where a stretch of the curve is level, the least that gives it.
        """
        at, given = self._table()
        given, first = np.unique(given, return_index=True)
        out: Floats = np.interp(wanted, given, at[first])
        return np.where(wanted > 0, out, 0.0)
