"""What the cut does to the blank: deeper than asked, through the wall, off the end, in thin air, at a wrong tilt.

Takes the replay, its heights, the carved field and what is allowed where; gives findings and the depths of the tip.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.blank import SURE, Sampled, Skin, sigma_at, tilt_cos
from engine.kernel.arrays import Bools, Floats
from engine.kernel.compiled import compiled
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Form, Kind, Tool
from engine.machine import Profile
from engine.proof.allowed import Allowed
from engine.proof.carve_field import Carved
from engine.proof.carve_pieces import Frame, column_of
from engine.proof.carve_rows import Radii
from engine.proof.clearance import Heights
from engine.proof.fidelity import Fidelity, Overcut, overcut
from engine.proof.leaning import opened_by_form
from engine.proof.normal_depth import depth_at
from engine.proof.replay import Replay
from engine.proof.where import about_move, more, place_of, worst

__all__ = ["Cuts", "cuts_of", "joined_cuts", "judge_art", "judge_depth", "judge_fit", "judge_wall"]

DEEPER_MM = 0.005  # five times the tolerance that strokes keep on the worse side
CUTS_MM = 0.005  # a tip this far below touching cuts for certain
LEAST_ART = 0.9  # share of the art's area that is to be cut; these three chosen: a tenth amiss is told
LEAST_DEPTH = 0.9  # share of the depth asked, at the median along the strokes
LEAST_ON_ART = 0.9  # share of what is cut that is to lie on the art
FINAL_MM = 0.5  # the furthest beside the tip that the deepest place of its groove is looked for
LEAST_R_MM = 1e-6  # a pole has no radius, and the formulas want one
BALL_TILT_DEG, FLAT_TILT_DEG = 70.0, 30.0  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cuts:
    """Of each of n moves: where it is deepest (n, 3: x, theta, r) and how far the tip is below the skin there, along
    the normal. cuts : (n,) it takes material. final_mm : (m,) depth after all moves at the ends of cutting moves, or of
    plunges where there are no others, the passes of a stroke together; final_at : (m, 3) x, theta and r there,
    final_cos and final_way_mm (m,) the cosine of the tilt and the length of the move.
    """

    place: Floats
    depth_mm: Floats
    cuts: Bools
    final_mm: Floats
    final_at: Floats
    final_cos: Floats
    final_way_mm: Floats


def joined_cuts(parts: Sequence[Cuts]) -> Cuts:
    """The cuts of parts of a program that follow each other, one at least."""
    if len(parts) == 1:
        return parts[0]
    return Cuts(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in Cuts.__slots__})


def cuts_of(replay: Replay, heights: Heights, carved: Carved, skin: Sampled, tool: Tool) -> Cuts:
    """The depths of the tip, exact at each move's deepest place."""
    cuts = replay.known & (heights.least_mm < -CUTS_MM)
    place = heights.places(replay)
    depth = np.zeros(len(replay))
    live = np.flatnonzero(replay.known & (heights.least_mm < CUTS_MM))
    depth[live] = depth_at(skin, *np.ascontiguousarray(place[live].T))
    ends = np.flatnonzero(cuts & (replay.kind == Kind.CUT))
    if not len(ends):  # holes alone
        ends = np.flatnonzero(cuts & (replay.kind == Kind.PLUNGE))
    x, theta, r = np.ascontiguousarray(replay.end[ends].T)
    final = depth_at(skin, x, theta, r)
    # On a slope the tool touches beside its tip: on the rim of its flat, or where its rounding is as steep.
    tilt = _tilt_cos(skin, x, theta)
    reach = np.minimum(tool.flat_mm + tool.round_mm * np.sqrt(1.0 - np.minimum(tilt, 1.0) ** 2), FINAL_MM)
    _deepen(final, carved.depth_mm, carved.frame, x, theta, reach)
    inside = (x >= skin.frame[0]) & (x <= skin.frame[1]) & (final > 0)
    return Cuts(
        place=place,
        depth_mm=depth,
        cuts=cuts,
        final_mm=final[inside],
        final_at=np.stack([x, theta, r], axis=1)[inside],
        final_cos=tilt[inside],
        final_way_mm=replay.way_mm[ends][inside],
    )


