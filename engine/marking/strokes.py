"""The value that every marking style gives: strokes on the sheet, with a depth share per point."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, frozen_floats, locked
from engine.kernel.ragged import Ragged

__all__ = ["Strokes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strokes:
    """k strokes of n points on the sheet.

    line : points (n, 2) sheet mm (u right, v up, the art's centre at 0, 0); a stroke of one point is a peck.
    share : (n,) of the job's depth at each point, 0 to 1.   reversible : (k,) whether it may be cut from either end.
    clears : (k,) whether the art's clearing tool cuts it, and not the art's own; None where none does.
    """

    line: Ragged
    share: Floats
    reversible: Bools
    clears: Bools | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", frozen_floats(self.share))
        object.__setattr__(self, "reversible", locked(np.asarray(self.reversible, np.bool_)))
        if self.clears is not None:
            object.__setattr__(self, "clears", locked(np.asarray(self.clears, np.bool_)))
            if self.clears.shape != (len(self.line),):
                raise ValueError("clears needs one entry a stroke")
        if self.share.shape != (len(self.line.points),) or self.reversible.shape != (len(self.line),):
            raise ValueError("share needs one entry a point, reversible one a stroke")

    def __len__(self) -> int:
        return len(self.line)
