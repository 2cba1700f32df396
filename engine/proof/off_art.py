"""Whether the tip leaves the art while it cuts: a stroke lies on the art, whatever its groove opens beside.

Takes the replay, what it cuts and what is allowed where; gives findings. A lift that was lost, a hop that became a cut:
each scratches from one stroke to the next, over ground too near to the art for the depth alone to tell.
"""

import math

import numpy as np

from engine.blank import Frame as SkinFrame
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Kind, Tool
from engine.proof.allowed import GRACE_MM, Allowed, slack_mm
from engine.proof.carve_pieces import Frame, column_of, row_of
from engine.proof.carve_rows import Radii
from engine.proof.depths import CUTS_MM, Cuts
from engine.proof.foot import under
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_off_art"]

STEP_MM = 0.1  # between the places looked at on the way of a move


def judge_off_art(replay: Replay, cuts: Cuts, may: Allowed, tool: Tool) -> list[Finding]:
    """`off-art`: the tip cuts further than GRACE_MM beside anything that is asked for.

    A ball cuts where its middle stands over the skin, which on a slope is not where its axis meets it.
    """
    live = replay.known & np.isin(replay.kind, (Kind.CUT, Kind.PLUNGE)) & (cuts.depth_mm > CUTS_MM)
    skin = may.skin
    radius = float(skin.radius(may.wanted.x_mm, may.wanted.theta_rad[:1]).max())
    beyond = GRACE_MM + 2.0 * slack_mm(may.frame, radius)
    depth, share = np.zeros(len(replay)), np.zeros(len(replay))
    _deepest(
        (replay.start, replay.end),
        live,
        (may.frame, may.away_mm, beyond),
        (skin.coefficients, skin.frame),
        tool.round_mm,
        depth,
        share,
    )
    bad = depth > CUTS_MM
    if not bad.any():
        return []
    move, count = worst(bad, depth)
    message = f"the tip cuts {depth[move]:.3f} mm deep on its way beside the art{more(count)}"
    advice = "look whether a lift is missing before this move, or a word is wrong"
    return [about_move(replay, move, Severity.ERROR, "off-art", message, advice, float(share[move]))]


@compiled
def _deepest(
    moves: tuple[Floats, Floats],
    live: Bools,
    art: tuple[Frame, Radii, float],
    skin: tuple[Floats, SkinFrame],
    rounded: float,
    depth: Floats,
    share: Floats,
) -> None:
    """Of each live move how deep the tip goes, along the normal, further from the art than is let by, and where.

    moves : starts and ends. art : how far each cell of a frame is from it, and how far is let by. rounded : the ball's
    radius, 0 for others.
    """
    (start, end), (frame, away, beyond) = moves, art
    nx, nt = away.shape
    for k in range(len(live)):
        if not live[k]:
            continue
        middle = 0.5 * (start[k, 2] + end[k, 2])
        way = math.hypot(end[k, 0] - start[k, 0], middle * (end[k, 1] - start[k, 1]))
        n = max(1, math.ceil(way / STEP_MM))
        for p in range(n + 1):
            t = p / n
            x, th = start[k, 0] + t * (end[k, 0] - start[k, 0]), start[k, 1] + t * (end[k, 1] - start[k, 1])
            middle_r = start[k, 2] + t * (end[k, 2] - start[k, 2]) + rounded
            x, th, sunk = under(skin, x, th, middle_r, rounded)
            i, j = row_of(frame, nx, x), column_of(frame, nt, th)
            if (i >= 0 and j >= 0 and away[i, j] <= beyond) or not skin[1][0] <= x <= skin[1][1]:
                continue
            if sunk > depth[k]:
                depth[k] = sunk
                share[k] = t
