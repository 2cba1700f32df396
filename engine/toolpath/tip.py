"""The tip over a skin: how far from the axis it stands so that a tool of true form cuts exactly the asked depth."""

import math
from dataclasses import dataclass

import numpy as np

from engine.blank import Frame, Sampled
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.errors import ReachError
from engine.kernel.values import Form, Tool
from engine.toolpath.certificate import doubtful
from engine.toolpath.contact import smooth_contact
from engine.toolpath.dense import NOWHERE, Form4, dense_contact

__all__ = ["Tip", "tip_over"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tip:
    """One skin and one tool. risk : (nx, nt or 1) where the dense search must look. step_mm : of that search."""

    skin: Sampled
    tool: Tool
    risk: Bools
    step_mm: float

    def radius(self, x_mm: Floats, theta_rad: Floats, depth_mm: Floats) -> tuple[Floats, Bools]:
        """(n,) tip's distance from the axis, mm, and (n,) whether the dense search spoke. x, theta, depth : (n,).

        The deepest place under the tool, measured along the skin's normal, lies at `depth_mm`. ReachError where no
        skin lies under the tool.
        """
        form = (self.tool.flat_mm, self.tool.round_mm, self.tool.flank, self.tool.outer_mm)
        z, spoke = np.zeros(len(x_mm)), np.zeros(len(x_mm), np.bool_)
        columns = (np.ascontiguousarray(v, np.float64) for v in (x_mm, theta_rad, depth_mm))
        x, theta, depth = columns
        _stand(self.skin.coefficients, self.skin.frame, (x, theta, depth), form, self.risk, self.step_mm, z, spoke)
        lost = z <= 0.0
        if lost.any():
            i = int(lost.argmax())
            raise ReachError(
                f"the tool finds no skin to stand on at x {x[i]:.2f} mm, {math.degrees(theta[i]):.1f} deg",
                where=f"x {x[i]:.2f} mm",
                hint="move the art away from the end of the blank, or use a smaller tool or depth",
            )
        return z, spoke


def tip_over(skin: Sampled, tool: Tool) -> Tip:
    """Prepare a skin for a tool.

    The search's step hides a scallop of 1 um under a small ball, and divides larger tools in 8 or 12; a bicubic skin
    has no feature narrower than its cells, so it is never finer than a quarter of one. What it finds is polished.
    """
    R = tool.round_mm
    step = {
        Form.BALL: math.sqrt(8.0 * R * 1e-3) if R < 3.0 else R / 12.0,
        Form.CONE: tool.outer_mm / 12.0,
        Form.FLAT: tool.outer_mm / 8.0,
    }[tool.form]
    _, _, per_x, per_theta, _, _ = skin.frame
    around = math.inf if skin.is_round else float(skin.coefficients.min()) / per_theta
    return Tip(skin=skin, tool=tool, risk=doubtful(skin, tool), step_mm=max(step, 0.25 * min(1.0 / per_x, around)))


@compiled
def _stand(
    C: Floats,
    frame: Frame,
    places: tuple[Floats, Floats, Floats],
    form: Form4,
    risk: Bools,
    step: float,
    z: Floats,
    spoke: Bools,
) -> None:
    """Fill z with the tip's distance from the axis, spoke with where the dense search decided."""
    x, theta, depth = places
    rows, columns = risk.shape
    for k in range(len(x)):
        i = min(max(math.floor((x[k] - frame[0]) * frame[2] + 0.5), 0), rows - 1)
        j = math.floor(theta[k] * frame[3] + 0.5) % columns
        near, sound = smooth_contact(C, frame, x[k], theta[k], depth[k], form[0], form[1])
        if not sound or risk[i, j]:
            whole = dense_contact(C, frame, x[k], theta[k], depth[k], form, step)
            spoke[k] = True
            # A sound smooth contact is the sharper value of the two: the search may only raise it.
            near = max(near, whole) if sound else whole
        z[k] = near if near > NOWHERE else -1.0
