"""What came out beside what was asked: how much of the art is cut, how deep, where else, and what is wrong with it.

Takes the replay, what it cuts, the carved field and `Wanted`; gives `Likeness`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from engine.blank import Sampled
from engine.kernel.arrays import Bytes8
from engine.kernel.findings import Finding
from engine.kernel.values import Tool, Wanted
from engine.machine import Profile
from engine.proof.allowed import GRACE_MM, allowed
from engine.proof.carve_field import Carved
from engine.proof.depths import Cuts, judge_art, judge_depth
from engine.proof.difference import difference
from engine.proof.feeds import judge_feeds
from engine.proof.fidelity import Fidelity, compare
from engine.proof.fine import Fine, fine_parts, judge_fine
from engine.proof.off_art import judge_off_art
from engine.proof.replay import Replay
from engine.proof.tone import Toned, judge_tone, toned

__all__ = ["Likeness", "likeness"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Likeness:
    """asked_mm : the greatest depth asked. depth_share : median along the strokes of depth made over depth asked, 1
    where nothing is asked. match : (nx, nt) `Match` of the wanted field's cells. tone : how light and dark agree.
    toned : the squares of art that is asked by light and dark, None without.
    """

    findings: tuple[Finding, ...]
    asked_mm: float
    depth_share: float
    fidelity: Fidelity
    match: Bytes8
    tone: float | None
    toned: Toned | None


def likeness(
    replay: Replay,
    cuts: Cuts,
    carved: Carved,
    skin: Sampled,
    tool: Tool,
    machine: Profile,
    wanted: Wanted,
    fine: Callable[[], Fine] | None,
) -> Likeness:
    """The carving beside what was asked. fine : as of `prove`."""
    asked = max(float(wanted.depth_mm.max(initial=0.0)), 0.0)
    beside_mm = tool.width_mm(asked) if wanted.beside_mm is None else wanted.beside_mm
    may = allowed(wanted, skin, reach_mm=GRACE_MM + beside_mm)
    tone = toned(wanted, carved, skin, tool)
    fidelity = compare(carved, wanted, may, skin, tone)
    beside = difference(wanted, carved, float(skin.radius(wanted.x_mm, wanted.theta_rad[:1]).mean()))
    findings: list[Finding] = []
    share = 1.0
    if len(replay):
        findings += judge_feeds(replay, machine, wanted, skin, tool) + judge_depth(
            replay, cuts, carved, may, machine, tool
        )
    if asked > 0:
        findings += judge_off_art(replay, cuts, may)
        about_art, share = judge_art(cuts, may, fidelity)
        about_art += judge_tone(tone) if tone is not None else []
        parts = fine() if fine else fine_parts(wanted, skin, tool)
        findings += about_art + judge_fine(parts, wanted, beside.made_mm, skin)
    return Likeness(
        findings=tuple(findings),
        asked_mm=asked,
        depth_share=share,
        fidelity=fidelity,
        match=beside.match,
        tone=beside.tone if tone is None else tone.correlation,
        toned=tone,
    )
