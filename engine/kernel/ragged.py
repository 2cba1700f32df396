"""Ragged data held flat: one (n, k) array of points and one array of offsets; never a list of little arrays."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints

__all__ = ["PART", "Ragged", "offsets_of", "parts_of", "spread"]

PART = 30_000  # points at a time of long passes: what is made of them stays in a processor's own memory


def offsets_of(size: Ints | Bools) -> Ints:
    """(m + 1,) where runs of so many points (m,) begin, one after the other from 0, and where the last one ends."""
    return np.concatenate([np.zeros(1, np.int64), np.cumsum(size, dtype=np.int64)])


def spread(first: Ints | int, size: Ints, *, back: Bools | None = None) -> Ints:
    """Indices first[0] .. first[0] + size[0] - 1, first[1] .. and so on, in one flat array; of one `first` for all, the
    number of each point in its run, counted from there. back : (m,) runs whose indices fall from the last to `first`.
    """
    ends = np.cumsum(size)
    index = np.arange(int(size.sum()), dtype=np.int64)
    rising = index + np.repeat(first - (ends - size), size)
    if back is None:
        return rising
    return np.where(np.repeat(back, size), np.repeat(first + ends - 1, size) - index, rising)


def parts_of(size: Ints, most: int = PART) -> list[slice]:
    """The runs of so many points (m,) in order, as many whole ones at a time as begin within the next `most` points; of
    no runs one part without any.
    """
    part = (np.cumsum(size) - size) // most
    return [slice(*ends) for ends in pairwise([0, *(np.flatnonzero(np.diff(part)) + 1).tolist(), len(part)])]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ragged:
    """m runs of points: run i is points[offsets[i]:offsets[i + 1]].

    points : (n, k) float.   offsets : (m + 1,) int, rising from 0 to n.
    """

    points: Floats
    offsets: Ints

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen_floats(self.points))
        object.__setattr__(self, "offsets", frozen_ints(self.offsets))
        if self.points.ndim != 2 or self.offsets.ndim != 1 or len(self.offsets) < 1:
            raise ValueError(f"points {self.points.shape} and offsets {self.offsets.shape} are no ragged array")
        if self.offsets[0] != 0 or self.offsets[-1] != len(self.points) or (np.diff(self.offsets) < 0).any():
            raise ValueError("offsets must rise from 0 to the number of points")

    @classmethod
    def of(cls, runs: Sequence[Floats], width: int = 2) -> "Ragged":
        """From a sequence of (k, width) arrays, at the edges of the house only."""
        sizes = np.array([len(run) for run in runs], np.int64)
        points = np.concatenate(list(runs)) if len(runs) else np.zeros((0, width))
        return cls(points=points, offsets=offsets_of(sizes))

    def __len__(self) -> int:
        return len(self.offsets) - 1

    def __getitem__(self, run: int) -> Floats:
        return self.points[self.offsets[run] : self.offsets[run + 1]]

    @property
    def sizes(self) -> Ints:
        """(m,) number of points of each run."""
        return np.diff(self.offsets)

    @property
    def owner(self) -> Ints:
        """(n,) which run each point belongs to."""
        return np.repeat(np.arange(len(self), dtype=np.int64), self.sizes)

    def take(self, order: Ints) -> "Ragged":
        """The runs named by `order`, in that order; one gather."""
        sizes = self.sizes[order]
        return Ragged(
            points=self.points[spread(self.offsets[:-1][order], sizes)],
            offsets=offsets_of(sizes),
        )