def _tilt_cos(skin: Skin, x: Floats, theta: Floats) -> Floats:
    """(n,) cosine of the tilt between tool and normal; a pole, where r is 0, counts as the steepest slope."""
    return tilt_cos(np.maximum(skin.radius(x, theta), LEAST_R_MM), *skin.slopes(x, theta))


@compiled
def _deepen(final: Floats, depth: Radii, frame: Frame, x: Floats, theta: Floats, reach: Floats) -> None:
    """Raise `final` to the greatest depth in the cells within reach of each place."""
    nx, nt = depth.shape
    for k in range(x.size):
        rows = math.ceil(reach[k] / frame.dx)
        i0 = math.floor((x[k] - frame.x0) / frame.dx + 0.5)
        j0 = column_of(frame, nt, theta[k])
        if j0 < 0:
            continue
        # Cells are as wide around as along at the window's greatest radius; at lesser ones this looks less far.
        for i in range(max(i0 - rows, 0), min(i0 + rows + 1, nx)):
            for j in range(j0 - rows, j0 + rows + 1):
                c = j % nt if frame.whole else min(max(j, 0), nt - 1)
                final[k] = max(final[k], depth[i, c])


def judge_depth(
    replay: Replay, cuts: Cuts, carved: Carved, may: Allowed, machine: Profile, tool: Tool
) -> list[Finding]:
    """`deeper-than-asked`: by the tip itself, or anywhere in the carved field; beside the art nothing is asked.
    `beside-art-by-form` where the tip is right, and the tool's form cuts aside because the skin leans.
    """
    grace = DEEPER_MM + min(10.0**-machine.decimals, DEEPER_MM)
    top = may.at(cuts.place[:, 0], cuts.place[:, 1])
    over = cuts.depth_mm - top
    bad = cuts.cuts & (over > grace)
    if bad.any():
        move, count = worst(bad, over)
        share = _share(replay, cuts, move)
        text = _deeper(float(cuts.depth_mm[move]), float(top[move])) + more(count)
        advice = _ADVICE
        if top[move] > 0.0 and over[move] <= 0.5 * 10.0**-machine.decimals + DEEPER_MM:
            advice = (
                f"the radial words come in steps of {10.0**-machine.decimals:g} mm: more decimals, if the controller"
            )
            advice += " reads them"
        return [about_move(replay, move, Severity.ERROR, "deeper-than-asked", text, advice, share)]
    found = overcut(carved, may, grace_mm=grace)
    if not len(found):
        return []
    by_form = opened_by_form((found.x_mm, found.theta_rad), found.depth_mm, may.wanted, may.skin, tool, grace)
    if not by_form.all():
        text, where = _worst_cell(replay, cuts, carved, found.only(~by_form), may.skin)
        error = Severity.ERROR
        return [Finding(severity=error, code="deeper-than-asked", message=text, advice=_ADVICE, where=where)]
    text, where = _worst_cell(replay, cuts, carved, found, may.skin)
    return [
        Finding(
            severity=Severity.WARNING,
            code="beside-art-by-form",
            message=f"{text}: the side of the tool opens the leaning skin",
            advice="a slimmer tool, or a place where the skin leans less, keeps to the art",
            where=where,
        )
    ]


def _worst_cell(replay: Replay, cuts: Cuts, carved: Carved, found: Overcut, skin: Sampled) -> tuple[str, Where]:
    """What the worst of the cells shows, over how large an area all are, and the move that passes nearest."""
    k = found.worst
    x, theta = float(found.x_mm[k]), float(found.theta_rad[k])
    radius = float(skin.radius(found.x_mm[k : k + 1], found.theta_rad[k : k + 1])[0])
    area = len(found) * carved.frame.dx * carved.frame.dth * radius
    text = f"{_deeper(float(found.depth_mm[k]), float(found.allowed_mm[k]))} ({area:.2g} mm2 in all)"
    told = place_of(replay, _blamed(replay, cuts, x, theta))
    where = Where(line=told.line, stroke=told.stroke, x_mm=round(x, 4), angle_deg=round(math.degrees(theta), 4))
    return text, where


