"""A controller's log of touches, read against the program that asked for them.

Takes the log's bytes, the points of the program and what is known of the machine; gives where the ball's centre stood
at each, and what is to be told. Tolerant of whatever else a log holds; strict about the touches: as many as points and
in their order, or BlankError with the first place where the two part.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints, locked
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import INCH_MM
from engine.measure.extent import extent_told
from engine.measure.measured import Readings
from engine.measure.probing.forms import Touches, find_touches
from engine.measure.probing.frame import MachineWords, columns_of

__all__ = ["ProbeLog", "read_log"]

SAME_MM, SAME_DEG = 0.1, 0.2  # a touch and its point: more than controllers round, less than points lie apart
TWICE_MM = 0.5  # two touches of one point differ by less, or the first one slipped
_UNIT_MM = {"mm": 1.0, "inch": INCH_MM}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProbeLog:
    """What a log says.

    centres : where the ball's centre stood, one a point that was found, in the order of the points. point : (k,) which
    point each belongs to. missing : points where nothing was found. form : the form that the log has, in words.
    """

    centres: Readings
    point: Ints
    missing: Ints
    form: str
    findings: tuple[Finding, ...]


def read_log(
    data: bytes,
    *,
    profile: MachineWords,
    tip_radius_mm: float,
    unit: Literal["mm", "inch"],
    points: tuple[Floats, Floats] | None = None,
    touches: int = 1,
    zero_r_mm: float = 0.0,
    origin: Sequence[float] = (0.0, 0.0, 0.0),
    sigma_mm: float = 0.0,
) -> ProbeLog:
    """The touches of a log, on the blank.

    points : (x_mm, angle_deg), (n,) each, in the program's order; None: any number of touches, taken as they come.
    touches : of each point; the last one counts. zero_r_mm : the radius of the ball's lowest place at which the radial
    word is 0. origin : what the axial, rotary and radial words of the log read at the program's zero, in mm and the
    rotary's unit: 0 where positions are logged as the program counts them. sigma_mm : of a touch, 0 where not known.

    Notes
    -----
    The ball's centre stands tip_radius_mm over its lowest place, which is what the radial word tells. It does not lie
    over the place that the ball touched where the skin leans: `contacts` or `tip_corrected` say which that was.
    """
    zero = _numbers(tip_radius_mm, zero_r_mm, origin, sigma_mm)
    if unit not in _UNIT_MM:
        raise BlankError(f"{unit!r} is no unit", where="/unit", hint="mm or inch")
    found = find_touches(data)
    x, angle, tip = _on_blank(found, profile, _UNIT_MM[unit], zero, zero_r_mm)
    _refuse_one_place(x, angle, tip)
    findings = _noise(found)
    if points is not None:
        _match(found, (x, angle), points, touches, unit)
    elif touches < 1 or len(x) % touches:
        raise BlankError(f"{len(x)} touches are not {touches} a point", where="/log", hint="say how many each has")
    findings += _apart(found, (x, angle, tip), touches)
    last = np.arange(touches - 1, len(x), touches)
    good = found.ok[last]
    at_x, at_angle = (x[last], angle[last]) if points is None else (np.asarray(p, np.float64) for p in points)
    findings += [_nothing(k, at_x[k], at_angle[k], int(found.line[last[k]])) for k in np.flatnonzero(~good).tolist()]
    if not good.any():
        raise BlankError("no touch of the log found anything", where="/log", hint="look at the probe and its cable")
    kept = last[good]
    if points is None:  # a radius over a stated zero says nothing of the unit
        widest = 0.0 if zero_r_mm else 2.0 * float(tip[kept].max())
        findings += extent_told(max(float(np.ptp(x[kept])), widest), of="log", pointer="/unit")
    _refuse_beyond_axis(tip[kept], found.line[kept])
    centres = Readings(
        x_mm=x[kept],
        theta_rad=np.radians(angle[kept]),
        radius_mm=tip[kept] + tip_radius_mm,
        sigma_mm=np.full(len(kept), sigma_mm),
    )
    return ProbeLog(
        centres=centres,
        point=locked(np.flatnonzero(good).astype(np.int64)),
        missing=locked(np.flatnonzero(~good).astype(np.int64)),
        form=found.form,
        findings=tuple(findings),
    )


def _refuse_one_place(x: Floats, angle: Floats, tip: Floats) -> None:
    if len(x) > 1 and np.ptp(x) == np.ptp(angle) == np.ptp(tip) == 0.0:
        message = f"all {len(x)} touches of the log are at one place"
        raise BlankError(message, where="/log", hint="log the place at which the probe trips, not a fixed one")


def _refuse_beyond_axis(tip: Floats, line: Ints) -> None:
    """BlankError where a tip (k,) lies at the axis or beyond it; line : (k,) of the log."""
    if not (tip > 0).all():
        raise BlankError(
            f"the touch in line {int(line[int(tip.argmin())])} lies at {tip.min():.3f} mm from the axis or beyond it",
            where="/log",
            hint="check the zero of the radial word, and whether the log counts from the machine's own zero",
        )


def _numbers(tip_radius_mm: float, zero_r_mm: float, origin: Sequence[float], sigma_mm: float) -> Floats:
    if not 0 <= tip_radius_mm < math.inf:
        raise BlankError("the ball's radius is no length", where="/tip_radius_mm", hint="half of its diameter")
    if not (math.isfinite(zero_r_mm) and zero_r_mm >= 0):
        raise BlankError("the radius at the radial zero is no length", where="/zero_r_mm", hint="measure it there")
    if not 0 <= sigma_mm < math.inf:
        raise BlankError("the error of a touch is no length", where="/sigma_mm", hint="0 where it is not known")
    zero = np.asarray(origin, np.float64)
    if zero.shape != (3,) or not np.isfinite(zero).all():
        raise BlankError("the origin is no place: axial, rotary and radial words are needed", where="/origin")
    return zero


def _on_blank(
    found: Touches, profile: MachineWords, unit_mm: float, origin: Floats, zero_r_mm: float
) -> tuple[Floats, Floats, Floats]:
    """X mm, degrees, and the radius of the ball's lowest place, of every touch."""
    if found.named is None:
        x, angle, word = columns_of(found.values, profile, unit_mm, origin)
        return x, angle, word + zero_r_mm
    named = found.named
    own = {"mm": 1.0, "in": INCH_MM, "": unit_mm}
    x = found.values[:, 0] * own[named.axial[1]]
    if not named.on_blank:
        x = (x - origin[0]) * (-1.0 if profile.axial.reversed else 1.0)
    angle = found.values[:, 1]
    if named.rotary[1]:
        angle = np.degrees(angle) if named.rotary[1] == "rad" else angle
    elif profile.mm_per_turn is not None:
        angle = angle * unit_mm
    if named.rotary[0] == "a":
        per = 360.0 / profile.mm_per_turn if profile.mm_per_turn is not None and not named.rotary[1] else 1.0
        angle = (angle - origin[1]) * (-per if profile.rotary.reversed else per)
    radial = found.values[:, 2] * own[named.radial[1]]
    if named.radial[0] == "radius":
        return x, angle, radial
    word = radial - origin[2]
    return x, angle, (-word if profile.radial.reversed else word) + zero_r_mm


