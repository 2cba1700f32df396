"""What it costs that the tool's line misses the axis of rotation sideways by a known error.

A tool at offset e meets the cylinder of radius r at the angle asin(e / r) beside where it should, r - sqrt(r2 - e2)
further in, so that much less deep, and leans by the same angle. Where Z is set on the skin, the loss
at that radius is set out with it.
"""

import math

import numpy as np

from engine.blank import Skin
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Wanted
from engine.machine import Profile, ZZero
from engine.proof.allowed import GRACE_MM
from engine.proof.depths import Cuts
from engine.proof.replay import Replay
from engine.proof.where import about_move

__all__ = ["judge_off_axis", "lean_rad", "loss_mm"]

LEAST_LOSS_MM = 0.01  # the last figure of a calliper: less is not seen
SHARE_OF_DEPTH = 0.05  # of the least depth asked; less is not seen either


def lean_rad(r_mm: float, error_mm: float) -> float:
    """Angle between where a tool `error_mm` beside the axis meets radius r and where it should; at most a right one."""
    return math.asin(min(error_mm / r_mm, 1.0)) if r_mm > 0 else 0.5 * math.pi


def loss_mm(r_mm: float, error_mm: float) -> float:
    """How much lower than radius r the tool meets it; the whole radius where it misses it."""
    return r_mm - math.sqrt(max(r_mm * r_mm - error_mm * error_mm, 0.0))


def judge_off_axis(
    replay: Replay, cuts: Cuts, skin: Skin, machine: Profile, wanted: Wanted | None, zero_r_mm: float
) -> list[Finding]:
    """`off-axis`: the error costs depth or moves the art by more than a person would let by."""
    error = machine.axis_error_mm
    if not error or not cuts.cuts.any():
        return []
    moves = cuts.cuts.nonzero()[0]
    radius = skin.radius(np.clip(cuts.place[moves, 0], *skin.x_range_mm), cuts.place[moves, 1])
    set_out = loss_mm(zero_r_mm, error) if machine.z_zero is ZZero.SURFACE else 0.0
    ends = [int(radius.argmin()), int(radius.argmax())]
    costs = [loss_mm(float(radius[k]), error) - set_out for k in ends]
    worst = 0 if abs(costs[0]) >= abs(costs[1]) else 1
    asked = wanted.depth_mm[wanted.depth_mm > 0] if wanted is not None else None
    least = float(asked.min()) if asked is not None and asked.size else 0.0
    if abs(costs[worst]) <= max(LEAST_LOSS_MM, SHARE_OF_DEPTH * least) and error <= GRACE_MM:
        return []
    r = float(radius[ends[worst]])
    lean = math.degrees(lean_rad(r, error))
    cost = f"{abs(costs[worst]):.3f} mm {'less' if costs[worst] >= 0 else 'more'} deep"
    if error >= r:
        text = f"the tool may stand {error:g} mm beside the axis: it may miss the blank where its radius is {r:.2f} mm"
    else:
        text = (
            f"the tool may stand {error:g} mm beside the axis: where the radius is {r:.2f} mm it then cuts {cost}, "
            f"{error:g} mm ({lean:.2f} deg) beside its place, and leans {lean:.2f} deg more"
        )
    advice = "line the tool up with the axis of rotation, then say what error is left (axis_error_mm)"
    move = int(moves[ends[worst]])
    return [about_move(replay, move, Severity.WARNING, "off-axis", text, advice)]
