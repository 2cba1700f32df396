"""What a program will really do: its own text read back, carved, compared with what was wanted, and judged.

Takes the text and what the machine, the tool and the blank are; gives `Proof`. Knows nothing of strokes, layouts and
tool paths, and shares no code with the writers. Text that cannot be read is a finding with its line: what stands before
it is judged still. Nothing in a text raises.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Sampled, Skin
from engine.kernel.arrays import Bools, Bytes8, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import KeepOut, Kind, Tool, Wanted
from engine.machine import Profile
from engine.proof.allowed import GRACE_MM, allowed
from engine.proof.carve_field import Carved, carve_window, skin_around, window_of
from engine.proof.clearance import NEAR_MM, Heights, heights
from engine.proof.cutting import judge_cutting
from engine.proof.depths import Cuts, cuts_of, judge_art, judge_depth, judge_fit, judge_wall
from engine.proof.difference import difference
from engine.proof.feeds import judge_feeds, judge_limits, judge_mode, judge_play, judge_speeds, judge_turns
from engine.proof.fidelity import Fidelity, compare
from engine.proof.fine import Fine, fine_parts, judge_fine
from engine.proof.form import form_of, reach
from engine.proof.holder import judge_holder
from engine.proof.keep_out import judge_keep_outs
from engine.proof.made import Made, made_of
from engine.proof.off_art import judge_off_art
from engine.proof.off_axis import judge_off_axis
from engine.proof.rapids import judge_idle, judge_rapids, judge_start
from engine.proof.replay import TURN, Replay, replay
from engine.proof.resolution import judge_resolution, judge_size
from engine.proof.rs274_reader import SHOP, Moves, read
from engine.proof.sureness import Sureness, judge_sure, sureness_of
from engine.proof.where import about_move

__all__ = ["Extent", "Proof", "prove", "prove_idle"]

FAR_MM = 1e5  # no machine of this kind is a hundred metres long
FAR_TURNS = 1e3
EMPTY = (0.0, 0.0)
NO_MOVES = "the program makes no move"


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
    moves; travel_mm : on rapids and lifts. fidelity : None where nothing was wanted. match : (nx, nt) `Match` of the
    wanted field's cells and tone the agreement of light and dark over it, None likewise. made : the carving in figures.
    sure : what of it may come out otherwise, None where nothing is said to be uncertain.
    """

    findings: tuple[Finding, ...]
    replay: Replay
    carved: Carved
    depth_mm: tuple[float, float]
    depth_median_share: float
    fidelity: Fidelity | None
    match: Bytes8 | None
    tone: float | None
    made: Made
    sure: Sureness | None
    cut_mm: float
    travel_mm: float
    extent: Extent


