"""From ordered runs to one path: plunges, lifts and hops, each hop only as high as the skin on its way needs.

Takes `Runs` in cutting order, the skin, the tool and the machine; gives a `Path`. A run is entered straight down: by
rapid to the approach height, by feed from there. Where the next run of a stroke starts at the last one's end, the tool
plunges straight on. Sideways rapids keep the machine's clearance between the skin and the tool's whole form.
"""

import math
from collections.abc import Sequence

import numpy as np

from engine.blank import SURE, Skin, sigma_at, tilt_cos
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import ReachError
from engine.kernel.ragged import spread
from engine.kernel.values import KeepOut, Kind, Path, Tool
from engine.machine import Profile
from engine.toolpath.clearance import highest_mm, hover
from engine.toolpath.follow import tip_radius
from engine.toolpath.runs import Runs
from engine.toolpath.sinking import sinking_feeds
from engine.toolpath.take_up import take_up

__all__ = ["approach_mm", "join_by_hops", "link", "margin_mm"]

_GRACE_MM = 0.005  # over the asked heights: what rounding and a reader's own sampling may take away
_SAME_MM = 1e-7
_SAME_RAD = 1e-9
_FLATTEST = 0.2  # least cosine by which the approach height is measured along the normal
_Places = tuple[Floats, Floats]  # x, mm, and theta, rad, (n,) each
_HEAD, _TAIL = 5, 1  # rows before a run's second point (up, aside, over, down, plunge), and after its last (lift)


class _Rows:
    """The path's columns while they are filled; rows that do not move are left out at the end."""

    def __init__(self, n: int) -> None:
        self.place = np.zeros((n, 3))
        self.kind = np.zeros(n, np.uint8)
        self.stroke = np.zeros(n, np.int64)
        self.feed = np.ones(n)
        self.keep = np.zeros(n, np.bool_)

    def put(
        self,
        at: Ints,
        x: Floats,
        theta: Floats,
        r: Floats,
        kind: int,
        stroke: Ints,
        feed: Floats,
        keep: Bools | None = None,
    ) -> None:
        """Fill the rows `at` (n,); stroke numbers count from 1."""
        self.place[at] = np.stack([x, theta, r], axis=1)
        self.kind[at], self.stroke[at], self.feed[at] = kind, stroke + 1, feed
        self.keep[at] = True if keep is None else keep

    def path(self, home: Floats) -> Path:
        """The rows kept and the rows home, without those that stand still."""
        place = np.concatenate([self.place[self.keep], home])
        kind = np.concatenate([self.kind[self.keep], np.full(len(home), int(Kind.TRAVEL), np.uint8)])
        stroke = np.concatenate([self.stroke[self.keep], np.zeros(len(home), np.int64)])
        feed = np.concatenate([self.feed[self.keep], np.ones(len(home))])
        moves = np.ones(len(place), np.bool_)
        moves[1:] = (place[1:] != place[:-1]).any(axis=1)
        x, theta, r = place[moves].T
        return Path(x_mm=x, theta_rad=theta, r_mm=r, kind=kind[moves], stroke=stroke[moves], feed_mm_min=feed[moves])


def link(runs: Runs, skin: Skin, tool: Tool, machine: Profile, keep_out: Sequence[KeepOut] = ()) -> Path:
    """The whole path: from a safe height, over every run in the order given, to the place where the tool waits.

    ReachError where there is nothing to cut, or the tool finds no skin at a run's end.
    """
    _refuse_empty(runs)
    first, last = runs.run_offsets[:-1], runs.run_offsets[1:] - 1
    ends = np.concatenate([first, last])
    x, theta = runs.x_mm[ends], runs.theta_rad[ends]
    lean = tilt_cos(skin.radius(x, theta), *skin.slopes(x, theta))
    touch = tip_radius(skin, tool, x, theta, np.zeros(len(ends)))
    near = touch + (approach_mm(skin, machine, x, theta) + margin_mm(machine)) / np.maximum(lean, _FLATTEST)
    near = np.maximum(near, runs.r_mm[ends])
    return join_by_hops(runs, near[: len(first)], near[len(first) :], skin, tool, machine, keep_out)