_ADVICE = "the program does not make what was asked: check zero, units, axis directions and the tool"


def _deeper(depth_mm: float, allowed_mm: float) -> str:
    if allowed_mm > 0:
        return f"the cut is {depth_mm:.3f} mm deep where {allowed_mm:.3f} mm is asked"
    return f"the cut is {depth_mm:.3f} mm deep where nothing is to be cut"


def _share(replay: Replay, cuts: Cuts, move: int) -> float:
    way = replay.end[move] - replay.start[move]
    k = int(np.abs(way).argmax())
    return float((cuts.place[move, k] - replay.start[move, k]) / way[k]) if way[k] else 1.0


def _blamed(replay: Replay, cuts: Cuts, x_mm: float, theta_rad: float) -> int:
    """The cutting move that passes nearest to a place, the deeper one of equals."""
    live = np.flatnonzero(cuts.cuts)
    if not len(live):
        return len(replay) - 1
    a, b = replay.start[live], replay.end[live]
    r = np.maximum(0.5 * (a[:, 2] + b[:, 2]), 1e-6)
    turn = TURN_RAD * np.round((0.5 * (a[:, 1] + b[:, 1]) - theta_rad) / TURN_RAD)
    way = np.stack([b[:, 0] - a[:, 0], r * (b[:, 1] - a[:, 1])], axis=1)
    gone = np.stack([x_mm - a[:, 0], r * (theta_rad + turn - a[:, 1])], axis=1)
    size = np.maximum((way**2).sum(axis=1), 1e-18)
    share = np.clip((way * gone).sum(axis=1) / size, 0.0, 1.0)
    away = np.hypot(*(gone - share[:, None] * way).T)
    return int(live[np.lexsort((-cuts.depth_mm[live], np.round(away, 3)))[0]])


def judge_wall(
    replay: Replay, cuts: Cuts, deepest_mm: float, skin: Skin, *, wall_mm: float | None, wall_min_mm: float
) -> list[Finding]:
    """`wall`: the cut goes through, or leaves less than is to be left; `thin-wall`: it may, as the blank is known."""
    found: list[Finding] = []
    move = int(cuts.depth_mm.argmax()) if len(replay) else 0
    if wall_mm is None:
        return found
    left = wall_mm - deepest_mm
    if left <= 0 or left < wall_min_mm - DEEPER_MM:
        text = f"the cut is {deepest_mm:.3f} mm deep, the wall is {wall_mm:g} mm thick"
        text += f", and {wall_min_mm:g} mm of it is to be left" if wall_min_mm > 0 else ""
        found.append(about_move(replay, move, Severity.ERROR, "wall", text, "cut less deep"))
    elif deepest_mm > 0:
        x, theta, _ = cuts.place.T
        doubt = SURE * sigma_at(skin, x, theta)
        more_mm = deepest_mm - float(cuts.depth_mm[move])  # where grooves cross it is deeper than any move alone
        reach = np.where(cuts.cuts, cuts.depth_mm + doubt, -np.inf)
        move = int(reach.argmax())
        left = wall_mm - float(cuts.depth_mm[move]) - more_mm
        if left - doubt[move] <= wall_min_mm:
            text = (
                f"{left:.3f} mm of the wall is left"
                + (f" where {wall_min_mm:g} mm is to be" if wall_min_mm > 0 else "")
                + f", and the skin may lie {doubt[move]:.3g} mm elsewhere (two standard deviations)"
            )
            found.append(about_move(replay, move, Severity.WARNING, "thin-wall", text, "measure the blank better"))
    return found


