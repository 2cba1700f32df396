"""Whether the tip leaves the art while it cuts: a stroke lies on the art, whatever its groove opens beside.

Takes the replay, what it cuts and what is allowed where; gives findings. A lift that was lost, a hop that became a cut:
each scratches from one stroke to the next, over ground too near to the art for the depth alone to tell.
"""

import math

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Kind
from engine.proof.allowed import GRACE_MM, Allowed, slack_mm
from engine.proof.carve_pieces import Frame, column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.depths import CUTS_MM, Cuts
from engine.proof.normal_depth import depth_at
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_off_art"]

STEP_MM = 0.1  # between the places looked at on the way of a move


def judge_off_art(replay: Replay, cuts: Cuts, may: Allowed) -> list[Finding]:
    """`off-art`: the tip cuts further than GRACE_MM beside anything that is asked for."""
    live = replay.known & (replay.kind == Kind.CUT) & (cuts.depth_mm > CUTS_MM)
    radius = float(may.skin.radius(may.wanted.x_mm, may.wanted.theta_rad[:1]).max())
    far, share = np.zeros(len(replay)), np.zeros(len(replay))
    beyond = GRACE_MM + 2.0 * slack_mm(may.frame, radius)
    _farthest(replay.start, replay.end, live, may.frame, may.away_mm, beyond, far, share)
    away = np.flatnonzero(far > beyond)
    if not len(away):
        return []
    x, theta, r = (replay.start[away] + share[away, None] * (replay.end[away] - replay.start[away])).T.copy()
    bad: Bools = np.zeros(len(replay), np.bool_)
    depth = np.zeros(len(replay))
    depth[away] = depth_at(may.skin, x, theta, r)
    bad[away] = depth[away] > CUTS_MM
    if not bad.any():
        return []
    move, count = worst(bad, depth)
    message = f"the tip cuts {depth[move]:.3f} mm deep on its way beside the art{more(count)}"
    advice = "look whether a lift is missing before this move, or a word is wrong"
    return [about_move(replay, move, Severity.ERROR, "off-art", message, advice, float(share[move]))]


@compiled
def _farthest(
    start: Floats, end: Floats, live: Bools, frame: Frame, away: Radii, enough: float, far: Floats, share: Floats
) -> None:
    """Of each live move how far the tip comes from the art, and where."""
    nx, nt = away.shape
    for k in range(len(live)):
        if not live[k]:
            continue
        r = 0.5 * (start[k, 2] + end[k, 2])
        way = math.hypot(end[k, 0] - start[k, 0], r * (end[k, 1] - start[k, 1]))
        n = max(1, math.ceil(way / STEP_MM))
        for p in range(n + 1):
            t = p / n
            i = row_of(frame, nx, start[k, 0] + t * (end[k, 0] - start[k, 0]))
            j = column_of(frame, nt, start[k, 1] + t * (end[k, 1] - start[k, 1]))
            gone = away[i, j] if i >= 0 and j >= 0 else 2.0 * enough
            if gone > far[k]:
                far[k] = gone
                share[k] = t
