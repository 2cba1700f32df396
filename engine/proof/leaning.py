"""How far beside its tip a tool's form opens a skin that leans, and which cells beside the art that explains.

Takes cells that are cut beside the art, `Wanted`, the skin and the tool. On a lean the groove is no longer even about
the tip: it reaches further uphill, where the flank or the side of a ball lies nearer to the skin. Plane geometry in the
skin's tangent plane at the tip; a hollow skin is left to the grace. The far side's reach is granted on all sides.
"""

import numpy as np
from scipy.spatial import cKDTree

from engine.blank import Sampled, tilt_cos
from engine.kernel.arrays import Bools, Floats
from engine.kernel.values import Tool, Wanted
from engine.proof.allowed import GRACE_MM, MOST_LEVELS

__all__ = ["lean_reach", "opened_by_form"]

REACH_RATIO = 1.1  # art is sorted by how far the form opens the skin there: reaches of one class differ by less
LEAST_MM = 0.01  # a smaller reach is as good as this
STEEPEST = 0.02  # least cosine of a lean that is reckoned with


def lean_reach(tool: Tool, depth_mm: Floats, cos: Floats) -> Floats:
    """(n,) mm on the skin from the tip's ray to the far edge of the groove, which is `depth_mm` deep along the normal.

    cos : (n,) of the angle between tool and normal. Beyond 90 degrees less half a cone's angle its flank lies on the
    skin: then, as for a flat end, the outer radius bounds the groove.
    """
    cos = np.clip(cos, STEEPEST, 1.0)
    tan = np.sqrt(1.0 - cos * cos) / cos
    outer = tool.outer_mm / cos
    if tool.round_mm > 0.0:
        sunk = np.minimum(depth_mm, tool.round_mm)
        aside = (tool.round_mm - sunk) * tan + np.sqrt(sunk * (2.0 * tool.round_mm - sunk))
        return np.minimum(aside, outer)
    spread = np.maximum(tool.flank - tan, 1e-9)
    return np.minimum((tool.flat_mm + depth_mm / (cos * spread)) / cos, outer)


def opened_by_form(
    place: tuple[Floats, Floats], depth_mm: Floats, wanted: Wanted, skin: Sampled, tool: Tool, grace_mm: float
) -> Bools:
    """(n,) whether a cell at x, theta (n,) that is cut `depth_mm` (n,) deep lies as near to art that is asked as deep,
    but for `grace_mm`, as a tool that stands on that art opens the skin.
    """
    on = wanted.depth_mm > 0
    edge = on.copy()  # beside the art its edge is nearest
    edge[1:-1, 1:-1] &= (
        (wanted.depth_mm[:-2, 1:-1] != wanted.depth_mm[1:-1, 1:-1])
        | (wanted.depth_mm[2:, 1:-1] != wanted.depth_mm[1:-1, 1:-1])
        | (wanted.depth_mm[1:-1, :-2] != wanted.depth_mm[1:-1, 1:-1])
        | (wanted.depth_mm[1:-1, 2:] != wanted.depth_mm[1:-1, 1:-1])
    )
    i, j = np.nonzero(edge)
    x, theta, asked = wanted.x_mm[i], wanted.theta_rad[j], wanted.depth_mm[i, j]
    art = _space(skin, x, theta)
    reach = lean_reach(tool, asked, tilt_cos(skin.radius(x, theta), *skin.slopes(x, theta)))
    cells = _space(skin, *place)
    explained = np.zeros(len(depth_mm), np.bool_)
    order = np.ceil(np.log(np.maximum(reach, LEAST_MM)) / np.log(REACH_RATIO)).astype(np.int64)
    most = float(asked.max(initial=0.0))
    if len(np.unique(asked)) > MOST_LEVELS:  # graded art: to the next of so many depths
        asked = np.ceil(asked / most * MOST_LEVELS) * (most / MOST_LEVELS)
    for level, k in np.unique(np.stack([asked, order], axis=1), axis=0):
        still = np.flatnonzero(~explained & (depth_mm <= level + grace_mm))
        tree = cKDTree(art[(asked == level) & (order == k)])
        away = tree.query(cells[still], distance_upper_bound=GRACE_MM + REACH_RATIO**k)[0]
        explained[still] = np.isfinite(away)
    return explained


def _space(skin: Sampled, x_mm: Floats, theta_rad: Floats) -> Floats:
    r = skin.radius(x_mm, theta_rad)
    return np.stack([x_mm, r * np.cos(theta_rad), r * np.sin(theta_rad)], axis=1)
