"""The walk: the tool shows the art's outline in the air, at approach height, before anything is cut.

Takes closed outlines on the skin, the skin, the tool and the machine; gives a `Path` that cuts nothing. Each outline
begins at its first point, the upper left corner as seen from outside, and the tool comes there from inside the art: the
short hook tells that corner from the other three, so that a mirrored axis shows.
"""

from collections.abc import Sequence
from math import ceil, floor, inf, radians

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import ReachError
from engine.kernel.ragged import offsets_of
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Form, KeepOut, Path, Tool
from engine.machine import Axis, Profile, room_of
from engine.toolpath.clearance import hover
from engine.toolpath.link import approach_mm, join_by_hops, margin_mm
from engine.toolpath.runs import Runs

__all__ = ["covering", "walk"]

WALK_MM_MIN = 300.0  # slow enough for an eye to follow and a hand to stop
_HOOK_MM = 3.0
_HOOK_SHARE = 0.15  # of the outline's points at most: the hook of a small outline stays a hook


def walk(
    outlines: Sequence[tuple[Floats, Floats]],
    skin: Skin,
    tool: Tool,
    machine: Profile,
    keep_out: Sequence[KeepOut] = (),
) -> Path:
    """The path along every outline (x_mm (n,), theta_rad (n,)), closed where it is not, one block a point.

    No part of the tool comes nearer to the skin than the approach height. ReachError where an outline holds fewer than
    three points.
    """
    ways = [_with_hook(*_closed(x, _in_room(theta, machine.rotary)), skin) for x, theta in outlines]
    if not ways:
        raise ReachError("there is no outline to walk", where="walk")
    sizes = np.array([len(way) for way in ways], np.int64)
    x, theta = np.concatenate(ways).T
    gap = float(approach_mm(skin, machine, x, theta).max()) + margin_mm(machine)
    offsets = offsets_of(sizes)
    r = _heights((skin, tool, gap), x, theta, offsets)
    every = np.ones(len(sizes))
    runs = Runs(
        x_mm=x,
        theta_rad=theta,
        r_mm=r,
        run_offsets=offsets,
        stroke_offsets=np.arange(len(sizes) + 1),
        reversible=np.zeros(len(sizes), np.bool_),
        feed_mm_min=WALK_MM_MIN * every,
        plunge_mm_min=WALK_MM_MIN * every,
        art=np.arange(len(sizes)),
    )
    return join_by_hops(runs, r[offsets[:-1]], r[offsets[1:] - 1], skin, tool, machine, keep_out)


def covering(tools: Sequence[Tool]) -> Tool:
    """A tool whose form holds that of each of the tools, tip to tip: what it stays clear of, they all do."""
    if len(tools) == 1:
        return tools[0]
    return Tool(id="all", form=Form.FLAT, diameter_mm=max(tool.diameter_mm for tool in tools))


def _in_room(theta_rad: Floats, rotary: Axis) -> Floats:
    """The same angles some whole turns on, where that brings them all into the rotary's room; as they are otherwise."""
    least, greatest = (radians(end) for end in room_of(rotary))
    low, high = float(theta_rad.min(initial=inf)), float(theta_rad.max(initial=-inf))
    if least <= low and high <= greatest:
        return theta_rad
    turns = ceil((least - low) / TURN_RAD) if low < least else floor((greatest - high) / TURN_RAD)
    moved = theta_rad + TURN_RAD * turns
    return moved if least <= moved.min() and moved.max() <= greatest else theta_rad


def _closed(x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
    if len(x_mm) < 3:
        raise ReachError(f"an outline of {len(x_mm)} points goes round nothing", where="walk")
    if x_mm[0] == x_mm[-1] and theta_rad[0] == theta_rad[-1]:
        return x_mm, theta_rad
    return np.append(x_mm, x_mm[0]), np.append(theta_rad, theta_rad[0])


def _with_hook(x: Floats, theta: Floats, skin: Skin) -> Floats:
    """(n + 1, 2) the closed outline and before it the hook's end: along both sides of the first corner, inwards."""
    r = skin.radius(x, theta)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), 0.5 * (r[1:] + r[:-1]) * np.diff(theta)))])
    far = min(_HOOK_MM, _HOOK_SHARE * way[-1])
    out, back = ([np.interp(at, way, values) for values in (x, theta)] for at in (far, way[-1] - far))
    hook = [[out[0] + back[0] - x[0], out[1] + back[1] - theta[0]]]
    return np.concatenate([hook, np.stack([x, theta], axis=1)])


def _heights(over: tuple[Skin, Tool, float], x: Floats, theta: Floats, offsets: Ints) -> Floats:
    """(n,) the tip's height at every point, such that the straight moves between them are clear on their whole way.

    over : skin, tool and gap, mm.
    """
    inside = np.ones(len(x) - 1, np.bool_)
    inside[offsets[1:-1] - 1] = False
    a = np.flatnonzero(inside)
    share = np.linspace(0.0, 1.0, 9)[1:-1]
    k, t = np.repeat(a, len(share)), np.tile(share, len(a))
    points = x, theta
    between = x[k] + t * (x[k + 1] - x[k]), theta[k] + t * (theta[k + 1] - theta[k])
    field = hover(*over, (float(x.min()), float(x.max())), ((points, points), (between, between)))
    at = field.over_mm(points, points)
    short = field.over_mm(between, between) - (at[k] + t * (at[k + 1] - at[k]))
    raised = np.maximum(short.reshape(-1, len(share)).max(axis=1, initial=0.0), 0.0)
    add = np.zeros(len(x))
    np.maximum.at(add, a, raised)
    np.maximum.at(add, a + 1, raised)
    return at + add