def prove(
    text: bytes,
    *,
    skin: Skin,
    tool: Tool,
    machine: Profile,
    zero_r_mm: float = 0.0,
    wanted: Wanted | None = None,
    keep_out: Sequence[KeepOut] = (),
    wall_mm: float | None = None,
    fine: Callable[[], Fine] | None = None,
    material: str = "",
) -> Proof:
    """Prove a program's text.

    zero_r_mm : the radius from which the radial word counts. wanted : the depth asked for and the feeds allowed; None:
    only what the program does by itself is judged. keep_out : where hardware stands that the tool may not come near to.
    wall_mm : None for a solid blank. fine : gives `fine_parts` of the wanted field, where they are made elsewhere.
    material : what the blank is of, in words.

    Findings are errors first found first: reading, motion, clearance, depth, art.
    """
    told, high, findings = _motion(text, skin, tool, machine, zero_r_mm, keep_out)
    if len(told) and wanted is not None:
        findings += judge_feeds(told, machine, wanted)
    carved, near = _carve(told, high, skin, tool, wanted)
    cuts = cuts_of(told, high, carved, near, tool)
    deepest = max(float(carved.depth_mm.max(initial=0.0)), float(cuts.depth_mm.max(initial=0.0)))
    if len(told):
        findings += judge_fit(told, cuts, skin, tool) + judge_wall(told, cuts, deepest, wall_mm, skin.sigma_mm)
        findings += judge_play(told, machine) + judge_resolution(told, cuts, machine)
        findings += [*judge_off_axis(told, cuts, machine), *judge_cutting(text, told, cuts, tool, material)]
    fidelity, share = None, 1.0
    seen: tuple[Bytes8 | None, float | None] = None, None
    if wanted is not None:
        most = max(float(wanted.depth_mm.max(initial=0.0)), 0.0)
        may = allowed(wanted, near, reach_mm=GRACE_MM + tool.width_mm(most))
        fidelity = compare(carved, wanted, may, near)
        beside = difference(wanted, carved, float(near.radius(wanted.x_mm, wanted.theta_rad[:1]).mean()))
        seen = beside.match, beside.tone
        findings += judge_depth(told, cuts, carved, may, machine, tool) if len(told) else []
        if most > 0:
            findings += judge_off_art(told, cuts, may)
            about_art, share = judge_art(cuts, may, fidelity)
            parts = fine() if fine else fine_parts(wanted, near, tool)
            findings += about_art + judge_fine(parts, wanted, beside.made_mm, near)
    top = 0.0 if wanted is None else float(wanted.depth_mm.max(initial=0.0))
    sure = sureness_of(cuts, tool, machine, asked_mm=top or deepest, sigma_mm=skin.sigma_mm, wall_mm=wall_mm)
    findings += judge_sure(sure) if sure is not None else []
    made = made_of(told, carved, near, deepest_mm=deepest, wall_mm=wall_mm)
    return _proof(findings, told, carved, cuts, deepest, share, fidelity, seen, (made, sure))


def prove_idle(
    text: bytes,
    *,
    skin: Skin,
    tool: Tool,
    machine: Profile,
    zero_r_mm: float = 0.0,
    keep_out: Sequence[KeepOut] = (),
) -> tuple[Finding, ...]:
    """The findings about a program that is to touch nothing: an air run, a walk. Parameters as of `prove`."""
    told, high, findings = _motion(text, skin, tool, machine, zero_r_mm, keep_out)
    return (*findings, *judge_idle(told, high, machine)) if len(told) else tuple(findings)


def _motion(
    text: bytes, skin: Skin, tool: Tool, machine: Profile, zero_r_mm: float, keep_out: Sequence[KeepOut]
) -> tuple[Replay, Heights, list[Finding]]:
    """The moves of a text, their heights over the skin, and what is wrong with them whatever they are for."""
    moves = read(text, axes="".join(machine.letters), shop=(*machine.header, *machine.footer))
    findings = _judge_reading(moves)
    told, far = _near_enough(replay(moves, machine, zero_r_mm=zero_r_mm))
    findings += far
    high = heights(told, skin, tool, enough_mm=machine.clearance_mm + 1.0)
    if not len(told):
        return told, high, [*findings, Finding(severity=Severity.ERROR, code="no-moves", message=NO_MOVES)]
    greatest = _greatest_radius(skin)
    tallest = max([greatest, *[stretch.radius_mm for stretch in keep_out if stretch.radius_mm is not None]])
    findings += judge_limits(told, machine) + judge_speeds(told, machine) + judge_mode(told, machine)
    findings += judge_turns(told) + judge_start(told, machine, tallest) + judge_rapids(told, high, machine)
    findings += judge_size(text, machine)
    findings += judge_keep_outs(told, tool, machine, keep_out, greatest_r_mm=greatest) + _coarse(high)
    findings += judge_holder(told, skin, tool, machine, keep_out)
    return told, high, findings


def _proof(
    findings: Sequence[Finding],
    told: Replay,
    carved: Carved,
    cuts: Cuts,
    deepest_mm: float,
    share: float,
    fidelity: Fidelity | None,
    seen: tuple[Bytes8 | None, float | None],
    figures: tuple[Made, Sureness | None],
) -> Proof:
    known, kind = told.known, told.kind
    cutting = cuts.cuts & (kind == Kind.CUT)
    travel = known & ((kind == Kind.TRAVEL) | (kind == Kind.LIFT))
    return Proof(
        findings=tuple(findings),
        replay=told,
        carved=carved,
        depth_mm=(float(cuts.final_mm.min(initial=deepest_mm)), deepest_mm),
        depth_median_share=share,
        fidelity=fidelity,
        match=seen[0],
        tone=seen[1],
        made=figures[0],
        sure=figures[1],
        cut_mm=float(told.way_mm[cutting].sum()),
        travel_mm=float(told.way_mm[travel].sum()),
        extent=_extent(told, cutting),
    )


