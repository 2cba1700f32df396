"""What the blank is taken to be before it is measured: how high its skin may stand anywhere a tool has to pass.

Takes a table of radii from any description of a blank. Refuses (ProgramError) tables that are none.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import ProgramError

__all__ = ["Guess"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """A guessed skin.

    x_mm : (k,) rising stations, 2 at least. radius_mm : (k, n) at the n even angles from 0 over a turn, or (k,) where
    it is round. doubt_mm : how far the true skin may stand over the guessed one anywhere, between the table's places
    too.
    """

    x_mm: Floats
    radius_mm: Floats
    doubt_mm: float

    def __post_init__(self) -> None:
        x, r = np.asarray(self.x_mm, np.float64), np.asarray(self.radius_mm, np.float64)
        r = r[:, None] if r.ndim == 1 else r
        if x.ndim != 1 or len(x) < 2 or r.ndim != 2 or r.shape[0] != len(x) or not r.shape[1]:
            raise ProgramError("the guessed skin is no table of radii, a row a station", where="/blank")
        if not (np.isfinite(x).all() and (np.diff(x) > 0).all()):
            raise ProgramError("the stations of the guessed skin do not rise", where="/blank")
        if not (np.isfinite(r).all() and (r >= 0).all()):
            raise ProgramError("a radius of the guessed skin is no length", where="/blank")
        if not 0 <= self.doubt_mm < np.inf:
            raise ProgramError("how far the skin may stand over the guess is no length", where="/search_mm")
        object.__setattr__(self, "x_mm", frozen_floats(x))
        object.__setattr__(self, "radius_mm", frozen_floats(r))

    def at(self, x_mm: ArrayLike, angle_deg: ArrayLike) -> Floats:
        """Guessed radius, mm, linear between the table's places; beyond its ends, that of the end."""
        x = np.clip(np.asarray(x_mm, np.float64), self.x_mm[0], self.x_mm[-1])
        row = np.clip(np.searchsorted(self.x_mm, x, side="right") - 1, 0, len(self.x_mm) - 2)
        along = (x - self.x_mm[row]) / (self.x_mm[row + 1] - self.x_mm[row])
        n = self.radius_mm.shape[1]
        turn = np.mod(np.asarray(angle_deg, np.float64), 360.0) / 360.0 * n
        column = np.floor(turn).astype(np.int64)
        round_ = turn - column
        near, far = column % n, (column + 1) % n
        low = self.radius_mm[row, near] * (1.0 - round_) + self.radius_mm[row, far] * round_
        high = self.radius_mm[row + 1, near] * (1.0 - round_) + self.radius_mm[row + 1, far] * round_
        return np.asarray(low * (1.0 - along) + high * along, np.float64)

    @property
    def greatest_mm(self) -> float:
        """The greatest radius that the true skin may have anywhere."""
        return float(self.radius_mm.max()) + self.doubt_mm

    def highest_mm(self, x_mm: tuple[float, float], angle_deg: tuple[float, float], ball_mm: float) -> float:
        """How high the skin may stand, doubt included, under a ball of that radius that passes anywhere from x_mm[0] to
        x_mm[1] and from angle_deg[0] to angle_deg[1].

        Every place of the table round a cell that the ball's shadow touches counts, so that nothing between them is
        missed; beyond the blank's ends the end counts.
        """
        x, n = self.x_mm, self.radius_mm.shape[1]
        low, high = x_mm[0] - ball_mm, x_mm[1] + ball_mm
        first = max(min(int(np.searchsorted(x, low, side="right")) - 1, len(x) - 1), 0)
        last = max(min(int(np.searchsorted(x, high, side="left")), len(x) - 1), 0)
        rows = self.radius_mm[first : last + 1]
        least = float(rows.min())
        if least <= ball_mm:  # so thin that the ball covers it all round
            return float(rows.max()) + self.doubt_mm
        aside = np.degrees(np.arcsin(ball_mm / least))
        start = int(np.floor((angle_deg[0] - aside) / 360.0 * n))
        stop = int(np.ceil((angle_deg[1] + aside) / 360.0 * n))
        columns = np.arange(n) if stop - start + 1 >= n else np.arange(start, stop + 1) % n
        return float(rows[:, columns].max()) + self.doubt_mm
