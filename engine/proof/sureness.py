"""How sure the result is: what the blank's, the zero's and the tool's uncertainty may leave unmarked, or cut too deep.

Takes the depths along the strokes as the described skin has them, and how far each may be wrong; gives shares of the
cut length with what lies between nine draws in ten, and the depth that would mark everything.

Model (ours, no source): the true radius differs from the described one by a constant, the zero's error, and by a smooth
normal field over the blank of standard deviation sigma and correlation length `correlation_mm`, periodic around. Along
the normal an error counts by the cosine of the tilt. The tip swings aside by up to half the runout, either way, evenly:
that counts by the sine of the tilt.
The field is a sum of random cosines. Source: A. Rahimi, B. Recht, Random features for large-scale kernel machines,
NIPS 2007 (their covariance is exp(-d2 / 2 l2)).
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Tool
from engine.machine import Profile
from engine.proof.depths import Cuts

__all__ = ["CORRELATION_MM", "Advice", "Share", "Sureness", "how_sure", "judge_sure", "sureness_of"]

CORRELATION_MM = 15.0  # calliper readings and hand-turned curves miss the skin over stretches like this: no source
COSINES = 24
MOST_PLACES = 500
SURELY = 0.95  # of the draws
MARKED = 0.995  # of the cut length
TOO_DEEP = 2.0  # times what was asked, where there is no wall to go through
LEAST_MARK_MM = 0.01
WORTH = 0.02  # of the cut: likely more than this is a warning


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share of the cut length: mean over the draws, and what nine draws in ten lie between."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The least depth that marks MARKED of the cut in SURELY of the draws, passes no deeper than asked; or why not."""

    depth_mm: float | None
    passes: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sureness:
    """unmarked : cut nowhere. too_deep : through the wall, or twice as deep as asked where there is none."""

    unmarked: Share
    too_deep: Share
    advice: Advice


def sureness_of(
    cuts: Cuts, tool: Tool, machine: Profile, *, asked_mm: float, sigma_mm: float, wall_mm: float | None
) -> Sureness | None:
    """How sure a program's cuts are; None where nothing is cut, or nothing is said to be uncertain."""
    known = sigma_mm == machine.zero_error_mm == tool.runout_mm == 0.0
    if known or not len(cuts.final_mm) or not cuts.final_way_mm.sum() > 0 or not asked_mm > 0:
        return None
    x, theta, r = cuts.final_at.T
    return how_sure(
        cuts.final_mm,
        (x, theta, r),
        cuts.final_cos,
        cuts.final_way_mm,
        asked_mm=asked_mm,
        sigma_mm=sigma_mm,
        zero_sigma_mm=machine.zero_error_mm,
        runout_mm=tool.runout_mm,
        wall_mm=wall_mm,
    )


def judge_sure(sure: Sureness) -> list[Finding]:
    """`uncertain`: likely more than WORTH of the cut stays unmarked, or comes out too deep."""
    told = [
        f"{share.mean:.0%} of the cut (up to {share.high:.0%}) may {what}"
        for share, what in ((sure.unmarked, "stay unmarked"), (sure.too_deep, "come out too deep"))
        if share.mean > WORTH
    ]
    if not told:
        return []
    advice = sure.advice
    if advice.depth_mm is None:
        how = f"measure the blank better: {advice.why}"
    elif advice.passes > 1:
        how = f"measure the blank better, or cut {advice.depth_mm:g} mm deep in {advice.passes} passes"
    else:
        how = "measure the blank better, or cut less deep"
    return [
        Finding(
            severity=Severity.WARNING,
            code="uncertain",
            message=f"as blank, zero and tool are known, {' and '.join(told)}",
            where=Where(),
            advice=how,
        )
    ]


