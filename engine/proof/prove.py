"""What a program will really do: its own text read back, carved, compared with what was wanted, and judged.

Takes the text and what the machine, the tool and the blank are; gives `Proof`. Knows nothing of strokes, layouts and
tool paths, and shares no code with the writers. Text that cannot be read is a finding with its line: what stands before
it is judged still. Nothing in a text raises.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Bytes8
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import KeepOut, Kind, Tool, Wanted
from engine.machine import Profile
from engine.proof.carve_field import Carved
from engine.proof.case import Case, judge_moves, sureness_in
from engine.proof.fidelity import Fidelity
from engine.proof.fine import Fine
from engine.proof.likeness import UNASKED, Likeness, likeness
from engine.proof.made import Made, made_of
from engine.proof.moved import moved
from engine.proof.pace import Pace, pace_of
from engine.proof.rapids import judge_idle
from engine.proof.replay import Replay
from engine.proof.sureness import Sureness, judge_sure
from engine.proof.tone import Toned
from engine.proof.worked import work

__all__ = ["Extent", "Proof", "prove", "prove_idle"]

EMPTY = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """What the tip covers while it cuts: (least, greatest) of each."""

    x_mm: tuple[float, float] = EMPTY
    angle_deg: tuple[float, float] = EMPTY
    radius_mm: tuple[float, float] = EMPTY


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proof:
    """What a program does to a blank.

    depth_mm : (least along the strokes, greatest anywhere) along the normal, as simulated. depth_median_share : median
    along the strokes of depth made over depth asked, 1 where nothing is asked. cut_mm : way of the tip on cutting
    moves, cut_by_tool_mm with each tool; travel_mm : on rapids and lifts. fidelity : None where nothing was wanted.
    match : (nx, nt) `Match` of the wanted field's cells and tone the agreement of light and dark over it, None
    likewise; toned : its squares where that is what the art asks. made : the carving in figures. sure : what of it may
    come out otherwise, None where nothing is said to be uncertain. pace : when each move ends.
    """

    findings: tuple[Finding, ...]
    replay: Replay
    carved: Carved
    depth_mm: tuple[float, float]
    depth_median_share: float
    fidelity: Fidelity | None
    match: Bytes8 | None
    tone: float | None
    toned: Toned | None
    made: Made
    sure: Sureness | None
    pace: Pace
    cut_mm: float
    cut_by_tool_mm: tuple[float, ...]
    travel_mm: float
    extent: Extent


def prove(
    text: bytes,
    *,
    skin: Skin,
    tools: Sequence[Tool],
    machine: Profile,
    zero_r_mm: float = 0.0,
    wanted: Wanted | None = None,
    keep_out: Sequence[KeepOut] = (),
    wall_mm: float | None = None,
    wall_min_mm: float = 0.0,
    fine: Callable[[], Sequence[Fine]] | None = None,
    material: str = "",
    idle: bool = False,
    first_tool: int = 0,
) -> Proof:
    """Prove a program's text.

    tools : in the order in which they come into the spindle, one at least; a text tells no more than where one is
    changed. first_tool : the one that it begins with. zero_r_mm : the radius from which the radial word counts.
    wanted : the depth asked for and the feeds allowed; None: only what the program does by itself is judged.
    keep_out : where hardware stands that the tool may not come near to. wall_mm : None for a solid blank; wall_min_mm :
    how much of it is to be left. fine : gives `fine_parts` of the wanted field, where they are made elsewhere.
    material : what the blank is of, in words. idle : it is to touch nothing.

    Findings come in the order found: reading, motion, clearance, depth, art.
    """
    motion = moved(
        text,
        skin=skin,
        tools=tools,
        machine=machine,
        zero_r_mm=zero_r_mm,
        keep_out=keep_out,
        first_tool=first_tool,
    )
    done = work(motion.stints, skin, wanted)
    case = Case(
        motion=motion,
        done=done,
        pace=pace_of(motion.replay, machine),
        deepest_mm=max(float(depth.max(initial=0.0)) for depth in (done.carved.depth_mm, done.cuts.depth_mm)),
        skin=skin,
        machine=machine,
        zero_r_mm=zero_r_mm,
        wanted=wanted,
        wall_mm=wall_mm,
        wall_min_mm=wall_min_mm,
        material=material,
        idle=idle,
    )
    like = UNASKED if wanted is None else likeness(done, machine, wanted, tools=tools, fine=fine)
    return _told(case, like, len(tools))


def _told(case: Case, like: Likeness, tools: int) -> Proof:
    """What came out, and every judge's findings. tools : how many."""
    replay, carved, cuts = case.motion.replay, case.done.carved, case.done.cuts
    sure = sureness_in(case, like.asked_mm or case.deepest_mm)
    of_moves = (*case.motion.findings, *_carved_coarsely(carved), *judge_moves(case))
    cutting = cuts.cuts & (replay.kind == Kind.CUT)
    travel = replay.known & ((replay.kind == Kind.TRAVEL) | (replay.kind == Kind.LIFT))
    by_tool = np.bincount(replay.tool[cutting], replay.way_mm[cutting], tools)[:tools]
    return Proof(
        findings=(*of_moves, *like.findings, *(judge_sure(sure) if sure is not None else ())),
        replay=replay,
        carved=carved,
        depth_mm=(float(cuts.final_mm.min(initial=case.deepest_mm)), case.deepest_mm),
        depth_median_share=like.depth_share,
        fidelity=like.fidelity,
        match=like.match,
        tone=like.tone,
        toned=like.toned,
        made=made_of(replay, cutting, carved, case.done.skin, deepest_mm=case.deepest_mm, wall_mm=case.wall_mm),
        sure=sure,
        pace=case.pace,
        cut_mm=float(replay.way_mm[cutting].sum()),
        cut_by_tool_mm=tuple(by_tool.tolist()),
        travel_mm=float(replay.way_mm[travel].sum()),
        extent=_extent(replay, cutting),
    )


def prove_idle(
    text: bytes,
    *,
    skin: Skin,
    tool: Tool,
    machine: Profile,
    zero_r_mm: float = 0.0,
    keep_out: Sequence[KeepOut] = (),
) -> tuple[Finding, ...]:
    """The findings about a program that is to touch nothing, an air run or a walk, with one tool from its beginning to
    its end. Parameters as of `prove`.
    """
    motion = moved(text, skin=skin, tools=(tool,), machine=machine, zero_r_mm=zero_r_mm, keep_out=keep_out)
    replay = motion.replay
    return (*motion.findings, *judge_idle(replay, motion.heights, machine)) if len(replay) else motion.findings


def _extent(replay: Replay, cutting: Bools) -> Extent:
    if not cutting.any():
        return Extent()
    ends = np.concatenate([replay.start[cutting], replay.end[cutting]])
    low, high = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    return Extent(
        x_mm=(low[0], high[0]),
        angle_deg=(math.degrees(low[1]), math.degrees(high[1])),
        radius_mm=(low[2], high[2]),
    )


def _carved_coarsely(carved: Carved) -> list[Finding]:
    """`looked-coarsely`, where the moves sweep so much that the carving's cells are coarser than usual."""
    if not carved.coarse:
        return []
    message = f"the moves sweep so much that the carving was looked at in {carved.note}"
    return [Finding(severity=Severity.NOTE, code="looked-coarsely", message=message)]
