"""The touch-off spelt out: what to type for the radial word at which place, and a second place to check it."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.kernel.values import KeepOut, Tool
from engine.machine import Profile, ZZero
from engine.proof import Carved

__all__ = ["TouchOff", "TouchPoint", "judge_touch_off", "touch_off"]

BESIDE_MM = 3.0  # far enough from the art that a re-zero after a broken tip finds skin that was not cut
CLEAR_OF_END_MM = 1.0
ACROSS = 33  # places across the tool at which the carving is looked at
ASIDE_MM = 0.2  # how far beside the stated place a hand may touch off (common practice, no source)
CUT_MM = 0.005  # a scratch is none: what the proof calls cut


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchPoint:
    """A place on the skin in program coordinates. word : what the radial axis reads with the tip on the skin there."""

    x_mm: float
    angle_deg: float
    r_mm: float
    axial_word: str
    rotary_word: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchOff:
    """`first` sets the radial axis; at `check` it must read `check.word`. zero_r_mm : where its word is 0."""

    zero_r_mm: float
    first: TouchPoint
    check: TouchPoint

    def facts(self) -> Mapping[str, Any]:
        """JSON-ready."""
        return {
            name: {
                "x_mm": round(point.x_mm, 3),
                "angle_deg": round(point.angle_deg, 3),
                "radius_mm": round(point.r_mm, 4),
                "words": f"{point.axial_word} {point.rotary_word} {point.word}",
            }
            for name, point in (("first", self.first), ("check", self.check))
        }


def touch_off(
    skin: Skin,
    machine: Profile,
    *,
    art_x_mm: tuple[float, float],
    art_theta_rad: float,
    tip_r: Callable[[float, float], float],
    keep_out: Sequence[KeepOut] = (),
    outer_mm: float = 0.0,
    zero_r_mm: float | None = None,
) -> TouchOff:
    """The two places. art_x_mm : what the art covers; tip_r(x_mm, theta_rad): tip's radius when the tool touches there.

    The first place is the machine's own `touch_off`, else skin beside the art on its lower side; the second lies on its
    upper side, a quarter turn on, so that a wrong axis, a wrong turn and a wrong diameter all show. A place that is not
    the machine's own keeps `outer_mm`, the tool's radius, away from hardware wherever the blank has such a place.
    zero_r_mm : where the radial word is 0 already, for another tool of the same program; None: this one sets it.
    """
    free = _free(skin.x_range_mm, keep_out, outer_mm)
    below, above = _nearest(free, art_x_mm[0] - BESIDE_MM), _nearest(free, art_x_mm[1] + BESIDE_MM)
    angle = float(np.degrees(art_theta_rad))
    x0, a0 = machine.touch_off or (below, round(angle, 1))
    x1, a1 = above, round(angle + 90.0, 1)
    r0, r1 = tip_r(x0, np.radians(a0)), tip_r(x1, np.radians(a1))
    own = r0 if machine.z_zero is ZZero.SURFACE else 0.0
    zero = own if zero_r_mm is None else zero_r_mm
    return TouchOff(
        zero_r_mm=zero,
        first=_point(machine, (x0, a0, r0), zero),
        check=_point(machine, (x1, a1, r1), zero),
    )


def judge_touch_off(touch: TouchOff, carved: Carved, further: Sequence[Tool]) -> list[Finding]:
    """`touch-off-cut`: where the zero of a further tool is set the skin is cut, under the tip that touches it there."""
    if not further:
        return []
    place, reach = touch.first, max(tool.flat_mm + tool.round_mm for tool in further) + ASIDE_MM
    across = np.linspace(-reach, reach, ACROSS)
    x = np.searchsorted(carved.x_mm, place.x_mm + across)
    turned = np.radians(place.angle_deg) + across / place.r_mm - carved.theta_rad[0]
    theta = np.searchsorted(carved.theta_rad - carved.theta_rad[0], np.mod(turned, TURN_RAD))
    held = carved.depth_mm[np.ix_(x[x < len(carved.x_mm)], theta[theta < len(carved.theta_rad)])]
    if held.max(initial=0.0) <= CUT_MM:
        return []
    message = f"where the zero of a further tool is set, at {place.axial_word} {place.rotary_word}, the skin may be cut"
    advice = "let the machine touch off beside the art, or set the zero on skin that is left and reckon the difference"
    where = Where(x_mm=place.x_mm, angle_deg=place.angle_deg)
    return [Finding(severity=Severity.WARNING, code="touch-off-cut", message=message, where=where, advice=advice)]


def _free(x_range_mm: tuple[float, float], keep_out: Sequence[KeepOut], outer_mm: float) -> list[tuple[float, float]]:
    """The stretches of the blank, clear of its ends and of hardware; all of it where nothing is clear."""
    low, high = x_range_mm
    clear = min(CLEAR_OF_END_MM, 0.5 * (high - low))
    free = whole = [(low + clear, high - clear)]
    for k in keep_out:
        start, stop = k.from_mm - outer_mm, k.to_mm + outer_mm
        cut = [piece for a, b in free for piece in ((a, min(b, start)), (max(a, stop), b))]
        free = [(a, b) for a, b in cut if a < b]
    return free or whole


def _nearest(stretches: Sequence[tuple[float, float]], x_mm: float) -> float:
    """The place nearest to x_mm, rounded to a tenth that lies inside where there is one."""
    place = min((min(max(x_mm, a), b) for a, b in stretches), key=lambda x: abs(x - x_mm))
    tenths = [math.floor(10.0 * place) / 10.0, math.ceil(10.0 * place) / 10.0]
    inside = [x for x in tenths if any(a <= x <= b for a, b in stretches)]
    return min(inside, key=lambda x: abs(x - place), default=place)


def _point(machine: Profile, place: tuple[float, float, float], zero_r_mm: float) -> TouchPoint:
    x, angle, r = place
    turned = angle if machine.mm_per_turn is None else angle / 360.0 * machine.mm_per_turn
    words = []
    for axis, value in ((machine.axial, x), (machine.rotary, turned), (machine.radial, r - zero_r_mm)):
        signed = -value if axis.reversed else value
        words.append(f"{axis.letter}{round(signed, 3) + 0.0:.3f}")
    return TouchPoint(x_mm=x, angle_deg=angle, r_mm=r, axial_word=words[0], rotary_word=words[1], word=words[2])