def _off(x: Floats, angle: Floats, px: Floats, pa: Floats) -> Bools:
    """Where touches and points are not the same place; angles whole turns apart are the same."""
    turned = np.abs(np.mod(angle - pa + 180.0, 360.0) - 180.0)
    return np.asarray((np.abs(x - px) > SAME_MM) | (turned > SAME_DEG))


def _match(
    found: Touches, logged: tuple[Floats, Floats], points: tuple[Floats, Floats], touches: int, unit: str
) -> None:
    """BlankError unless the touches are those of the points, in order."""
    px, pa = (np.repeat(np.asarray(p, np.float64), touches) for p in points)
    if px.shape != pa.shape or px.ndim != 1 or not len(px):
        raise BlankError("the program's points are no two lists of one length", where="/points")
    x, angle = logged
    both = min(len(x), len(px))
    off = _off(x[:both], angle[:both], px[:both], pa[:both])
    if len(x) == len(px) and not off.any():
        return
    count = f"the log has {len(x)} touches, the program {len(px)}"
    if off.any():
        k = int(off.argmax())
        where = f"touch {k + 1} (line {found.line[k]}) is at x {x[k]:.3f}, angle {angle[k]:.3f}, the program's "
        where += f"{_words(k, touches)} at x {px[k]:g}, angle {pa[k]:g}"
        why, hint = _reason(x, angle, px, pa, k, unit)
    elif len(x) > len(px):
        k = both
        where = f"touch {k + 1} (line {found.line[k]}) comes after the program's last point"
        why, hint = "more follows than was asked for", "keep the touches of one run alone"
    else:
        k = both
        where = f"it ends before {_words(k, touches)}, at x {px[k]:g}, angle {pa[k]:g}"
        why, hint = "the rest is missing", "run the program to its end, or write one for the points that are missing"
    raise BlankError(f"{count}; {where}: {why}", where="/log", hint=hint)


