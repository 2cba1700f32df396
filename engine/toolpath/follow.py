"""The tip's runs that cut laid strokes: levels down to the depth, repeats at it, each following the skin.

Takes `Laid`, the skin and the tool; gives `Runs`. The tip stands so that the deepest place under the whole tool, along
the skin's normal, is exactly at the asked depth; between its points it is never deeper by more than the tolerance.
ReachError where the skin leans too far, or lies too near the axis, for a tool that comes in radially.
"""

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.ragged import offsets_of, spread
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Tool
from engine.toolpath.lay import LAY_SHARE
from engine.toolpath.reach import felt, lean_of
from engine.toolpath.resample import tip_curve
from engine.toolpath.runs import Laid, Runs, join_runs
from engine.toolpath.tip import tip_over

__all__ = ["cut", "tip_radius"]

_WITHIN = 0.01  # an infeed this share over the step still counts as within it: a slight lean asks for no more passes


def cut(
    laid: Laid,
    skin: Skin,
    tool: Tool,
    *,
    depth_mm: float,
    passes: int,
    step_mm: float | None,
    feed_mm_min: float,
    plunge_mm_min: float,
    art: int,
    tolerance: Tolerance,
) -> Runs:
    """The runs of every stroke, in order: levels no further apart than `step_mm` along the radial axis, then `passes`
    runs at full depth. Every second run of a reversible stroke goes back the way it came.

    depth_mm : the greatest depth asked, below which no point of `laid` lies.
    """
    if not len(laid):
        return join_runs([])
    levels = _levels(laid, lean_of(skin, laid.x_mm, laid.theta_rad, laid.depth_mm), step_mm)
    stroke = np.repeat(np.arange(len(laid)), levels)
    share = spread(1, levels) / levels[stroke]
    source, offsets = _gather(laid.offsets, stroke)
    x, theta, r, offsets = tip_curve(
        tip_over(felt(skin, laid.x_mm, tool, depth_mm), tool),
        laid.x_mm[source],
        laid.theta_rad[source],
        laid.depth_mm[source] * np.repeat(share, np.diff(offsets)),
        offsets,
        above_mm=(1.0 - LAY_SHARE) * tolerance.chord_mm,
        below_mm=min(tolerance.deeper_mm, (1.0 - LAY_SHARE) * tolerance.chord_mm),
    )
    runs = levels - 1 + passes
    number = spread(0, runs)
    of = np.repeat(np.cumsum(levels) - levels, runs) + np.minimum(number, np.repeat(levels, runs) - 1)
    back = (number % 2 == 1) & np.repeat(laid.reversible, runs)
    source, run_offsets = _gather(offsets, of, back)
    every = np.ones(len(laid))
    return Runs(
        x_mm=x[source],
        theta_rad=theta[source],
        r_mm=r[source],
        run_offsets=run_offsets,
        stroke_offsets=offsets_of(runs),
        reversible=laid.reversible,
        feed_mm_min=feed_mm_min * every,
        plunge_mm_min=plunge_mm_min * every,
        art=np.full(len(laid), art),
    )


def tip_radius(skin: Skin, tool: Tool, x_mm: Floats, theta_rad: Floats, depth_mm: Floats) -> Floats:
    """(n,) the tip's distance from the axis, mm, where the tool cuts `depth_mm` (n,) deep at (x, theta); 0: touches."""
    if not len(x_mm):
        return np.zeros(0)
    return tip_over(felt(skin, x_mm, tool, float(depth_mm.max())), tool).radius(x_mm, theta_rad, depth_mm)[0]


def _gather(offsets: Ints, order: Ints, back: Bools | None = None) -> tuple[Ints, Ints]:
    """(indices, offsets) that lay the runs named by `order` end to end; those marked `back` from their last point."""
    size = np.diff(offsets)[order]
    return spread(offsets[:-1][order], size, back=back), offsets_of(size)


def _levels(laid: Laid, lean: Floats, step_mm: float | None) -> Ints:
    """(k,) number of equal levels of each stroke; the infeed is radial: the depth over the lean's cosine."""
    if step_mm is None:
        return np.ones(len(laid), np.int64)
    infeed = np.maximum.reduceat(laid.depth_mm / lean, laid.offsets[:-1])
    return np.maximum(1, np.ceil(infeed / (step_mm * (1.0 + _WITHIN))).astype(np.int64))
