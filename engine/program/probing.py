"""The program that touches a blank with a probe, point by point, so that the controller's log holds its skin.

Takes stations and angles, a guess of the skin, the probe and the machine; gives the program, the points in the order in
which they are touched, and what is to be told. Refuses (ProgramError) when no point is left, when the axes cannot lift
clear, and numbers that are none.
Touches follow NISTIR 6556 3.5.9: G38.2 moves the radial axis alone, under G94, 0.254 mm or more towards its target.
The language has no way to write its findings down (the parameters #5061 and on hold the last touch only), so the header
asks for the controller's log. No position is said relative to where a touch tripped: a reader does not know it, and
controllers differ in how they come to a stop there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import ProgramError
from engine.kernel.findings import Finding, Severity
from engine.kernel.values import KeepOut
from engine.machine import Profile, ZZero, passed_by
from engine.program.guess import Guess
from engine.program.lines import Lines
from engine.program.probe_points import Order, apart, places_of, steep_places
from engine.program.program import Program

__all__ = ["Order", "Probe", "ProbeProgram", "probe_program"]

LEAST_PROBE_MM = 0.254  # NISTIR 6556 3.5.9.1
FRAGILE_FEED_MM_MIN = 30.0  # common practice, no source
FRAGILE_APPROACH_MM_MIN = 120.0  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """The probe and how it touches. The stem is taken to be no wider than the ball.

    search_mm : how far below the guessed skin it still looks. approach_mm_min : feed of the last way down through air
    and of the first way up. slow_mm_min : feed of a second touch at each point; None: one touch.
    """

    tip_radius_mm: float
    search_mm: float = 2.0
    feed_mm_min: float = 60.0
    approach_mm_min: float = 300.0
    slow_mm_min: float | None = None

    def __post_init__(self) -> None:
        for name in ("tip_radius_mm", "search_mm", "feed_mm_min", "approach_mm_min", "slow_mm_min"):
            value = getattr(self, name)
            if value is not None and not 0 < value < np.inf:
                raise ProgramError(f"{name} must be above 0", where=f"/{name}")

    @property
    def touches(self) -> int:
        """Touches of each point."""
        return 1 if self.slow_mm_min is None else 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProbeProgram:
    """The program and its points, in the order of their touches.

    x_mm, angle_deg, expected_mm : (k,) places as the rounded words say them, and the guessed skin there. zero_r_mm :
    the radius of the ball's lowest place at which the radial word is 0. touches : of each point; the last one counts.
    `program.line_row` holds the point that each line belongs to, from 0.
    """

    program: Program
    x_mm: Floats
    angle_deg: Floats
    expected_mm: Floats
    zero_r_mm: float
    touches: int
    time_s: float
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("x_mm", "angle_deg", "expected_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


def probe_program(
    stations_mm: Sequence[float],
    angles_deg: Sequence[float],
    *,
    guess: Guess,
    probe: Probe,
    profile: Profile,
    order: Order = Order.STATION_BY_STATION,
    keep_out: Sequence[KeepOut] = (),
    zero_r_mm: float | None = None,
    fragile: bool = False,
    about: Sequence[tuple[str, str]] = (),
    cautions: Sequence[str] = (),
) -> ProbeProgram:
    """A program that touches every station at every angle.

    zero_r_mm : the skin's radius at the touch-off place where the machine zeroes there; None: the guess's. fragile :
    the wall is thin or brittle: feeds are held down and it is told. about, cautions : what the header says besides.
    """
    slow = _gentle(probe) if fragile else probe
    axial, rotary = apart(stations_mm, "/stations", 0.0), apart(angles_deg, "/angles", 360.0)
    zero = _zero(profile, guess, zero_r_mm, axial, rotary)
    lines = Lines(profile, zero)
    places, findings = places_of(axial, rotary, guess, slow.tip_radius_mm, lines, order, keep_out)
    if fragile:
        findings.append(_fragile(slow))
    findings += steep_places(places, guess, slow.tip_radius_mm)
    expected = guess.at(places[:, 0], places[:, 1])
    _write(lines, places, expected, guess, slow, keep_out)
    return ProbeProgram(
        program=lines.program(
            [
                *about,
                *_header(places, guess, slow, lines, zero, order),
                *(("warning", f.message) for f in findings if f.severity is Severity.WARNING),
                *(("caution", text) for text in cautions),
            ]
        ),
        x_mm=places[:, 0],
        angle_deg=places[:, 1],
        expected_mm=expected,
        zero_r_mm=zero,
        touches=slow.touches,
        time_s=lines.seconds,
        findings=tuple(findings),
    )


def _gentle(probe: Probe) -> Probe:
    second = None if probe.slow_mm_min is None else min(probe.slow_mm_min, FRAGILE_FEED_MM_MIN)
    return Probe(
        tip_radius_mm=probe.tip_radius_mm,
        search_mm=probe.search_mm,
        feed_mm_min=min(probe.feed_mm_min, FRAGILE_FEED_MM_MIN),
        approach_mm_min=min(probe.approach_mm_min, FRAGILE_APPROACH_MM_MIN),
        slow_mm_min=second,
    )


def _zero(profile: Profile, guess: Guess, said: float | None, axial: list[float], rotary: list[float]) -> float:
    if profile.z_zero is ZZero.AXIS:
        if said:
            raise ProgramError("this machine's radial word counts from the axis", where="/machine/z_zero")
        return 0.0
    x, angle = profile.touch_off or (axial[0], rotary[0])
    zero = float(guess.at(x, angle)) if said is None else said
    if not 0 < zero < np.inf:
        raise ProgramError("the radius at the touch-off place is not above 0", where="/machine/touch_off")
    return zero


def _fragile(probe: Probe) -> Finding:
    return Finding(
        severity=Severity.WARNING,
        code="fragile-blank",
        message=f"thin or brittle: a touch presses on the blank. Probing is held to {probe.feed_mm_min:g} mm/min",
        advice="use a probe that trips lightly, try one point first, or measure by photographs",
    )


def _write(
    lines: Lines, places: Floats, expected: Floats, guess: Guess, probe: Probe, keep_out: Sequence[KeepOut]
) -> None:
    """Up to a height that clears everything, over and down to each point, touch, and up again; at last home."""
    machine = lines.profile
    tops = [k.radius_mm for k in keep_out if k.radius_mm is not None]
    safe = lines.rounded_up(max([guess.greatest_mm, *tops]) + machine.clearance_mm)
    lines.move("G0", r_mm=safe)
    before: tuple[float, float] | None = None
    for k, ((x, angle), r) in enumerate(zip(places.tolist(), expected.tolist(), strict=True)):
        lines.row = k
        lines.say(f"point {k + 1} of {len(places)}: x {x:g}, angle {angle:g}")
        by = tuple(
            float(passed_by(axis, to, 1.0)) if before is None or to < before[i] else to
            for i, (axis, to) in enumerate(((machine.axial, x), (machine.rotary, angle)))
        )
        by = (lines.rounded(by[0]), lines.rounded_deg(by[1]))
        over = safe
        if before is not None:
            over = min(_over(guess, probe, machine, keep_out, (before, by, (x, angle)), safe), safe)
            over = lines.rounded_up(over)
            lines.move("G0", r_mm=over)
        if by != (x, angle):  # so that the play of the axes is always taken up on the same side
            lines.move("G0", x_mm=by[0], angle_deg=by[1])
        lines.move("G0", x_mm=x, angle_deg=angle)
        _touch(lines, guess, probe, (x, angle, r), over)
        before = (x, angle)
    lines.row = -1
    lines.move("G0", r_mm=safe + (lines.rounded(max(machine.park.lift_mm, 0.0)) if machine.park else 0.0))
    if machine.park:
        lines.move("G0", x_mm=lines.rounded(machine.park.x_mm), angle_deg=lines.rounded_deg(machine.park.angle_deg))


def _over(
    guess: Guess,
    probe: Probe,
    machine: Profile,
    keep_out: Sequence[KeepOut],
    way: Sequence[tuple[float, float]],
    safe: float,
) -> float:
    """The height at which the ball passes by those places, the clearance over all that may stand there."""
    xs, angles = zip(*way, strict=True)
    ball = probe.tip_radius_mm
    height = guess.highest_mm((min(xs), max(xs)), (min(angles), max(angles)), ball) + machine.clearance_mm
    for k in keep_out:
        if min(xs) - ball <= k.to_mm and max(xs) + ball >= k.from_mm:
            height = max(height, safe if k.radius_mm is None else k.radius_mm + machine.clearance_mm)
    return height


def _touch(lines: Lines, guess: Guess, probe: Probe, place: tuple[float, float, float], over: float) -> None:
    """Down, touch and up to where the last way down began; a second touch sets out from there again."""
    x, angle, expected = place
    machine = lines.profile
    under = guess.highest_mm((x, x), (angle, angle), probe.tip_radius_mm)
    target = lines.rounded_r(max(expected - probe.search_mm, 0.0))
    least = target + LEAST_PROBE_MM + 10.0**-machine.decimals
    start = lines.rounded_up(max(under + machine.approach_mm, least))
    clear = lines.rounded_up(max(under + machine.clearance_mm, start))
    top = machine.radial.rapid_per_min or np.inf
    down = min(probe.approach_mm_min, top)
    if clear < over:
        lines.move("G0", r_mm=clear)
    lines.move("G1", r_mm=start, feed_mm_min=down)
    feeds = [probe.feed_mm_min] + ([] if probe.slow_mm_min is None else [probe.slow_mm_min])
    for feed in feeds:
        lines.move("G38.2", r_mm=target, feed_mm_min=min(feed, top), trips_at_mm=expected)
        lines.move("G1", r_mm=start, feed_mm_min=down)


def _header(
    places: Floats, guess: Guess, probe: Probe, lines: Lines, zero: float, order: Order
) -> list[tuple[str, str]]:
    machine = lines.profile
    z, x, a = machine.radial.letter, machine.axial.letter, machine.rotary.letter
    at_x, at_a = machine.touch_off or (float(places[0, 0]), float(places[0, 1]))
    touch_off = f"ball on the skin at x {at_x:g}, angle {at_a:g}, there {zero:.3f} mm from the axis: set {z} 0"
    surface = machine.z_zero is ZZero.SURFACE
    counts = "on the skin at the touch-off place" if surface else "on the axis of rotation"
    feed = f"{probe.feed_mm_min:g} mm/min" + (
        "" if probe.slow_mm_min is None else f", each point again at {probe.slow_mm_min:g} mm/min: the second counts"
    )
    turn = "degrees" if machine.mm_per_turn is None else f"mm, {machine.mm_per_turn:g} a turn"
    seconds = lines.seconds
    return [
        ("program", "probing: the spindle stays off, the probe stands in its place"),
        ("before", "switch on the controller's log of probe positions: the skin is read from that file"),
        ("before", "check that the probe trips by hand, and that the touch-off used this ball"),
        ("points", f"{len(places)}, {order.value}, each touched {'once' if probe.touches == 1 else 'twice'}"),
        ("probe", f"ball of radius {probe.tip_radius_mm:g} mm, stem no wider"),
        ("looks", f"{probe.search_mm:g} mm below the guessed skin. A touch that finds nothing stops the program"),
        (
            "room",
            f"the skin may stand {guess.doubt_mm:g} mm over the guess. Higher, the way down runs into it",
        ),
        ("feed", feed),
        ("units", f"mm, {a} in {turn}, minutes, absolute, F in mm/min"),
        ("zero", f"{x} at the datum face, {z} 0 with the ball's lowest place {counts}"),
        *([("touch off", touch_off)] if surface else []),
        ("extent", _extent(places)),
        ("time", f"about {int(seconds // 60)} min {int(seconds % 60):02d} s"),
    ]


def _extent(places: Floats) -> str:
    low, high = places.min(axis=0), places.max(axis=0)
    return f"x {low[0]:g} to {high[0]:g} mm, angle {low[1]:g} to {high[1]:g}"
