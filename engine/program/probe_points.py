"""Which places a probe touches, in which order, and which it leaves alone.

Takes stations and angles, the guessed skin, the machine and its hardware; gives places as the rounded words say them.
Places over hardware, beside the blank or out of an axis's reach are left out and told. Refuses (ProgramError) when none
is left, when one is said twice, and too many.
"""

from collections.abc import Sequence
from enum import Enum
from itertools import pairwise

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.errors import ProgramError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import KeepOut
from engine.machine import Axis, room_of
from engine.program.guess import Guess
from engine.program.lines import Lines

__all__ = ["Order", "apart", "places_of", "steep_places"]

STEEP_DEG = 60.0  # a ball of the usual sort slides off rather than trips: common practice, no source
MOST_POINTS = 20_000  # two days of touching at ten seconds a point


class Order(Enum):
    """What is gone through first; either way there and back, so that the rotary never winds up."""

    STATION_BY_STATION = "station-by-station"
    ANGLE_BY_ANGLE = "angle-by-angle"


def apart(values: Sequence[float], where: str, turn: float) -> list[float]:
    """The values, rising; ProgramError where they are none, not finite, or one is said twice."""
    found = sorted(float(v) for v in values)
    if not found or not np.isfinite(found).all():
        raise ProgramError("a list of finite numbers is needed", where=where)
    again = sorted(v % turn if turn else v for v in found)
    near = [b for a, b in pairwise(again) if b - a < 1e-6]
    if near or (turn and len(again) > 1 and again[0] + turn - again[-1] < 1e-6):
        raise ProgramError("the same place is asked for twice", where=where, hint="say each once")
    return found


def places_of(
    axial: list[float],
    rotary: list[float],
    guess: Guess,
    ball_mm: float,
    lines: Lines,
    order: Order,
    keep_out: Sequence[KeepOut],
) -> tuple[Floats, list[Finding]]:
    """(k, 2) x mm and degrees in the order of their touches; what was left out."""
    if len(axial) * len(rotary) > MOST_POINTS:
        message = f"{len(axial) * len(rotary):,} points are more than {MOST_POINTS:,}"
        raise ProgramError(message, where="/stations", hint="fewer stations or angles")
    machine, ball = lines.profile, ball_mm
    xs, findings = [], []
    for x in (lines.rounded(x) for x in axial):
        at = [k for k in keep_out if k.from_mm - ball <= x <= k.to_mm + ball]
        if at:
            findings.append(
                _left_out("kept-out", f"station {x:g} mm is left out: the ball comes over {at[0].words}", x)
            )
        elif not guess.x_mm[0] <= x <= guess.x_mm[-1]:
            findings.append(_left_out("beside-the-blank", f"station {x:g} mm is left out: it lies beside the blank", x))
        elif not _reaches(machine.axial, x):
            findings.append(_left_out("out-of-reach", f"station {x:g} mm is left out: the carriage ends before", x))
        else:
            xs.append(x)
    turned = [(a, _in_room(machine.rotary, a, lines)) for a in rotary]
    missed = [a for a, to in turned if to is None]
    for a in missed:
        message = f"angle {a:g} is left out: the rotary does not reach it"
        findings.append(_left_out("out-of-reach", message, None, a))
    angles = sorted(to for _, to in turned if to is not None)
    if not xs or not angles:
        raise ProgramError(
            "no point is left to touch" + (f": {findings[0].message}" if findings else ""),
            where="/stations",
            hint="stations on the blank, clear of hardware and within the machine's limits",
        )
    if order is Order.STATION_BY_STATION:
        places = [(x, a) for k, x in enumerate(xs) for a in angles[:: -1 if k % 2 else 1]]
    else:
        places = [(x, a) for k, a in enumerate(angles) for x in xs[:: -1 if k % 2 else 1]]
    return np.array(places, np.float64), findings


def _reaches(axis: Axis, value: float) -> bool:
    least, greatest = room_of(axis)
    return least <= value <= greatest


def _in_room(axis: Axis, angle_deg: float, lines: Lines) -> float | None:
    """The angle, or the nearest whole turns from it that the axis reaches; None where there are none."""
    least, greatest = room_of(axis)
    turns = 0.0
    if angle_deg < least:
        turns = np.ceil((least - angle_deg) / 360.0)
    elif angle_deg > greatest:
        turns = -np.ceil((angle_deg - greatest) / 360.0)
    to = lines.rounded_deg(angle_deg + 360.0 * turns)
    return to if _reaches(axis, to) else None


def _left_out(code: str, message: str, x_mm: float | None, angle_deg: float | None = None) -> Finding:
    return Finding(
        severity=Severity.WARNING,
        code=code,
        message=message,
        advice="move it, or measure there by hand",
        where=Where(x_mm=x_mm, angle_deg=angle_deg),
    )


def steep_places(places: Floats, guess: Guess, ball_mm: float) -> list[Finding]:
    """`steep-places`: where the guessed skin leans so much, over the ball's width, that the ball may slide."""
    x, angle = places.T
    h = ball_mm
    along = (guess.at(x + h, angle) - guess.at(x - h, angle)) / (2.0 * h)
    round_ = (guess.at(x, angle + 1.0) - guess.at(x, angle - 1.0)) / np.radians(2.0)
    lean = np.degrees(np.arctan(np.hypot(along, round_ / np.maximum(guess.at(x, angle), 1e-3))))
    count, worst = int((lean > STEEP_DEG).sum()), int(lean.argmax())
    if not count:
        return []
    return [
        Finding(
            severity=Severity.WARNING,
            code="steep-places",
            message=f"{count} points lie where the skin leans over {STEEP_DEG:g} degrees, {lean[worst]:.0f} at most",
            advice="the ball may slide there: leave these stations out, or trust them less",
            where=Where(x_mm=float(x[worst]), angle_deg=float(angle[worst])),
        )
    ]