def judge_fit(replay: Replay, cuts: Cuts, skin: Skin, tool: Tool) -> list[Finding]:
    """`art-off-blank`, `too-steep`, `beyond-axis`."""
    found = []
    low, high = skin.x_range_mm
    x, theta, _ = cuts.place.T
    beyond = np.maximum(low - x, x - high)
    bad = cuts.cuts & (beyond > 1e-6)
    if bad.any():
        move, count = worst(bad, beyond)
        text = f"the tool cuts {beyond[move]:.3f} mm beyond the blank's end{more(count)}"
        found.append(about_move(replay, move, Severity.ERROR, "art-off-blank", text, "move the art along the axis"))
    bad = replay.end[:, 2] < 0
    if bad.any():
        move, count = worst(bad, -replay.end[:, 2])
        text = f"the tip is sent {-replay.end[move, 2]:.3f} mm beyond the axis of rotation{more(count)}"
        found.append(about_move(replay, move, Severity.ERROR, "beyond-axis", text, "check where Z is zero"))
    live = np.flatnonzero(cuts.cuts & (replay.kind == Kind.CUT) & (x >= low) & (x <= high))
    if len(live):
        tilt = np.degrees(np.arccos(np.clip(_tilt_cos(skin, x[live], theta[live]), 0.0, 1.0)))
        most = _most_tilt_deg(tool)
        if float(tilt.max()) > most:
            move, count = worst(tilt > most, tilt)
            text = f"the skin leans {tilt[move]:.1f} deg to the tool, which takes at most {most:.1f}{more(count)}"
            advice = "keep to flatter parts, or take a ball or a slimmer cone"
            found.append(about_move(replay, int(live[move]), Severity.WARNING, "too-steep", text, advice))
    return found


def _most_tilt_deg(tool: Tool) -> float:
    """The tool's own limit; else beyond it a cone's flank lies on the skin (plain geometry), and a ball and a flat end
    by common practice.
    """
    if tool.tilt_max_deg is not None:
        return tool.tilt_max_deg
    return {
        Form.CONE: 90.0 - 0.5 * tool.angle_deg,
        Form.BALL: BALL_TILT_DEG,
        Form.FLAT: FLAT_TILT_DEG,
    }[tool.form]


def judge_art(
    cuts: Cuts,
    asked: Floats,
    even: Bools,
    fidelity: Fidelity,
    *,
    toned: bool,
    flat: bool = False,
    asked_mm: float = 0.0,
    word_mm: float = 0.0,
) -> tuple[list[Finding], float]:
    """`nothing-cut`, `shallow`, `uncut`, `beside-art`; and along the strokes the median of depth made over asked.

    asked, even : (m,) depth allowed where `cuts.final_at` lies, and whether it is asked as such. toned : the art, or
    some of it, is by its darkness. flat : a flat end cuts it. asked_mm : the greatest
    depth asked; word_mm : the step of the radial words.
    """
    if not len(cuts.final_mm) and fidelity.art_cut == 0.0 and not toned:
        text = "the program cuts nothing of the art"
        advice = "check zero, units and the tool's place"
        if 0.0 < asked_mm < word_mm:
            text += f": {asked_mm:g} mm are asked, and its words come in steps of {word_mm:g} mm"
            advice = "more depth"
        return [Finding(severity=Severity.ERROR, code="nothing-cut", message=text, advice=advice)], 0.0
    found = []
    on = (asked > 0) & even
    share = float(np.median(cuts.final_mm[on] / asked[on])) if on.any() else float((~even).any())
    if on.any() and share < LEAST_DEPTH:
        text = f"half of the cut reaches less than {share:.0%} of the depth asked"
        found.append(Finding(severity=Severity.WARNING, code="shallow", message=text, advice="check where Z is zero"))
    if fidelity.art_cut < LEAST_ART:
        text = f"{1 - fidelity.art_cut:.0%} of the art's area stays uncut"
        advice = "lines nearer to each other, or a wider tool, close the gaps; details finer than the tool stay uncut"
        if flat:  # its middle alone meets a round skin
            advice = (
                "on a round skin a flat end opens less than its width: lines nearer to each other, or a narrower one"
            )
        found.append(Finding(severity=Severity.WARNING, code="uncut", message=text, advice=advice))
    if fidelity.cut_on_art < LEAST_ON_ART:
        text = f"{1 - fidelity.cut_on_art:.0%} of what is cut lies beside the art"
        advice = "a slimmer tool, or an inset of half its width, keeps to the art"
        found.append(Finding(severity=Severity.WARNING, code="beside-art", message=text, advice=advice))
    return found, share
