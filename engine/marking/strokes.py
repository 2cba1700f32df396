"""The value that every marking style gives: strokes on the sheet, with a depth share per point."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, frozen_floats, locked
from engine.kernel.ragged import Ragged

__all__ = ["Strokes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strokes:
    """k strokes of n points on the sheet.

    line : points (n, 2) sheet mm (u right, v up, the art's centre at 0, 0), two or more a stroke.
    share : (n,) of the job's depth at each point, 0 to 1.   reversible : (k,) whether it may be cut from either end.
    """

    line: Ragged
    share: Floats
    reversible: Bools

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", frozen_floats(self.share))
        object.__setattr__(self, "reversible", locked(np.asarray(self.reversible, np.bool_)))
        if self.share.shape != (len(self.line.points),) or self.reversible.shape != (len(self.line),):
            raise ValueError("share needs one entry a point, reversible one a stroke")

    def __len__(self) -> int:
        return len(self.line)
