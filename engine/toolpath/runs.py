"""The values inside the tool path: strokes laid on the skin, and the tip's runs that cut them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints, locked
from engine.kernel.ragged import offsets_of

__all__ = ["Laid", "Runs", "join_runs"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """k strokes of n points on the skin: x_mm, theta_rad (unwrapped along a stroke), depth_mm along the normal (n,).

    offsets : (k + 1,).   reversible : (k,).   Straight in (x, theta) between points, within the chord tolerance.
    """

    x_mm: Floats
    theta_rad: Floats
    depth_mm: Floats
    offsets: Ints
    reversible: Bools

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad", "depth_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "offsets", frozen_ints(self.offsets))
        object.__setattr__(self, "reversible", locked(np.asarray(self.reversible, np.bool_)))

    def __len__(self) -> int:
        return len(self.offsets) - 1

    def only(self, chosen: Bools) -> "Laid":
        """The strokes that `chosen` (k,) marks."""
        if chosen.all():
            return self
        size = np.diff(self.offsets)
        points = np.repeat(chosen, size)
        return Laid(
            x_mm=self.x_mm[points],
            theta_rad=self.theta_rad[points],
            depth_mm=self.depth_mm[points],
            offsets=offsets_of(size[chosen]),
            reversible=self.reversible[chosen],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """The tip's way while it cuts: strokes of one or more runs (levels and repeats), runs of points.

    x_mm, theta_rad, r_mm : (n,) the tip.   run_offsets : (m + 1,) points of each run.   stroke_offsets : (k + 1,) runs
    of each stroke.   reversible : (k,) whether a stroke may be cut from its other end (every run turned round).
    feed_mm_min, plunge_mm_min : (k,).   art : (k,) which artwork of the job the stroke belongs to.
    """

    x_mm: Floats
    theta_rad: Floats
    r_mm: Floats
    run_offsets: Ints
    stroke_offsets: Ints
    reversible: Bools
    feed_mm_min: Floats
    plunge_mm_min: Floats
    art: Ints

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad", "r_mm", "feed_mm_min", "plunge_mm_min"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        for name in ("run_offsets", "stroke_offsets", "art"):
            object.__setattr__(self, name, frozen_ints(getattr(self, name)))
        object.__setattr__(self, "reversible", locked(np.asarray(self.reversible, np.bool_)))

    def __len__(self) -> int:
        return len(self.stroke_offsets) - 1


def join_runs(parts: Sequence[Runs]) -> Runs:
    """All strokes of all parts, in order; of none, no strokes."""
    columns = ("x_mm", "theta_rad", "r_mm", "reversible", "feed_mm_min", "plunge_mm_min", "art")
    if not parts:
        none, zero = np.zeros(0), np.zeros(1, np.int64)
        return Runs(
            x_mm=none,
            theta_rad=none,
            r_mm=none,
            run_offsets=zero,
            stroke_offsets=zero,
            reversible=np.zeros(0, np.bool_),
            feed_mm_min=none,
            plunge_mm_min=none,
            art=zero[:0],
        )
    return Runs(
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in columns},
        run_offsets=_end_to_end([part.run_offsets for part in parts]),
        stroke_offsets=_end_to_end([part.stroke_offsets for part in parts]),
    )


def _end_to_end(parts: Sequence[Ints]) -> Ints:
    return offsets_of(np.concatenate([np.diff(part) for part in parts]))
