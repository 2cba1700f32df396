"""How fast the tip may run where it sinks as it goes: never faster into the skin than it may plunge.

Takes runs and the skin; gives a feed for every point. Depth that changes along a stroke (a groove as deep as the art is
wide, a tone, a relief) brings the tip down sideways, where a tool cuts worse than straight in (common practice).
"""

import numpy as np

from engine.blank import Skin, tilt_cos
from engine.kernel.arrays import Floats, Ints
from engine.toolpath.runs import Runs

__all__ = ["sinking_feeds"]

SINKS_MM = 0.01  # less is what straight moves may leave of a curve: no plunge
LEAST_R_MM = 1e-6  # a pole has no radius, and the formulas want one
LEAST_SHARE = 1e-3  # of the feed: a block has to end


def sinking_feeds(runs: Runs, skin: Skin) -> Floats:
    """(n,) feed of the move that ends at each point of the runs, mm/min: the stroke's own, or as much less as keeps the
    way in, along the skin's normal, at its plunge.
    """
    per_run = np.repeat(np.arange(len(runs)), np.diff(runs.stroke_offsets))
    stroke = np.repeat(per_run, np.diff(runs.run_offsets))
    feed, plunge = runs.feed_mm_min[stroke], runs.plunge_mm_min[stroke]
    # On skin that rises the tip sinks into it without coming nearer to the axis by more than a word's rounding.
    k = np.flatnonzero(np.diff(runs.r_mm, prepend=-np.inf) < SINKS_MM)
    k = k[~np.isin(k, runs.run_offsets)]
    if not len(k):
        return feed
    before, after = _over(runs, skin, k - 1), _over(runs, skin, k)
    sunk = before - after
    around = 0.5 * (runs.r_mm[k] + runs.r_mm[k - 1]) * (runs.theta_rad[k] - runs.theta_rad[k - 1])
    way = np.sqrt((runs.x_mm[k] - runs.x_mm[k - 1]) ** 2 + (runs.r_mm[k] - runs.r_mm[k - 1]) ** 2 + around**2)
    sinks = (sunk > SINKS_MM) & (after < 0)
    slower = plunge[k] * way / np.where(sinks, sunk, 1.0)
    feed[k] = np.where(sinks, np.clip(slower, LEAST_SHARE * feed[k], feed[k]), feed[k])
    return feed


def _over(runs: Runs, skin: Skin, k: Ints) -> Floats:
    """Height of the tip over the skin along its normal, to first order: below 0 inside."""
    x, theta = np.clip(runs.x_mm[k], *skin.x_range_mm), runs.theta_rad[k]
    radius = np.maximum(skin.radius(x, theta), LEAST_R_MM)
    return (runs.r_mm[k] - radius) * tilt_cos(radius, *skin.slopes(x, theta))
