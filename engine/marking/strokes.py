"""The value that every marking style gives, strokes on the sheet with a depth share per point, and how it is made."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, frozen_floats, locked
from engine.kernel.ragged import Ragged, offsets_of

__all__ = ["Strokes", "drawn", "either_way", "together"]


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


def either_way(line: Ragged, share: Floats | None = None) -> Strokes:
    """Runs as strokes that may be cut from either end, at full depth where no share (n,) of it is given."""
    share = np.ones(len(line.points)) if share is None else share
    return Strokes(line=line, share=share, reversible=np.ones(len(line), np.bool_))


def drawn(part: Ragged) -> Strokes:
    """Each run as a stroke at full depth; points that repeat the one before them are dropped."""
    keep = np.ones(len(part.points), np.bool_)
    if len(part.points):
        keep[1:] = (np.abs(np.diff(part.points, axis=0)) > 0).any(axis=1)
        keep[part.offsets[:-1][part.sizes > 0]] = True
    owner = part.owner[keep]
    sizes = np.bincount(owner, minlength=len(part))
    whole = sizes > 1
    points = part.points[keep][whole[owner]]
    return either_way(Ragged(points=points, offsets=offsets_of(sizes[whole])))


def together(parts: Sequence[Strokes]) -> Strokes:
    """All strokes of all parts, in order."""
    base = np.cumsum([0] + [len(p.line.points) for p in parts])
    offsets = [p.line.offsets[1:] + b for p, b in zip(parts, base[:-1], strict=True)]
    return Strokes(
        line=Ragged(
            points=np.concatenate([p.line.points for p in parts]),
            offsets=np.concatenate([np.zeros(1, np.int64), *offsets]),
        ),
        share=np.concatenate([p.share for p in parts]),
        reversible=np.concatenate([p.reversible for p in parts]),
        clears=np.concatenate([np.zeros(len(p), np.bool_) if p.clears is None else p.clears for p in parts])
        if any(p.clears is not None for p in parts)
        else None,
    )
