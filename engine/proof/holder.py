"""Whether what stands above the cutting part stays clear: shank, collet and spindle nose, beside a neck's shoulder.

Takes the replay, the skin, hardware, the tool and the machine; gives findings. Each part is a cylinder over the tip;
the cutting part itself is judged by the heights, the carving and the keep-outs. A length that is not told is guessed,
and what is guessed is no error: flutes of a ball or flat end are three diameters long, a wide shank begins where a cone
ends, a nose has a radius of 20 mm (common practice, no source), and stands on the collet's face where a collet has no
length.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Form, KeepOut, Tool
from engine.machine import Profile
from engine.proof.clearance import NEAR_MM, Heights, looked_coarsely
from engine.proof.holder_map import FAR, Gaps, Stack, gaps, met
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_holder"]

FLUTES_OF_DIAMETER = 3.0  # common practice, no source
NOSE_R_MM = 20.0  # common practice, no source
DEEP_NECK_MM = 10.0
NEAR_SHARE = 0.5  # of the clearance
ROW_MM = 0.1  # a row of the map stands for what is this near to it
LEAST_MM = 0.01  # what the map may be wrong by on a smooth skin
SHOULDER = "move the art away from the shoulder"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One cylinder over the tip. sure : its height is told, not guessed. clear : it is to keep a distance. asked : the
    field that would make it sure.
    """

    name: str
    radius_mm: float
    height_mm: float
    sure: bool = True
    clear: bool = True
    asked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Around:
    """What the stack may touch."""

    skin: Skin
    keep_out: Sequence[KeepOut]
    greatest_r_mm: float

    def gaps(self, replay: Replay, chosen: Bools, stack: Stack) -> Gaps:
        """`gaps` over what is here."""
        return gaps(replay, chosen, self.skin, self.keep_out, stack, greatest_r_mm=self.greatest_r_mm)


def judge_holder(
    replay: Replay,
    heights: Heights,
    tool: Tool,
    machine: Profile,
    skin: Skin,
    keep_out: Sequence[KeepOut],
    *,
    greatest_r_mm: float,
) -> list[Finding]:
    """`holder-touches`, `holder-near`; `holder-unknown` where a neck is so deep that it matters; `looked-coarsely`."""
    around = _Around(skin=skin, keep_out=keep_out, greatest_r_mm=greatest_r_mm)
    parts = _parts(tool, machine)
    sure = [part for part in parts if part.sure]
    everywhere = np.ones(len(replay), np.bool_)
    least, share, coarse = around.gaps(replay, everywhere, _stack(sure, 0.0))
    found = []
    if (least < -LEAST_MM).any():
        move, count = worst(least < -LEAST_MM, -least)
        found.append(_touches(replay, around, sure, tool, move, count, float(share[move])))
    else:
        near_mm = NEAR_SHARE * machine.clearance_mm
        least, share, coarser = around.gaps(replay, everywhere, _stack(parts, near_mm))
        coarse = coarse or coarser
        if (least < -LEAST_MM).any():
            move, count = worst(least < -LEAST_MM, -least)
            found.append(_near(replay, around, parts, near_mm, move, count, float(share[move])))
    told = looked_coarsely(coarse and not heights.coarse)
    return [*found, *_unknown(replay, heights, around, tool, machine), *told]


def _parts(tool: Tool, machine: Profile) -> list[_Part]:
    """The parts whose measures are known, from the tip up."""
    told = tool.flute_mm is not None
    if tool.flute_mm is not None:
        flute = tool.flute_mm
    elif tool.form is Form.CONE:
        flute = (tool.outer_mm - tool.flat_mm) * tool.flank
    else:
        flute = FLUTES_OF_DIAMETER * tool.diameter_mm
    if tool.stick_out_mm is not None:
        flute = min(flute, tool.stick_out_mm)
    shank = 0.5 * (tool.shank_mm or tool.diameter_mm)
    wide = shank > tool.outer_mm
    sure = told or (tool.form is Form.CONE and not wide)
    # A shank as wide as the cutting part follows it into its groove and rubs where that is deeper than the flutes.
    parts = []
    if shank >= tool.outer_mm:
        radius = shank if wide else 0.0
        parts.append(_Part(name="shank", radius_mm=radius, height_mm=flute, sure=sure, clear=wide, asked="flute_mm"))
    if tool.stick_out_mm is None:
        return parts
    if machine.collet_mm is not None:
        parts.append(_Part(name="collet", radius_mm=0.5 * machine.collet_mm, height_mm=tool.stick_out_mm))
    if machine.nose_mm is not None:
        height = tool.stick_out_mm + machine.collet_length_mm
        sure = machine.collet_length_mm > 0 or machine.collet_mm is None
        parts.append(
            _Part(
                name="spindle nose",
                radius_mm=0.5 * machine.nose_mm,
                height_mm=height,
                sure=sure,
                asked="collet_length_mm",
            )
        )
    return parts