def _extent(told: Replay, cutting: Bools) -> Extent:
    if not cutting.any():
        return Extent()
    ends = np.concatenate([told.start[cutting], told.end[cutting]])
    low, high = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    return Extent(
        x_mm=(low[0], high[0]),
        angle_deg=(math.degrees(low[1]), math.degrees(high[1])),
        radius_mm=(low[2], high[2]),
    )


_EVENTS = (
    (
        SHOP,
        Severity.WARNING,
        "shop-line",
        "a line of the shop's own is not followed: what it does to the tool and its place is not known",
        "",
    ),
    (
        "tool change",
        Severity.WARNING,
        "tool-change",
        "the tool is changed: the proof goes on with the one it was given",
        "",
    ),
    (
        "block delete",
        Severity.ERROR,
        "block-delete",
        "a line behind a / is run or left out by a switch of the controller: what the program does is not known",
        "take the / away, or the line",
    ),
    (
        "no speed",
        Severity.WARNING,
        "spindle-speed",
        "the spindle is started without a speed: whether it turns is not known",
        "state S before or beside M3",
    ),
)


def _judge_reading(moves: Moves) -> list[Finding]:
    """`unreadable-line`, `no-end`; what a shop's own line, a change of tool or a switch leaves open."""
    found = []
    if moves.fault is not None:
        fault = moves.fault
        message = f"{fault.message} (column {fault.column})"
        found.append(Finding(severity=Severity.ERROR, code=fault.code, message=message, where=Where(line=fault.line)))
    for word, severity, code, message, advice in _EVENTS:
        line = next((line for line, what in moves.events if what == word), None)
        if line is not None:
            where = Where(line=line)
            found.append(Finding(severity=severity, code=code, message=message, where=where, advice=advice))
    return found


def _near_enough(told: Replay) -> tuple[Replay, list[Finding]]:
    """The moves up to the first that leaves every machine, which is `too-far`."""
    with np.errstate(invalid="ignore"):
        far = (np.abs(told.end[:, [0, 2]]) > FAR_MM).any(axis=1) | (np.abs(told.theta_rad) > FAR_TURNS * TURN)
    if not far.any():
        return told, []
    move = int(far.argmax())
    message = "a move goes further than any machine does; nothing from here on is judged"
    return told.upto(move), [about_move(told, move, Severity.ERROR, "too-far", message, "check the units")]


def _greatest_radius(skin: Skin) -> float:
    x = np.linspace(*skin.x_range_mm, 257)[:, None]
    return float(skin.radius(x, np.linspace(0.0, TURN, 257)[None, :]).max())


def _coarse(high: Heights) -> list[Finding]:
    if not high.coarse:
        return []
    message = "the moves are so long that clearances were looked at in longer steps than usual"
    return [Finding(severity=Severity.NOTE, code="looked-coarsely", message=message)]


def _carve(told: Replay, high: Heights, skin: Skin, tool: Tool, wanted: Wanted | None) -> tuple[Carved, Sampled]:
    """The carved window round all that is cut, and the skin's coefficients over it and the wanted field."""
    sideways = max(reach(form_of(tool), high.sunk_mm + NEAR_MM), 0.0)
    window = window_of(skin, tool, high.near_x_mm, high.near_theta_rad, reach_mm=sideways)
    x_lo, x_hi = window.x_mm
    if wanted is not None and len(wanted.x_mm):
        low, high_x = skin.x_range_mm
        x_lo = min(x_lo, max(low, float(wanted.x_mm[0])))
        x_hi = max(x_hi, min(high_x, float(wanted.x_mm[-1])))
    near = skin_around(skin, x_lo, x_hi)
    live = told.known & (high.least_mm < NEAR_MM)
    moves: Floats = np.concatenate([told.start[live], told.end[live]], axis=1)
    carved, _ = carve_window(near, tool, window, moves)
    return carved, near
