"""The program that turns a blank from angle to angle in front of a camera and waits at each.

Takes angles and a machine; gives the program and what is to be told. The rotary turns one way only, so that its play is
always taken up on the same side and no angle is overshot; the tool waits out of the picture and the spindle stays off.
Refuses (ProgramError) angles that the rotary does not reach in one sweep, and numbers that are none.
Sources: NISTIR 6556 3.5.4 (G4 waits P seconds), 3.6.1 (M0).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import ProgramError
from engine.kernel.findings import Finding, Severity
from engine.machine import Profile, overrun, room_of
from engine.program.lines import Lines
from engine.program.program import Program

__all__ = ["TurnProgram", "turn_program"]

MOST_ANGLES = 720  # every half degree


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TurnProgram:
    """The program; the angle of the rotary in each photograph, (k,) degrees, as the rounded words say them: whole turns
    apart from those asked where that saves turning back.
    """

    program: Program
    angle_deg: Floats
    time_s: float
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "angle_deg", frozen_floats(self.angle_deg))


def turn_program(
    angles_deg: Sequence[float],
    *,
    profile: Profile,
    park_x_mm: float,
    park_r_mm: float,
    zero_r_mm: float = 0.0,
    dwell_s: float | None = None,
    about: Sequence[tuple[str, str]] = (),
    cautions: Sequence[str] = (),
) -> TurnProgram:
    """A program that turns to each angle, in the order given, and waits there: for the person (M0), or `dwell_s`.

    park_x_mm, park_r_mm : where the tool waits, the second from the axis: over the blank and out of the picture.
    zero_r_mm : the radius at which the radial word is 0.
    """
    named = ((park_x_mm, "/machine/park"), (park_r_mm, "/park_r_mm"), (zero_r_mm, "/machine/touch_off"))
    for value, where in named:
        if not math.isfinite(value):
            raise ProgramError("a finite number is needed", where=where)
    if dwell_s is not None and not 0 < dwell_s < math.inf:
        raise ProgramError("the wait must be above 0 s", where="/wait")
    lines = Lines(profile, zero_r_mm)
    angles, sense = _one_way(angles_deg, profile, lines)
    lines.move("G0", r_mm=lines.rounded_up(park_r_mm))
    lines.move("G0", x_mm=lines.rounded(park_x_mm))
    least, greatest = room_of(profile.rotary)
    before = lines.rounded_deg(min(max(angles[0] - sense * overrun(profile.rotary), least), greatest))
    if before != angles[0]:
        lines.move("G0", angle_deg=before)
    for k, angle in enumerate(angles):
        lines.row = k
        lines.move("G0", angle_deg=angle)
        lines.say(f"photograph {k + 1} of {len(angles)}: angle {angle:g}")
        lines.code("M0" if dwell_s is None else f"G4 P{dwell_s:.3f}")
    seconds = lines.seconds + (0.0 if dwell_s is None else dwell_s * len(angles))
    findings = _findings(angles, sense, profile)
    says = [
        *about,
        *_header(angles, profile, dwell_s, seconds),
        *(("warning", f.message) for f in findings if f.severity is Severity.WARNING),
        *(("caution", text) for text in cautions),
    ]
    return TurnProgram(
        program=lines.program(says), angle_deg=np.array(angles), time_s=seconds, findings=tuple(findings)
    )


def _one_way(angles_deg: Sequence[float], profile: Profile, lines: Lines) -> tuple[list[float], float]:
    """The angles with whole turns added so that the rotary turns one way, the shorter; and which way, 1 or -1."""
    asked = [float(a) for a in angles_deg]
    if not asked or len(asked) > MOST_ANGLES or not np.isfinite(asked).all():
        raise ProgramError(f"1 to {MOST_ANGLES} finite angles are needed", where="/angles_deg")
    if any(abs(math.remainder(b - a, 360.0)) < 1e-6 for a, b in pairwise(asked)):
        raise ProgramError("two photographs in a row at the same angle", where="/angles_deg", hint="say each once")
    least, greatest = room_of(profile.rotary)
    ways = []
    for sense in (1.0, -1.0):
        steps = [sense * ((sense * (b - a)) % 360.0) for a, b in pairwise(asked)]
        way = np.concatenate([asked[:1], asked[0] + np.cumsum(steps)])
        low, high = float(way.min()), float(way.max())
        turns = 0.0
        if low < least:
            turns = math.ceil((least - low) / 360.0 - 1e-9)
        elif high > greatest:
            turns = -math.ceil((high - greatest) / 360.0 - 1e-9)
        moved = [lines.rounded_deg(float(a) + 360.0 * turns) for a in way]
        ways.append((high - low, min(moved) >= least and max(moved) <= greatest, moved, sense))
    open_ways = [way for way in ways if way[1]]
    if not open_ways:
        length = min(way[0] for way in ways)
        raise ProgramError(
            f"the rotary would have to turn {length:g} degrees in one sweep, its room is {least:g} to {greatest:g}",
            where="/angles_deg",
            hint="angles in the order in which the rotary passes them, within its room",
        )
    best = min(open_ways, key=lambda way: way[0])
    return best[2], best[3]


def _findings(angles: list[float], sense: float, profile: Profile) -> list[Finding]:
    found = []
    least, greatest = room_of(profile.rotary)
    away = overrun(profile.rotary)
    if away and not least <= angles[0] - sense * away <= greatest:
        found.append(
            Finding(
                severity=Severity.WARNING,
                code="play-not-taken-up",
                message=f"the rotary's play of {profile.rotary.backlash:g} degrees is not taken up at the first angle: "
                "its limit lies too near",
                advice="begin a little further from the limit",
            )
        )
    sweep = abs(angles[-1] - angles[0])
    if sweep > 360.0:
        found.append(
            Finding(
                severity=Severity.WARNING,
                code="turns-more-than-once",
                message=f"the rotary turns {sweep:g} degrees in all: cables and hoses wind up",
                advice="say the angles in the order in which the rotary passes them",
            )
        )
    return found


def _header(angles: list[float], profile: Profile, dwell_s: float | None, seconds: float) -> list[tuple[str, str]]:
    waits = "M0 until the cycle is started again" if dwell_s is None else f"G4 for {dwell_s:g} s"
    turn = "degrees" if profile.mm_per_turn is None else f"mm, {profile.mm_per_turn:g} a turn"
    moving = f"about {int(seconds // 60)} min {int(seconds % 60):02d} s" + (" and the waits" if dwell_s is None else "")
    return [
        ("program", "turning for photographs: the spindle stays off, the tool waits out of the picture"),
        ("photographs", f"{len(angles)}, angle {angles[0]:g} to {angles[-1]:g}, one way round"),
        ("waits", f"at each, {waits}"),
        ("units", f"mm, {profile.rotary.letter} in {turn}, absolute"),
        ("zero", f"as for the engraving, {profile.rotary.letter} 0 where it was set. Keep it until the job is cut"),
        ("time", moving),
    ]
