"""How sure the result is: what the blank's, the zero's and the tool's uncertainty may leave unmarked, or cut too deep.

Takes the depths along the strokes as the described skin has them, and how far each may be wrong; gives shares of the
cut length with what lies between nine draws in ten, and the depth that would mark everything.

Model (ours, no source): the true radius differs from the described one by a constant, the zero's error (normal), and by
a smooth normal field over the blank (`skin_error`) of standard deviation sigma: along the normal both count by the
cosine of the tilt. The tip stands aside by up to half the runout, either way, evenly, as it was turned when it was
touched off: that counts by the sine of the tilt. A wall is as thick under the true skin as under the described one.

A mean share is the sum of each place's own chance, which has a closed form: draws say only how much shares swing, and
what the worst of them need. Source for drawing from distributions, and for intervals of the ordered draws: JCGM
101:2008, 5.9 and 7.7.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Skin, sigma_at
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.findings import Finding, Severity, Where
from engine.machine import Profile
from engine.proof.depths import Cuts
from engine.proof.skin_error import chance_below, draw_fields, spread_normal

__all__ = ["CORRELATION_MM", "Advice", "Share", "Sureness", "how_sure", "judge_sure", "sureness_of"]

CORRELATION_MM = 15.0  # calliper readings and hand-turned curves miss the skin over stretches like this: no source
PLACES = 1000  # of equal length each, so that a place is a fifth of what may stay unmarked by the advice
SURELY = 0.95  # of the draws
SAFELY = 0.99  # of the draws: a hole is worse than a gap
MARKED = 0.995  # of the cut length
TOO_DEEP = 2.0  # times what was asked
LEAST_MARK_MM = 0.01  # a shallower cut is taken for no mark; chosen, no source
MOST_PASSES = 10  # nobody follows an advice of more; chosen, no source
WORTH = 0.02  # of the cut: likely more than this is a warning

GRADED = "where depth draws light and dark or the width, the faintest places are marked first by a better zero"


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share of the cut length: its mean, and what nine draws in ten lie between, widened to hold the mean."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The depth nearest to what is asked that marks MARKED of the cut in SURELY of the draws and leaves the wall whole
    everywhere in SAFELY of them, and how many passes no deeper than what is asked now make it; why there is none, or
    why it is less than asked.
    """

    depth_mm: float | None
    passes: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sureness:
    """unmarked : the true skin lies no higher than the tip. too_deep : TOO_DEEP times as asked, or through the wall."""

    unmarked: Share
    too_deep: Share
    advice: Advice


def sureness_of(
    cuts: Cuts,
    skin: Skin,
    machine: Profile,
    *,
    asked_mm: float,
    wall_mm: float | None,
    runout_mm: float,
    is_graded: bool = False,
) -> Sureness | None:
    """How sure a program's cuts are; None where nothing is cut, or nothing is said to be uncertain. runout_mm : of the
    tool that swings the most. is_graded : depth draws the art's light and dark, or its width: more of it is no mend.
    """
    x, theta, r = cuts.final_at.T
    sigma = sigma_at(skin, x, theta)
    known = machine.zero_error_mm == runout_mm == 0.0 and not sigma.any()
    if known or not len(cuts.final_mm) or not cuts.final_way_mm.sum() > 0 or not asked_mm > 0:
        return None
    sure = how_sure(
        cuts.final_mm,
        (x, theta, r),
        cuts.final_cos,
        cuts.final_way_mm,
        asked_mm=asked_mm,
        sigma_mm=sigma,
        zero_sigma_mm=machine.zero_error_mm,
        runout_mm=runout_mm,
        wall_mm=wall_mm,
    )
    if is_graded and (sure.advice.depth_mm or 0.0) > asked_mm:
        return replace(sure, advice=Advice(depth_mm=None, passes=0, why=GRADED))
    return sure


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
        how = f"measure the blank better, or cut less deep{advice.why and f': {advice.why}'}"
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
    sigma_mm: Floats | float,
    zero_sigma_mm: float = 0.0,
    runout_mm: float = 0.0,
    wall_mm: float | None = None,
    correlation_mm: float = CORRELATION_MM,
    draws: int = 200,
    seed: int = 0,
) -> Sureness:
    """The shares and the advice; the same for the same seed.

    depth_mm, cos_tilt, way_mm : (n,) n >= 1 places of the cut in order: depth on the described skin, cosine between
    tool and normal, and the length of cut that each stands for, some > 0. at : x_mm, theta_rad, r_mm of them. asked_mm
    > 0 : the depth that places of full depth were to get. sigma_mm : of the skin's error, (n,) or one for all.
    correlation_mm > 0 : how far along the skin its error stays
    alike.
    """
    rng = np.random.default_rng(seed)
    kept = _places(way_mm, rng)
    depth, cos = depth_mm[kept], cos_tilt[kept]
    x, theta, r = (v[kept] for v in at)
    aside = 0.5 * runout_mm * np.sqrt(np.maximum(1.0 - cos**2, 0.0))
    sigma = np.broadcast_to(sigma_mm, depth_mm.shape)[kept]
    error = sigma * draw_fields(x, theta, float(r.mean()), correlation_mm, draws, rng)
    error += zero_sigma_mm * spread_normal(draws, rng)[:, None]
    error = error * cos + aside * rng.uniform(-1.0, 1.0, (draws, 1))
    true = depth + error
    most = TOO_DEEP * asked_mm if wall_mm is None else min(TOO_DEEP * asked_mm, wall_mm)
    spread = np.hypot(sigma, zero_sigma_mm) * cos
    return Sureness(
        unmarked=_share(chance_below(-depth, spread, aside), true <= 0),
        too_deep=_share(chance_below(depth - most, spread, aside), true >= most),
        advice=_advice(error, depth, float(depth_mm.max()), asked_mm, wall_mm),
    )


