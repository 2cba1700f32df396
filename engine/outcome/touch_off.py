"""The touch-off spelt out: what to type for the radial word at which place, and a second place to check it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.machine import Profile, ZZero

__all__ = ["TouchOff", "TouchPoint", "touch_off"]

BESIDE_MM = 3.0  # far enough from the art that a re-zero after a broken tip finds skin that was not cut
CLEAR_OF_END_MM = 1.0


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
) -> TouchOff:
    """The two places. art_x_mm : what the art covers; tip_r(x_mm, theta_rad): tip's radius when the tool touches there.

    The first place is the machine's own `touch_off`, else skin beside the art on its lower side; the second lies on its
    upper side, a quarter turn on, so that a wrong axis, a wrong turn and a wrong diameter all show.
    """
    low, high = skin.x_range_mm
    below = float(np.clip(art_x_mm[0] - BESIDE_MM, low + CLEAR_OF_END_MM, high - CLEAR_OF_END_MM))
    above = float(np.clip(art_x_mm[1] + BESIDE_MM, low + CLEAR_OF_END_MM, high - CLEAR_OF_END_MM))
    angle = float(np.degrees(art_theta_rad))
    x0, a0 = machine.touch_off or (round(below, 1), round(angle, 1))
    x1, a1 = round(above, 1), round(angle + 90.0, 1)
    r0, r1 = tip_r(x0, np.radians(a0)), tip_r(x1, np.radians(a1))
    zero = r0 if machine.z_zero is ZZero.SURFACE else 0.0
    return TouchOff(
        zero_r_mm=zero,
        first=_point(machine, (x0, a0, r0), zero),
        check=_point(machine, (x1, a1, r1), zero),
    )


def _point(machine: Profile, place: tuple[float, float, float], zero_r_mm: float) -> TouchPoint:
    x, angle, r = place
    turned = angle if machine.mm_per_turn is None else angle / 360.0 * machine.mm_per_turn
    words = []
    for axis, value in ((machine.axial, x), (machine.rotary, turned), (machine.radial, r - zero_r_mm)):
        signed = -value if axis.reversed else value
        words.append(f"{axis.letter}{round(signed, 3) + 0.0:.3f}")
    return TouchPoint(x_mm=x, angle_deg=angle, r_mm=r, axial_word=words[0], rotary_word=words[1], word=words[2])