def _stack(parts: Sequence[_Part], near_mm: float) -> Stack:
    return Stack(
        np.array([part.radius_mm for part in parts], np.float64),
        np.array([part.height_mm for part in parts], np.float64),
        np.array([near_mm if part.clear else 0.0 for part in parts], np.float64),
    )


def _touches(
    replay: Replay, around: _Around, parts: Sequence[_Part], tool: Tool, move: int, count: int, share: float
) -> Finding:
    part, gap, thing, hardware = _met(replay, around, parts, 0.0, move, share)
    into = max(-gap, LEAST_MM)
    text = f"{_words(part)} runs {into:.2f} mm into {thing}{more(count)}"
    if part.name == "shank":
        advice = f"a tool with longer flutes or a slimmer shank, or {SHOULDER}"
    else:
        enough = math.ceil(2.0 * ((tool.stick_out_mm or 0.0) + into)) / 2.0
        wide = "a slimmer collet, or" if part.name == "collet" else "or"
        advice = f"let the tool stick out more than {enough:g} mm (stick_out_mm), {wide} {SHOULDER}"
    return _placed(about_move(replay, move, Severity.ERROR, "holder-touches", text, advice, share), hardware)


def _near(
    replay: Replay, around: _Around, parts: Sequence[_Part], near_mm: float, move: int, count: int, share: float
) -> Finding:
    part, _, thing, hardware = _met(replay, around, parts, near_mm, move, share)
    if not part.sure:
        text = f"{_words(part)} may touch {thing}: that height is assumed{more(count)}"
        what = "how long the cutting part is" if part.name == "shank" else "how far the nose is from the collet's face"
        advice = f"say {what} ({part.asked})"
    else:
        text = f"{_words(part)} comes nearer than {near_mm:g} mm, half the clearance, to {thing}{more(count)}"
        advice = f"let the tool stick out further, or {SHOULDER}"
        if part.name == "shank":
            advice = f"a tool with longer flutes or a slimmer shank, or {SHOULDER}"
    return _placed(about_move(replay, move, Severity.WARNING, "holder-near", text, advice, share), hardware)


def _met(
    replay: Replay, around: _Around, parts: Sequence[_Part], near_mm: float, move: int, share: float
) -> tuple[_Part, float, str, int | None]:
    """The part that is nearest, its gap, words for what it would touch, and which keep-out that is."""
    place = replay.start[move] + share * (replay.end[move] - replay.start[move])
    stack = _stack(parts, near_mm)
    which, gap, x = met(place, around.skin, around.keep_out, stack, greatest_r_mm=around.greatest_r_mm)
    for k, stretch in enumerate(around.keep_out):
        if stretch.radius_mm is None or not stretch.from_mm - ROW_MM <= x <= stretch.to_mm + ROW_MM:
            continue
        low, high = around.skin.x_range_mm
        own = np.clip(np.array([x]), low, high)
        beyond = x < low or x > high
        if beyond or stretch.radius_mm > float(around.skin.radius(own, np.array([place[1]]))[0]):
            return parts[which], gap, f"what stands at {stretch.words}", k
    return parts[which], gap, f"the skin beside the cut, at x {x:.1f} mm", None


def _words(part: _Part) -> str:
    if part.radius_mm == 0.0:
        return f"the {part.name} ({part.height_mm:.4g} mm over the tip)"
    return f"the {part.name} ({2.0 * part.radius_mm:g} mm wide, {part.height_mm:.4g} mm over the tip)"


def _placed(finding: Finding, hardware: int | None) -> Finding:
    if hardware is None:
        return finding
    return replace(finding, where=replace(finding.where, pointer=f"/blank/keep_out/{hardware}"))


def _unknown(replay: Replay, heights: Heights, around: _Around, tool: Tool, machine: Profile) -> list[Finding]:
    """`holder-unknown`: beside the cut the skin stands so high that what is not known could touch it."""
    if tool.stick_out_mm is None:
        height, pointer = DEEP_NECK_MM, "/tools"
        radius = 0.5 * max(machine.collet_mm or 0.0, machine.nose_mm or 0.0) or NOSE_R_MM
        text, advice = "how far the tool sticks out is not known", "say how far the tool sticks out (stick_out_mm)"
    elif machine.nose_mm is None:
        height, pointer, radius = tool.stick_out_mm + machine.collet_length_mm, "/machine/spindle", NOSE_R_MM
        text, advice = "what stands above the tool is not known", "say the spindle's measures in the machine's profile"
    else:
        return []
    assumed = _Part(name="nose", radius_mm=radius, height_mm=height)
    cutting = heights.least_mm < NEAR_MM
    least, share, _ = replace(around, keep_out=()).gaps(replay, cutting, _stack([assumed], 0.0))
    if not (least < -LEAST_MM).any():
        return []
    move, _ = worst(least < FAR, -least)
    text += (
        f": within {radius:g} mm of the cut the skin stands up to {height - float(least[move]):.1f} mm "
        "higher than the tip, where a collet or a nose may touch it"
    )
    told = about_move(replay, move, Severity.NOTE, "holder-unknown", text, advice, float(share[move]))
    return [replace(told, where=replace(told.where, pointer=pointer))]