def how_sure(
    depth_mm: Floats,
    at: tuple[Floats, Floats, Floats],
    cos_tilt: Floats,
    way_mm: Floats,
    *,
    asked_mm: float,
    sigma_mm: float,
    zero_sigma_mm: float = 0.0,
    runout_mm: float = 0.0,
    wall_mm: float | None = None,
    correlation_mm: float = CORRELATION_MM,
    draws: int = 200,
    seed: int = 0,
) -> Sureness:
    """The shares and the advice.

    depth_mm, cos_tilt, way_mm : (n,) n >= 1 places of the cut: depth on the described skin, cosine between tool and
    normal, and the length of cut that each stands for. at : x_mm, theta_rad, r_mm of them.
    """
    kept = np.arange(0, len(depth_mm), max(1, math.ceil(len(depth_mm) / MOST_PLACES)))
    depth, cos, weight = depth_mm[kept], cos_tilt[kept], way_mm[kept] / way_mm[kept].sum()
    rng = np.random.default_rng(seed)
    x, theta, r = (v[kept] for v in at)
    error = sigma_mm * _field(x, theta, r, correlation_mm, draws, rng)
    error += zero_sigma_mm * rng.standard_normal((draws, 1))
    error *= cos
    # A tip that swings aside goes deeper, or less deep, by the slope alone.
    lean = np.sqrt(np.maximum(1.0 - cos**2, 0.0))
    error += 0.5 * runout_mm * lean * rng.uniform(-1.0, 1.0, error.shape)
    true = depth + error
    deepest = TOO_DEEP * asked_mm if wall_mm is None else wall_mm
    return Sureness(
        unmarked=_share((true <= 0) @ weight),
        too_deep=_share((true >= deepest) @ weight),
        advice=_advice(error, weight, asked_mm, wall_mm),
    )


def _field(x: Floats, theta: Floats, r: Floats, length: float, draws: int, rng: np.random.Generator) -> Floats:
    """(draws, n) of a normal field of deviation 1."""
    along = rng.standard_normal((draws, COSINES, 1)) / length
    # Whole waves around: rounded at random, so that their mean spread is kept.
    around = rng.standard_normal((draws, COSINES, 1)) * (float(r.mean()) / length)
    around = np.floor(around + rng.uniform(0.0, 1.0, around.shape))
    phase = rng.uniform(0.0, 2.0 * np.pi, (draws, COSINES, 1))
    size = np.sqrt(2.0 / COSINES)
    # Drawn in single precision, one draw at a time: a wave's error of 1e-6 is nothing here.
    out = np.zeros((draws, len(x)))
    for k in range(draws):
        waves = np.cos(((along[k] * x + around[k] * theta + phase[k]) % (2.0 * np.pi)).astype(np.float32))
        out[k] = size * waves.sum(axis=0)
    return out


def _share(values: Floats) -> Share:
    held = np.clip(values, 0.0, 1.0)
    low, high = np.quantile(held, [0.05, 0.95])
    return Share(mean=float(held.mean()), low=float(low), high=float(high))


def _advice(error: Floats, weight: Floats, asked: float, wall: float | None) -> Advice:
    """The depth that the errors call for, if it leaves a wall whole in as many draws."""
    order = np.argsort(error, axis=1, kind="stable")
    below = np.cumsum(weight[order], axis=1)
    short = np.take_along_axis(error, order, 1)[np.arange(len(error)), (below > 1.0 - MARKED).argmax(axis=1)]
    needed = LEAST_MARK_MM + float(np.quantile(-short, SURELY))
    if needed <= asked:
        return Advice(depth_mm=asked, passes=1, why="")
    if wall is not None and needed + float(np.quantile(error.max(axis=1), SURELY)) >= wall:
        return Advice(
            depth_mm=None, passes=0, why=f"{needed:.2f} mm would mark everything, and may go through the wall"
        )
    rounded = math.ceil(needed * 100 - 1e-9) / 100
    return Advice(depth_mm=rounded, passes=math.ceil(rounded / asked - 1e-9), why="")
