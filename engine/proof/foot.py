"""Where a tip that comes in radially stands over the skin along the skin's own normal, for compiled loops."""

import math

from engine.blank import Frame as SkinFrame
from engine.blank import spline_at
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled

__all__ = ["under"]

_FEET = 4  # of the ball's middle on the skin, each from the plane that touches it at the one before


@compiled
def under(
    skin: tuple[Floats, SkinFrame], x: float, th: float, middle_r: float, rounded: float
) -> tuple[float, float, float]:
    """Where the skin lies under a ball whose middle stands at (x, th, middle_r), along its normal, and how deep the
    ball goes there; under a ball of no radius, the tip itself, that is to first order: exact where it is barely below.
    """
    at_x, at_th, over = x, th, 0.0
    for step in range(_FEET):
        r, rx, rt = spline_at(skin[0], skin[1], at_x, at_th)
        rt /= max(r, 1e-9)
        size = math.sqrt(1.0 + rx * rx + rt * rt)
        out, around = middle_r * math.cos(th - at_th), middle_r * math.sin(th - at_th)
        over = (out - r - rx * (x - at_x) - rt * around) / size  # of the middle, along the normal
        if rounded == 0.0 or step == _FEET - 1:
            break
        at_x = x + over * rx / size
        at_th += math.atan2(around + over * rt / size, out - over / size)
    return at_x, at_th, rounded - over
