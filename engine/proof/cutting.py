"""Feed and spindle speed against published ranges, as advice: chip load per tooth, surface speed of the edge.

Chip load is feed / (rpm x flutes), surface speed pi x D x rpm, with D the width of the tool at the depth that it cuts.
Takes the replay, the cuts and the blank's material; gives findings, errors never.
Where nothing is published for the material, or the table speaks of tools unlike this one, nothing is told: a slimmer
tool than the table's takes no more than it says, a wider one no less (common practice, no source). A surface speed
below a single published figure is not told: that figure is a bound.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Form, Kind, Tool
from engine.proof.cutting_table import CHIP_SOURCE, Material, material_of
from engine.proof.depths import Cuts
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_cutting"]

TABLE_MM = 3.2  # the chip-load table's own tool
ALIKE = 2.0  # wider or slimmer by this, a tool is no longer the table's
TINY_MM = 1e-3
GRACE = 0.02  # F and A words are rounded
SPINDLE_RPM = 20_000.0  # what small spindles reach (20 to 40 thousand: common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cutting:
    """The cutting moves: their numbers, feed over the blank, spindle speed, depth and the tool's width there."""

    move: Ints
    feed: Floats
    rpm: Floats
    depth_mm: Floats
    width_mm: Floats
    seconds: Floats


def judge_cutting(replay: Replay, cuts: Cuts, tool: Tool, material: str) -> list[Finding]:
    """`chip-load` and `surface-speed`: outside the published range; above it a warning, below it a note."""
    row = material_of(material)
    if row is None:
        return []
    live = _cutting(replay, cuts, tool)
    if not len(live.move):
        return []
    return _chip_load(replay, live, tool, row) + _surface_speed(replay, live, tool, row)


def _cutting(replay: Replay, cuts: Cuts, tool: Tool) -> _Cutting:
    feed = replay.feed_mm_min()
    live = (
        cuts.cuts
        & (replay.kind == Kind.CUT)
        & (replay.spindle != 0)
        & (replay.rpm > 0)
        & np.isfinite(feed)
        & (feed > 0)
    )
    move = np.flatnonzero(live)
    depth, back = np.unique(np.round(cuts.depth_mm[move], 3), return_inverse=True)
    width = np.array([tool.width_mm(d) for d in depth.tolist()])[back] if len(move) else np.zeros(0)
    return _Cutting(
        move=move,
        feed=feed[move],
        rpm=replay.rpm[move],
        depth_mm=cuts.depth_mm[move],
        width_mm=width,
        seconds=replay.seconds[move],
    )


def _chip_load(replay: Replay, live: _Cutting, tool: Tool, row: Material) -> list[Finding]:
    if row.chip_mm is None:
        return []
    low, high = row.chip_mm
    chip = live.feed / (live.rpm * tool.flutes)
    # The table speaks of cuts no deeper than wide: further down less is right, how much less is not known for all.
    k = int(live.width_mm.argmax())
    like = live.width_mm[k] >= TABLE_MM / ALIKE and live.depth_mm.max() <= live.width_mm[k]
    bad = (chip > high * (1.0 + GRACE)) & (live.width_mm < TABLE_MM * ALIKE)
    if bad.any():
        k, count = worst(bad, chip)
        severity, what, counted = Severity.WARNING, "more", more(count)
        advice = f"feed {_least(high * live.rpm[k] * tool.flutes)} mm/min or less"
        faster = live.feed[k] / (high * tool.flutes)
        if faster <= (tool.rpm_max or math.inf):
            advice += f", or turn at {_most(faster)} rev/min or more"
        value = float(chip[k])
    else:
        value = float((chip * live.seconds).sum() / live.seconds.sum())
        if value >= low * (1.0 - GRACE) or not like:
            return []
        severity, what, counted = Severity.NOTE, "less", ""
        rpm = float(live.rpm[k])
        advice = f"feed {_most(low * rpm * tool.flutes)} to {_least(high * rpm * tool.flutes)} mm/min, or turn slower"
    text = (
        f"each tooth takes {value:.3f} mm, {what} than the {low:.3f} to {high:.3f} mm that {CHIP_SOURCE} gives for "
        f"{row.name} and a tool of {TABLE_MM:g} mm{counted}"
    )
    if what == "less":
        text += ": it rubs more than it cuts"
    elif tool.form is Form.FLAT:
        advice += "; a quarter less where it cuts two diameters deep, half at three"
    return [about_move(replay, int(live.move[k]), severity, "chip-load", text, advice)]


def _surface_speed(replay: Replay, live: _Cutting, tool: Tool, row: Material) -> list[Finding]:
    low, high = row.speed_m_min
    speed = math.pi * live.width_mm * live.rpm / 1000.0
    k = int(speed.argmax())
    value, width = float(speed[k]), max(float(live.width_mm[k]), TINY_MM)
    reached = tool.rpm_max or SPINDLE_RPM
    slowest, fastest = (1000.0 * v / (math.pi * width) for v in (low, high))
    if value > high * (1.0 + GRACE):
        severity, what = Severity.WARNING, "faster"
        advice = f"turn at {_least(fastest)} rev/min or less"
    elif row.ranged and value < low * (1.0 - GRACE) and slowest <= reached:  # else no spindle turns so fast
        severity, what = Severity.NOTE, "slower"
        advice = f"turn at {_most(slowest)} rev/min or more"
    else:
        return []
    text = (
        f"the edge, {width:.2f} mm wide at depth, runs at {value:.0f} m/min, {what} than the {low:.0f} to {high:.0f} "
        f"m/min that {row.source} gives for {row.name}"
    )
    return [about_move(replay, int(live.move[k]), severity, "surface-speed", text, advice)]


def _least(value: float) -> str:
    """Rounded down to two figures: for a bound from above."""
    return f"{_two(value, math.floor):g}"


def _most(value: float) -> str:
    """Rounded up to two figures: for a bound from below."""
    return f"{_two(value, math.ceil):g}"


def _two(value: float, rounded: Callable[[float], int]) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return step * rounded(value / step)