def approach_mm(skin: Skin, machine: Profile, x_mm: Floats, theta_rad: Floats) -> Floats:
    """How far over the described skin rapids straight down stop: where it is little known, never within its error."""
    return np.maximum(machine.approach_mm, SURE * sigma_at(skin, x_mm, theta_rad))


def margin_mm(machine: Profile) -> float:
    """What a height may lose when the program rounds its words."""
    return _GRACE_MM + 2.0 * 10.0**-machine.decimals


def join_by_hops(
    runs: Runs,
    enter_r_mm: Floats,
    leave_r_mm: Floats,
    skin: Skin,
    tool: Tool,
    machine: Profile,
    keep_out: Sequence[KeepOut] = (),
) -> Path:
    """The path over all runs when each is entered and left by feed at the given heights, (m,) mm from the axis.

    A hop over hardware goes the machine's clearance over its reach, or, where that is not known, as high as the first.
    """
    _refuse_empty(runs)
    aside = take_up(runs, machine)
    heights = _heights(runs, aside, (enter_r_mm, leave_r_mm), skin, tool, machine, keep_out)
    rows = _filled(runs, aside, (enter_r_mm, leave_r_mm), heights, sinking_feeds(runs, skin))
    return rows.path(_way_home(runs, float(heights[0]), machine))


def _heights(
    runs: Runs,
    aside: _Places,
    near: tuple[Floats, Floats],
    skin: Skin,
    tool: Tool,
    machine: Profile,
    keep_out: Sequence[KeepOut],
) -> Floats:
    """(m,) height of the hop to each run. The first comes from anywhere and goes over everything, as does the way home.

    near : (m,) mm, the heights at which each run is entered and left by feed.
    """
    doubt = float(approach_mm(skin, machine, runs.x_mm, runs.theta_rad).max())
    gap = max(machine.clearance_mm, doubt) + margin_mm(machine)
    tops = [k.radius_mm for k in keep_out if k.radius_mm is not None]
    safe = max(max([highest_mm(skin), *tops]) + gap, float(runs.r_mm.max()))
    hops = _hop_heights(runs, aside, near, (skin, tool, gap)) if len(near[0]) > 1 else np.zeros(0)
    for stretch in keep_out:
        over = safe if stretch.radius_mm is None else stretch.radius_mm + gap
        hops = np.where(_passes(runs, aside[0], stretch, tool), np.maximum(hops, over), hops)
    return np.concatenate([[max(safe, float(hops.max(initial=0.0)))], hops])


def _filled(runs: Runs, aside: _Places, near: tuple[Floats, Floats], height: Floats, feed_mm_min: Floats) -> _Rows:
    """Every run's rows: up, aside, over, down, plunge; its points; lift. height : (m,) of the hop to each run."""
    first, last = runs.run_offsets[:-1], runs.run_offsets[1:] - 1
    stroke = np.repeat(np.arange(len(runs)), np.diff(runs.stroke_offsets))
    on = _straight_on(runs, first, last, stroke)
    size = np.diff(runs.run_offsets)
    head = np.concatenate([[0], np.cumsum(size - 1 + _HEAD + _TAIL)[:-1]])
    rows = _Rows(int((size - 1 + _HEAD + _TAIL).sum()))
    before = np.maximum(np.arange(len(first)) - 1, 0)
    up_x, up_theta = runs.x_mm[last][before], runs.theta_rad[last][before]
    up_x[0], up_theta[0] = aside[0][0], aside[1][0]  # the first row stands there already, at the safe height
    x0, theta0 = runs.x_mm[first], runs.theta_rad[first]
    travel, plunge, ones = int(Kind.TRAVEL), runs.plunge_mm_min[stroke], np.ones(len(first))
    rows.put(head, up_x, up_theta, height, travel, np.append(stroke[:1], stroke[:-1]), ones, keep=~on)
    rows.put(head + 1, *aside, height, travel, stroke, ones, keep=~on)
    rows.put(head + 2, x0, theta0, height, travel, stroke, ones, keep=~on)
    rows.put(head + 3, x0, theta0, near[0], travel, stroke, ones, keep=~on)
    rows.put(head + 4, x0, theta0, runs.r_mm[first], int(Kind.PLUNGE), stroke, plunge)
    inner, at, of = spread(first + 1, size - 1), spread(head + _HEAD, size - 1), np.repeat(stroke, size - 1)
    rows.put(at, runs.x_mm[inner], runs.theta_rad[inner], runs.r_mm[inner], int(Kind.CUT), of, feed_mm_min[inner])
    lift, at = ~np.append(on[1:], False), head + _HEAD + size - 1
    rows.put(
        at, runs.x_mm[last], runs.theta_rad[last], near[1], int(Kind.LIFT), stroke, runs.feed_mm_min[stroke], keep=lift
    )
    return rows


