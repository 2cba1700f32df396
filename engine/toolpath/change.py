"""From the runs of each tool to one path: the tool's way to where it is changed, and on from there.

Takes a leg for each tool, in order of use; gives a `Path` whose `tool` rises where one is changed. Each leg is linked
by itself: it begins over everything at a height that no reckoning of the tool before it comes into, and ends over
everything at the place where the tool waits: the machine's park, else the place where Z is set again, so that only the
radial axis has to be moved by hand.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, degrees, floor

import numpy as np

from engine.blank import Skin
from engine.kernel.values import KeepOut, Path, Tool
from engine.machine import Axis, Park, Profile, room_of
from engine.toolpath.link import link
from engine.toolpath.runs import Runs

__all__ = ["CHANGE_LIFT_MM", "Leg", "link_legs"]

CHANGE_LIFT_MM = 10.0  # over the highest place that is passed, as far as the axis goes: room for a hand (no source)
_COLUMNS = ("x_mm", "theta_rad", "r_mm", "kind", "feed_mm_min")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """What one tool cuts, in cutting order. number : of the tool among the job's, from 0."""

    number: int
    tool: Tool
    runs: Runs


def link_legs(
    legs: Sequence[Leg],
    skin: Skin,
    machine: Profile,
    keep_out: Sequence[KeepOut] = (),
    *,
    waits_at: tuple[float, float],
    zero_r_mm: float = 0.0,
) -> Path:
    """The path over all legs; stroke numbers run on.

    legs : as they follow each other, one at least. waits_at : x_mm and angle_deg of the place over which a tool is
    changed where the machine has no park. zero_r_mm : where the radial word is 0. ReachError where there is nothing to
    cut, or a tool finds no skin at a run's end.
    """
    last = legs[-1] if legs else None
    paths = []
    for leg in legs:
        if leg is last or machine.park is not None:
            paths.append(link(leg.runs, skin, leg.tool, machine, keep_out))
            continue
        waiting = replace(machine, park=_park(waits_at, leg.runs, machine))
        paths.append(_raised(link(leg.runs, skin, leg.tool, waiting, keep_out), machine, zero_r_mm))
    if len(paths) == 1 and not legs[0].number:
        return paths[0]
    counts = np.cumsum([0] + [len(leg.runs) for leg in legs]).tolist()
    numbered = [np.where(path.stroke > 0, path.stroke + n, 0) for path, n in zip(paths, counts, strict=False)]
    tool = np.repeat([leg.number for leg in legs], [len(path) for path in paths])
    columns = {name: np.concatenate([getattr(path, name) for path in paths]) for name in _COLUMNS}
    return Path(**columns, stroke=np.concatenate(numbered), tool=tool)


def _park(place: tuple[float, float], runs: Runs, machine: Profile) -> Park:
    """Over the place, at a whole turn that the rotary reaches; where an axis does not reach it, it stays."""
    x, angle = place
    low, high = room_of(machine.axial)
    turned = _in_room(angle, machine.rotary)
    return Park(
        x_mm=x if low <= x <= high else float(runs.x_mm[-1]),
        angle_deg=degrees(float(runs.theta_rad[-1])) if turned is None else turned,
        lift_mm=0.0,
    )


def _in_room(angle_deg: float, rotary: Axis) -> float | None:
    """The angle, or the nearest whole turn on that the rotary reaches; None where it reaches none."""
    low, high = room_of(rotary)
    if low <= angle_deg <= high:
        return angle_deg
    turns = ceil((low - angle_deg) / 360.0) if angle_deg < low else floor((high - angle_deg) / 360.0)
    moved = angle_deg + 360.0 * turns
    return moved if low <= moved <= high else None


def _raised(path: Path, machine: Profile, zero_r_mm: float) -> Path:
    """The path with its way to the waiting place higher by CHANGE_LIFT_MM, or as far as the radial axis goes."""
    home = path.stroke == 0
    safe = float(path.r_mm[-1])
    room = max(room_of(machine.radial)[1] + zero_r_mm - safe, 0.0)
    return replace(path, r_mm=path.r_mm + home * min(CHANGE_LIFT_MM, room))