def _places(way_mm: Floats, rng: np.random.Generator) -> Ints:
    """(PLACES,) indices, rising: one at random out of each of as many equal lengths of the cut."""
    upto = np.cumsum(way_mm)
    spots = (np.arange(PLACES) + rng.uniform(0.0, 1.0, PLACES)) * (upto[-1] / PLACES)
    return np.minimum(np.searchsorted(upto, spots, side="right"), len(upto) - 1)


def _share(chance: Floats, drawn: Bools) -> Share:
    """Of the places' own chances (n,), and of what came out (draws, n)."""
    mean = float(chance.mean())
    low, high = np.quantile(drawn.mean(axis=1), [0.05, 0.95]).tolist()
    return Share(mean=mean, low=min(low, mean), high=max(high, mean))


def _advice(error: Floats, depth: Floats, deepest: float, asked: float, wall: float | None) -> Advice:
    """The depth asked, or the nearest that both marks and spares. Depths grow in proportion, as tones do; for the
    wall's sake every place is taken to be at full depth.
    """
    full = np.maximum(depth, 1e-9) / asked
    nth = _nth(MARKED, PLACES)
    short = np.partition((LEAST_MARK_MM - error) / full, nth, axis=1)[:, nth]
    needed = math.ceil(round(100.0 * _of_draws(short, SURELY), 6)) / 100.0
    safe = math.inf
    if wall is not None:
        # Where strokes cross it is deeper than asked, and the deepest place may not be among those that were drawn.
        spare = max(deepest / asked - max(float(full.max()), 1.0), 0.0)
        room = ((wall - error) / (np.maximum(full, 1.0) + spare)).min(axis=1)
        safe = math.floor(round(-100.0 * _of_draws(-room, SAFELY), 6)) / 100.0
    if needed > safe:
        limit = f"more than {safe:.2f} mm" if safe > 0 else "any depth"
        why = f"{needed:.2f} mm would mark everything, and {limit} may leave too little of the wall"
        return Advice(depth_mm=None, passes=0, why=why)
    if safe < asked:
        return Advice(depth_mm=safe, passes=1, why=f"{safe:g} mm marks everything and leaves enough of the wall")
    depth_mm = max(asked, needed)
    passes = math.ceil(round(depth_mm / asked, 6))
    if passes > MOST_PASSES:
        return Advice(depth_mm=None, passes=0, why=f"it would take more than {MOST_PASSES} passes")
    return Advice(depth_mm=depth_mm, passes=passes, why="")


def _nth(share: float, count: int) -> int:
    """Index of the value of `count` rising ones that at least `share` of them do not exceed."""
    return max(math.ceil(round(share * count, 6)) - 1, 0)


def _of_draws(values: Floats, share: float) -> float:
    return float(np.sort(values)[_nth(share, len(values))])
