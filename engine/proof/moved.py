"""How a program moves, whatever it is for: the text read, its moves over the blank, and what is wrong with them.

Takes the text and what the machine, the tools and the blank are; gives `Motion`. Text that cannot be read is a finding
with its line: what stands before it is judged still.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import Skin
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.kernel.values import KeepOut, Tool
from engine.machine import Profile
from engine.proof.changes import judge_changes
from engine.proof.clearance import Heights, looked_coarsely
from engine.proof.feeds import judge_limits, judge_mode, judge_speeds, judge_turns
from engine.proof.holder import judge_holder
from engine.proof.keep_out import judge_keep_outs
from engine.proof.rapids import judge_rapids, judge_start
from engine.proof.replay import Replay, replay
from engine.proof.resolution import judge_size
from engine.proof.rs274_reader import SHOP, Moves, read
from engine.proof.standing import judge_standing
from engine.proof.stints import Stint, stints
from engine.proof.where import about_move

__all__ = ["Moved", "moved"]

FAR_MM = 1e5  # no machine of this kind is a hundred metres long
FAR_TURNS = 1e3
MOST_WAY_MM = 3e6  # 200 hours at 240 mm/min, twenty times what 22,000 strokes come to: judging it takes seconds
LEAST_ARM_MM = 12.5  # a turn counts as at this radius at least: it is looked at in as many steps
NO_MOVES = "the program makes no move"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """The moves of a text that are within reach of a machine, their heights over the skin, both in stretches by tool
    too, and the findings.
    """

    replay: Replay
    heights: Heights
    stints: tuple[Stint, ...]
    findings: tuple[Finding, ...]


def moved(
    text: bytes,
    *,
    skin: Skin,
    tools: Sequence[Tool],
    machine: Profile,
    zero_r_mm: float,
    keep_out: Sequence[KeepOut],
    first_tool: int = 0,
) -> Moved:
    """The moves of a text, and what is wrong with them whatever they are for. Parameters as of `prove`."""
    moves = read(text, axes="".join(machine.letters), shop=(*machine.header, *machine.footer))
    findings = _judge_reading(moves) + judge_changes(moves, tools, first_tool)
    replayed, far = _near_enough(replay(moves, machine, zero_r_mm=zero_r_mm, first_tool=first_tool))
    findings += far
    parts = stints(replayed, skin, tools, enough_mm=machine.clearance_mm + 1.0)
    high = Heights.joined([part.heights for part in parts])
    if not len(replayed):
        findings.append(Finding(severity=Severity.ERROR, code="no-moves", message=NO_MOVES))
        return Moved(replay=replayed, heights=high, stints=parts, findings=tuple(findings))
    greatest = _greatest_radius(skin)
    tallest = max([greatest, *[stretch.radius_mm for stretch in keep_out if stretch.radius_mm is not None]])
    findings += judge_limits(replayed, machine) + judge_speeds(replayed, machine) + judge_mode(replayed, machine)
    findings += judge_turns(replayed) + judge_start(replayed, machine, tallest) + judge_rapids(replayed, high, machine)
    findings += judge_size(text, machine)
    for part in parts:
        findings += judge_keep_outs(part.replay, part.tool, machine, keep_out, greatest_r_mm=greatest)
    findings += looked_coarsely(high.coarse)
    for part in parts:
        findings += judge_holder(part.replay, part.heights, part.tool, machine, skin, keep_out, greatest_r_mm=greatest)
    findings += judge_standing(replayed, high, moves, skin, tools, machine)
    return Moved(replay=replayed, heights=high, stints=parts, findings=tuple(findings))


_EVENTS = (
    (
        SHOP,
        Severity.WARNING,
        "shop-line",
        "a line of the shop's own is not followed: what it does to the tool and its place is not known",
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
    """`unreadable-line`, `no-end`; what a shop's own line or a switch leaves open."""
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


def _near_enough(replayed: Replay) -> tuple[Replay, list[Finding]]:
    """The moves up to the first that leaves every machine, `too-far`, or with which all are longer than can be judged
    in time, `too-long`.
    """
    with np.errstate(invalid="ignore"):
        far = (np.abs(replayed.end[:, [0, 2]]) > FAR_MM).any(axis=1)
        far |= np.abs(replayed.theta_rad) > FAR_TURNS * TURN_RAD
        turned = np.abs(replayed.end[:, 1] - replayed.start[:, 1])
    so_far = np.cumsum(np.nan_to_num(np.maximum(replayed.way_mm, LEAST_ARM_MM * turned)))
    bad = far | (so_far > MOST_WAY_MM)
    if not bad.any():
        return replayed, []
    move = int(bad.argmax())
    code, message, advice = "too-far", "a move goes further than any machine does", "check the units"
    if not far[move]:
        code, message = "too-long", f"the moves up to here are more than {MOST_WAY_MM / 1e6:g} km long"
        advice = "prove it in parts, or check the units"
    message += "; nothing from here on is judged"
    return replayed.upto(move), [about_move(replayed, move, Severity.ERROR, code, message, advice)]


def _greatest_radius(skin: Skin) -> float:
    x = np.linspace(*skin.x_range_mm, 257)[:, None]
    return float(skin.radius(x, np.linspace(0.0, TURN_RAD, 257)[None, :]).max())
