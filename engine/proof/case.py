"""A program before its judges: what its moves are and did, and what they are held to.

Takes what `moved` and `work` found and what is known of blank and machine; gives findings about the moves, whatever art
was asked, and how sure the cut is.
"""

from dataclasses import dataclass

from engine.blank import Skin
from engine.kernel.findings import Finding
from engine.kernel.values import Ask, Wanted
from engine.machine import Profile
from engine.proof.cutting import judge_cutting
from engine.proof.depths import judge_fit, judge_wall
from engine.proof.feeds import judge_play
from engine.proof.moved import Moved
from engine.proof.off_axis import judge_off_axis
from engine.proof.pace import Pace, judge_pace
from engine.proof.rapids import judge_idle
from engine.proof.resolution import judge_resolution
from engine.proof.spindle import judge_spindle
from engine.proof.sureness import Sureness, sureness_of
from engine.proof.worked import Work

__all__ = ["Case", "judge_moves", "sureness_in"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """motion, done : what the text says and what came of it. pace : when each move ends. deepest_mm : the greatest
    depth anywhere, along the normal. The rest as of `prove`.
    """

    motion: Moved
    done: Work
    pace: Pace
    deepest_mm: float
    skin: Skin
    machine: Profile
    zero_r_mm: float
    wanted: Wanted | None
    wall_mm: float | None
    wall_min_mm: float
    material: str
    idle: bool


def judge_moves(case: Case) -> list[Finding]:
    """What is wrong with the moves beyond what `moved` found; nothing where there are none. In the order: idle, fit and
    spindle by tool, the blank, the machine, speeds by tool.
    """
    replay, cuts, skin, machine, wanted = case.motion.replay, case.done.cuts, case.skin, case.machine, case.wanted
    if not len(replay):
        return []
    findings = judge_idle(replay, case.motion.heights, machine) if case.idle else []
    for one in case.done.each:
        findings += judge_fit(one.replay, one.cuts, skin, one.tool)
        findings += judge_spindle(one.replay, one.cuts, one.tool, wanted.rpm(one.number) if wanted else 0.0)
    findings += judge_wall(replay, cuts, case.deepest_mm, skin, wall_mm=case.wall_mm, wall_min_mm=case.wall_min_mm)
    findings += judge_play(replay, machine)
    findings += judge_resolution(replay, cuts, machine)
    findings += judge_pace(replay, case.pace, machine)
    findings += judge_off_axis(replay, cuts, skin, machine, wanted, case.zero_r_mm)
    for one in case.done.each:
        findings += judge_cutting(one.replay, one.cuts, one.tool, case.material)
    return findings


def sureness_in(case: Case, asked_mm: float) -> Sureness | None:
    """How sure the cut is where asked_mm is the greatest depth asked; None where nothing is said to be uncertain."""
    wanted = case.wanted
    return sureness_of(
        case.done.cuts,
        case.skin,
        case.machine,
        asked_mm=asked_mm,
        wall_mm=None if case.wall_mm is None else case.wall_mm - case.wall_min_mm,
        runout_mm=max(one.tool.runout_mm for one in case.done.each),
        is_graded=wanted is not None and bool((wanted.asked(Ask.TONE) | wanted.asked(Ask.GRADED)).any()),
    )