def _words(k: int, touches: int) -> str:
    return f"point {k // touches + 1}" + (f" (touch {k % touches + 1} of {touches})" if touches > 1 else "")


def _reason(x: Floats, angle: Floats, px: Floats, pa: Floats, k: int, unit: str) -> tuple[str, str]:
    """Why touch k is not point k, and what to do."""

    def at(touch: int, point: int) -> bool:
        within = 0 <= touch < len(x) and 0 <= point < len(px)
        return within and not bool(_off(x[touch], angle[touch], px[point], pa[point]))

    both = min(len(x), len(px))
    if unit == "mm" and k < both and not _off(x[:both] * INCH_MM, angle[:both], px[:both], pa[:both]).any():
        return "the log is in inches", "say so (unit inch)"
    if unit == "inch" and not _off(x[:both] / INCH_MM, angle[:both], px[:both], pa[:both]).any():
        return "the log is in mm", "say so (unit mm)"
    if not _off(x[:both], -angle[:both], px[:both], pa[:both]).any():
        return "the rotary counts the other way round", "say so in the machine (reversed), or mend it there"
    if k == 0 and both > 1:
        away_x = float(np.median(x[:both] - px[:both]))
        away_a = float(np.median(np.mod(angle[:both] - pa[:both] + 180.0, 360.0) - 180.0))
        if not _off(x[:both] - away_x, angle[:both] - away_a, px[:both], pa[:both]).any():
            return (
                f"all of it is shifted by {away_x:.3f} mm and {away_a:.3f} degrees",
                "the log counts from the machine's own zero: say where the program's zero is in it (origin)",
            )
    if at(k, k + 1) and at(k + 1, k):
        return "two touches have changed places", "keep the log's own order"
    if at(k, k + 1):
        return "that point is missing", "add its line, or probe again"
    if at(k, k - 1):
        return "the touch before it stands there twice", "take one of them out"
    return "it belongs to no point near it", "is this the log of this program?"


def _apart(found: Touches, logged: tuple[Floats, Floats, Floats], touches: int) -> list[Finding]:
    """`touches-differ`: points whose touches do not agree."""
    if touches < 2:
        return []
    x, angle, tip = logged
    spread = np.ptp(tip.reshape(-1, touches), axis=1)
    both = found.ok.reshape(-1, touches).all(axis=1)
    wide = np.flatnonzero(both & (spread > TWICE_MM))
    if not len(wide):
        return []
    worst = int(wide[spread[wide].argmax()])
    return [
        Finding(
            severity=Severity.WARNING,
            code="touches-differ",
            message=f"at {len(wide)} points the touches differ by over {TWICE_MM:g} mm, {spread[worst]:.2f} at most",
            advice="look for a loose blank or probe; the last touch counts",
            where=Where(x_mm=float(x[worst * touches]), angle_deg=float(angle[worst * touches])),
        )
    ]


def _nothing(k: int, x_mm: float, angle_deg: float, line: int) -> Finding:
    return Finding(
        severity=Severity.WARNING,
        code="nothing-found",
        message=f"at point {k + 1} (x {x_mm:g} mm, angle {angle_deg:g}) the probe found nothing, as line {line} says",
        advice="the skin is filled in there; probe the point again with a longer way down",
        where=Where(x_mm=float(x_mm), angle_deg=float(angle_deg)),
    )


def _noise(found: Touches) -> list[Finding]:
    """`other-lines`, and `alarms-in-log` and `unread-lines`, which may have cost a touch."""
    told = []
    rest = {kind: count for kind, count in found.noise.items() if count}
    for kind, code, advice in (
        ("alarms and errors", "alarms-in-log", "read them: was the program stopped and started again?"),
        ("reports that cannot be read", "unread-lines", "were they cut or mixed up on the line?"),
        ("rows that cannot be read", "unread-lines", "mend the cells that are no numbers"),
    ):
        if count := rest.pop(kind, 0):
            message = f"the log holds {count} {kind}"
            told.append(Finding(severity=Severity.WARNING, code=code, message=message, advice=advice))
    if rest:
        says = ", ".join(f"{count} {kind}" for kind, count in rest.items())
        message = f"beside {len(found)} touches the log holds {says}; they were passed over"
        told.append(Finding(severity=Severity.NOTE, code="other-lines", message=message))
    return told
