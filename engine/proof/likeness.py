"""What came out beside what was asked: how much of the art is cut, how deep, where else, and what is wrong with it.

Takes what each tool did and `Wanted`; gives `Likeness`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Sampled
from engine.kernel.arrays import Bytes8
from engine.kernel.findings import Finding
from engine.kernel.values import Ask, Form, Tool, Wanted
from engine.machine import Profile
from engine.proof.allowed import GRACE_MM, Allowed, allowed
from engine.proof.depths import judge_art, judge_depth
from engine.proof.difference import difference
from engine.proof.feeds import judge_feeds
from engine.proof.fidelity import Fidelity, compare
from engine.proof.fine import Fine, fine_parts, judge_fine
from engine.proof.off_art import judge_off_art
from engine.proof.thin import with_thin
from engine.proof.tone import Toned, judge_tone, toned
from engine.proof.worked import Work

__all__ = ["UNASKED", "Likeness", "likeness"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Likeness:
    """asked_mm : the greatest depth asked. depth_share : median along the strokes of depth made over depth asked, 1
    where nothing is asked. match : (nx, nt) `Match` of the wanted field's cells. tone : how light and dark agree.
    toned : the squares of art that is asked by light and dark, None without. Where no field is wanted, fidelity and
    match are None too.
    """

    findings: tuple[Finding, ...]
    asked_mm: float
    depth_share: float
    fidelity: Fidelity | None
    match: Bytes8 | None
    tone: float | None
    toned: Toned | None


UNASKED = Likeness(findings=(), asked_mm=0.0, depth_share=1.0, fidelity=None, match=None, tone=None, toned=None)


def likeness(
    done: Work,
    machine: Profile,
    wanted: Wanted,
    *,
    tools: Sequence[Tool],
    fine: Callable[[], Sequence[Fine]] | None,
) -> Likeness:
    """The carving beside what was asked, each move by the tool that makes it. tools, fine : as of `prove`."""
    asked = max(float(wanted.depth_mm.max(initial=0.0)), 0.0)
    skin, carved = done.skin, done.carved
    tone = toned(wanted, carved, skin, _draws(wanted, tools))
    seen = with_thin(carved, done.each, skin)
    all_may = _may(wanted, skin, tools, asked)
    fidelity = compare(seen, wanted, all_may, skin, tone)
    beside = difference(wanted, seen, float(skin.radius(wanted.x_mm, wanted.theta_rad[:1]).mean()))
    findings: list[Finding] = []
    depths = []
    for one in done.each:
        may = _may(wanted.of_tool(one.number), skin, [one.tool], asked) if len(tools) > 1 else all_may
        x, theta, _ = one.cuts.final_at.T
        depths.append((may.at(x, theta), may.is_even(x, theta)))
        if len(one.replay):
            findings += judge_feeds(one.replay, machine, wanted, skin, one.tool)
            findings += judge_depth(one.replay, one.cuts, one.carved, may, machine, one.tool)
            findings += judge_off_art(one.replay, one.cuts, may, one.tool) if asked > 0 else []
    share = 1.0
    if asked > 0:
        asked_there, even = (np.concatenate(column) for column in zip(*depths, strict=True))
        about_art, share = judge_art(
            done.cuts,
            asked_there,
            even,
            fidelity,
            toned=wanted.darkness is not None,
            flat=any(tool.form is Form.FLAT for tool in tools),
            asked_mm=asked,
            word_mm=10.0**-machine.decimals,
        )
        findings += about_art + (judge_tone(tone) if tone is not None else [])
        for part in fine() if fine else fine_parts(wanted, skin, tools):
            findings += judge_fine(part, wanted, beside.made_mm, skin)
    return Likeness(
        findings=tuple(findings),
        asked_mm=asked,
        depth_share=share,
        fidelity=fidelity,
        match=beside.match,
        tone=beside.tone if tone is None else tone.correlation,
        toned=tone,
    )


def _may(wanted: Wanted, skin: Sampled, tools: Sequence[Tool], asked_mm: float) -> Allowed:
    """What the tools may do where, each groove reaching beside the art as far as its tool cuts wide."""
    return allowed(wanted, skin, reach_mm=GRACE_MM + max(_beside_mm(wanted, tool, asked_mm) for tool in tools))


def _beside_mm(wanted: Wanted, tool: Tool, asked_mm: float) -> float:
    """How far beside the art a tool may open the skin."""
    width = tool.width_mm(asked_mm)
    return width if wanted.beside_mm is None else min(width, wanted.beside_mm)


def _draws(wanted: Wanted, tools: Sequence[Tool]) -> Tool:
    """The tool that draws the tones: the last of those that are to cut any."""
    art = wanted.asked(Ask.TONE)
    own = [tool for k, tool in enumerate(tools) if (art & wanted.cut_by(k)).any()]
    return own[-1] if own else tools[-1]