def _refuse_empty(runs: Runs) -> None:
    if not len(runs.x_mm) or not (np.diff(runs.run_offsets) > 0).all() or not (np.diff(runs.stroke_offsets) > 0).all():
        raise ReachError("there is nothing to cut", where="path", hint="every stroke holds runs, every run points")


def _straight_on(runs: Runs, first: Ints, last: Ints, stroke: Ints) -> Bools:
    """(m,) whether a run begins where the run before it, of the same stroke, has ended."""
    on = np.zeros(len(first), np.bool_)
    near_x = np.abs(runs.x_mm[first[1:]] - runs.x_mm[last[:-1]]) <= _SAME_MM
    near_theta = np.abs(runs.theta_rad[first[1:]] - runs.theta_rad[last[:-1]]) <= _SAME_RAD
    on[1:] = near_x & near_theta & (stroke[1:] == stroke[:-1])
    return on


def _hop_heights(runs: Runs, aside: _Places, near: tuple[Floats, Floats], over: tuple[Skin, Tool, float]) -> Floats:
    """(m - 1,) height of the hop from each run to the next, by the place it passes. over : skin, tool and gap, mm."""
    first, last = runs.run_offsets[:-1], runs.run_offsets[1:] - 1
    reach = np.concatenate([runs.x_mm[first], runs.x_mm[last], aside[0]])
    start = runs.x_mm[last[:-1]], runs.theta_rad[last[:-1]]
    by = aside[0][1:], aside[1][1:]
    goal = runs.x_mm[first[1:]], runs.theta_rad[first[1:]]
    field = hover(*over, (float(reach.min()), float(reach.max())), ((start, by), (by, goal)))
    clear = np.maximum(field.over_mm(start, by), field.over_mm(by, goal))
    out: Floats = np.maximum(clear, np.maximum(near[1][:-1], near[0][1:]))
    return out


def _passes(runs: Runs, aside_x: Floats, stretch: KeepOut, tool: Tool) -> Bools:
    """(m - 1,) whether any part of the tool comes over the stretch on the hop from each run to the next."""
    first, last = runs.run_offsets[1:-1], runs.run_offsets[1:-1] - 1
    stops = np.stack([runs.x_mm[last], aside_x[1:], runs.x_mm[first]])
    return (stops.min(axis=0) <= stretch.to_mm + tool.outer_mm) & (stops.max(axis=0) >= stretch.from_mm - tool.outer_mm)


def _way_home(runs: Runs, safe: float, machine: Profile) -> Floats:
    """(k, 3) x, theta, r of the rows after the last lift: up to the safe height, then to where the tool waits."""
    x, theta = float(runs.x_mm[-1]), float(runs.theta_rad[-1])
    if machine.park is None:
        return np.array([[x, theta, safe]])
    park = machine.park
    high = safe + max(park.lift_mm, 0.0)
    return np.array([[x, theta, high], [park.x_mm, math.radians(park.angle_deg), high]])
