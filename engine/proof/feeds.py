"""What the program asks of the axes: their ranges, their speeds, the feed of the tip, the reading of F.

Takes the replay and the machine; gives findings. A feed is the tip's speed over the blank; the asked one comes with the
wanted field. Rapids go as fast as the axes can and are not judged here.
"""

import math

import numpy as np

from engine.blank import Skin, tilt_cos
from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Kind, Tool, Wanted
from engine.machine import FeedRule, Profile
from engine.proof.allowed import cells_at, field_frame
from engine.proof.form import form_of
from engine.proof.replay import Replay
from engine.proof.touching import touching_mm
from engine.proof.where import about_move, more, worst

__all__ = ["judge_feeds", "judge_limits", "judge_mode", "judge_play", "judge_speeds", "judge_turns"]

FEED_GRACE = 0.02
SPEED_GRACE = 1e-5  # F carries five significant digits at least
SINKS_MM = 0.02  # less than that deeper on one move is the tool on its way over a changing slope
MOST_SINKING = 5_000  # moves looked at by the tool's whole form, 0.2 ms each; more are told by the tip alone
WORD_GRACE = 1e-6  # mm or deg: float rounding of a word
SLOW = 0.1  # of the asked feed: slower is taken for a misread F, unless an axis limit holds it down
MANY_TURNS = 3.0
NAMES = ("axial", "rotary", "radial")
UNITS = ("mm", "deg", "mm")


def judge_limits(replay: Replay, machine: Profile) -> list[Finding]:
    """`axis-limit`: words beyond an axis's range."""
    found = []
    for k, axis in enumerate((machine.axial, machine.rotary, machine.radial)):
        word = replay.words[:, k]
        low, high = axis.least if axis.least is not None else -math.inf, axis.greatest
        over = np.maximum(low - word, word - (math.inf if high is None else high))
        bad = over > WORD_GRACE  # NaN, a word not said, is not bad
        if bad.any():
            move, count = worst(bad, over)
            message = (
                f"the {NAMES[k]} axis {axis.letter} is sent to {word[move]:.4g} {UNITS[k]}, "
                f"{over[move]:.4g} {UNITS[k]} beyond its range{more(count)}"
            )
            advice = "move or turn the art, or set the range in the machine's profile"
            found.append(about_move(replay, move, Severity.ERROR, "axis-limit", message, advice))
    return found


def judge_speeds(replay: Replay, machine: Profile) -> list[Finding]:
    """`axis-speed`: blocks whose F asks an axis for more than it can do."""
    found = []
    change = np.abs(replay.end - replay.start)
    change[:, 1] = np.degrees(change[:, 1])
    for k, axis in enumerate((machine.axial, machine.rotary, machine.radial)):
        if axis.rapid_per_min is None:
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            speed = 60.0 * change[:, k] / replay.seconds
        bad = speed > axis.rapid_per_min * (1.0 + SPEED_GRACE)
        if bad.any():
            move, count = worst(bad, speed)
            message = (
                f"F asks the {NAMES[k]} axis {axis.letter} for {speed[move]:.5g} {UNITS[k]}/min, "
                f"it can do {axis.rapid_per_min:.5g}{more(count, 'blocks')}"
            )
            advice = "check the feed rule of the machine's profile"
            found.append(about_move(replay, move, Severity.ERROR, "axis-speed", message, advice))
    return found


def judge_feeds(replay: Replay, machine: Profile, wanted: Wanted, skin: Skin, tool: Tool) -> list[Finding]:
    """`feed-too-fast`, `plunge-too-fast`, `feed-too-slow`: the tip's speed against what the art asks there."""
    found = []
    speed, kind = replay.feed_mm_min(), replay.kind
    feed, plunge = _asked(replay, wanted)
    # Where coarse words leave nothing of a cut but a step or two inwards, that is no plunge.
    rounded = replay.start[:, 2] - replay.end[:, 2] <= 2.0 * 10.0**-machine.decimals + WORD_GRACE
    sinking = _sinking(replay, skin, tool, plunge)
    rules = (
        ((kind == Kind.CUT), speed, "feed-too-fast", feed, "the tip cuts at"),
        ((kind == Kind.PLUNGE) & ~rounded, speed, "plunge-too-fast", plunge, "the tip goes in at"),
        ((kind == Kind.CUT), sinking, "plunge-too-fast", plunge, "while it moves along, the tip sinks at"),
    )
    for which, fast, code, asked, what in rules:
        bad = which & (fast > asked * (1.0 + FEED_GRACE))
        if bad.any():
            move, count = worst(bad, fast)
            message = f"{what} {fast[move]:.5g} mm/min where {asked[move]:.5g} is asked{more(count)}"
            found.append(about_move(replay, move, Severity.ERROR, code, message, _cure(replay, move, code, machine)))
    free = (kind == Kind.CUT) & np.isfinite(speed) & (speed > 0) & (_strain(replay, machine) < 0.9)
    minutes = float((replay.seconds[free] / 60.0).sum())
    if minutes > 0 and float((replay.way_mm[free] / feed[free]).sum()) < SLOW * minutes:
        move = int(np.flatnonzero(free)[0])
        mean = float(replay.way_mm[free].sum()) / minutes
        message = f"the tip cuts at {mean:.3g} mm/min on the whole where {feed[move]:.5g} is asked"
        advice = "check the feed rule: F may be read otherwise than it is meant"
        found.append(about_move(replay, move, Severity.WARNING, "feed-too-slow", message, advice))
    return found


def _cure(replay: Replay, move: int, code: str, machine: Profile) -> str:
    """What helps against a feed too fast: where a step or two of the radial words are all that the tip sinks, those."""
    word = 10.0**-machine.decimals
    sunk = float(replay.start[move, 2] - replay.end[move, 2])
    if code == "plunge-too-fast" and 0.0 < sunk <= 2.0 * word + WORD_GRACE:
        return f"it sinks by steps of its words, {word:g} mm: more decimals, if the controller reads them"
    return "check the feed rule of the machine's profile"


def _asked(replay: Replay, wanted: Wanted) -> tuple[Floats, Floats]:
    """(n,) feed and plunge asked where each move goes: the greatest of the art at its start, middle and end, of all art
    where there is none.
    """
    n = len(replay)
    if wanted.pace is None:
        return np.full(n, wanted.feed_mm_min), np.full(n, wanted.plunge_mm_min)
    frame, (rows, columns) = field_frame(wanted), wanted.pace.shape
    bits = np.zeros(n, np.uint8)
    for share in (0.0, 0.5, 1.0):
        x, theta, _ = (replay.start + share * (replay.end - replay.start)).T
        i, j, on = cells_at(frame, (rows, columns), x, theta)
        bits |= np.where(on, wanted.pace[i, j], 0).astype(np.uint8)
    feeds, plunges = (np.array(column) for column in zip(*wanted.paces, strict=True))
    here = (bits[:, None] >> np.arange(len(feeds), dtype=np.uint8)) & 1 == 1
    here |= ~here.any(axis=1, keepdims=True)
    return np.where(here, feeds, 0.0).max(axis=1), np.where(here, plunges, 0.0).max(axis=1)


def _sinking(replay: Replay, skin: Skin, tool: Tool, plunge: Floats) -> Floats:
    """(n,) mm/min at which cutting moves go deeper, along the normal; 0 where they follow the skin, or rise.

    Told by the tip's own point; where that sinks too fast, by the tool's whole form, which a leaning skin meets beside
    its tip.
    """
    rate = np.zeros(len(replay))
    live = np.flatnonzero(
        replay.known & (replay.kind == Kind.CUT) & (replay.end[:, 2] < replay.start[:, 2]) & (replay.seconds > 0)
    )
    if len(live):
        before, after = (_over(end[live], skin) for end in (replay.start, replay.end))
        sunk = np.where(after < 0, before - after, 0.0)
        rate[live] = np.where(sunk > SINKS_MM, 60.0 * sunk / replay.seconds[live], 0.0)
    form = form_of(tool)
    for move in np.flatnonzero(rate > plunge * (1.0 + FEED_GRACE))[:MOST_SINKING].tolist():
        before, after = (
            place[2] - touching_mm(skin, form, *place[:2]) for place in (replay.start[move], replay.end[move])
        )
        rate[move] = 60.0 * max(before - after, 0.0) / replay.seconds[move] if after < 0 else 0.0
    return rate


def _over(places: Floats, skin: Skin) -> Floats:
    """(n,) height of the tip over the skin along the normal, to first order."""
    x, theta, r = np.ascontiguousarray(places.T)
    x = np.clip(x, *skin.x_range_mm)
    radius = np.maximum(skin.radius(x, theta), WORD_GRACE)
    return (r - radius) * tilt_cos(radius, *skin.slopes(x, theta))


def _strain(replay: Replay, machine: Profile) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """(n,) the greatest share of any axis's top speed that a block asks for; 0 where no limit is known."""
    change = np.abs(replay.end - replay.start)
    change[:, 1] = np.degrees(change[:, 1])
    top = [a.rapid_per_min or math.inf for a in (machine.axial, machine.rotary, machine.radial)]
    with np.errstate(divide="ignore", invalid="ignore"):
        return (60.0 * change / replay.seconds[:, None] / np.array(top)).max(axis=1)


def judge_mode(replay: Replay, machine: Profile) -> list[Finding]:
    """`feed-mode`: F stated in a mode that the machine's profile does not read."""
    fed = ~replay.rapid
    if machine.feed_rule is FeedRule.INVERSE_TIME:
        other, said, severity = fed & ~replay.inverse, "G94", Severity.WARNING
    else:
        other, said, severity = fed & replay.inverse, "G93", Severity.ERROR
    if not other.any():
        return []
    move = int(other.argmax())
    message = f"F stands under {said}, the machine's feed rule is {machine.feed_rule.value}{more(int(other.sum()))}"
    advice = "set the feed rule that the machine's maker states"
    return [about_move(replay, move, severity, "feed-mode", message, advice)]


def judge_play(replay: Replay, machine: Profile) -> list[Finding]:
    """`play`: an axis that has some turns round while it cuts, where nothing can take it up."""
    found = []
    change = np.nan_to_num(replay.end - replay.start)
    for k, axis in enumerate((machine.axial, machine.rotary, machine.radial)):
        moved = np.flatnonzero(change[:, k])
        sense = np.sign(change[moved, k])
        turned = np.flatnonzero(sense[1:] != sense[:-1]) + 1
        bad = moved[turned][replay.kind[moved[turned]] == Kind.CUT]
        if axis.backlash > 0 and len(bad):
            radial = k == 2
            message = (
                f"the {NAMES[k]} axis {axis.letter} turns round while it cuts: its play of "
                f"{axis.backlash:g} {UNITS[k]} shows in the {'depth' if radial else 'lines'}{more(len(bad))}"
            )
            severity = Severity.WARNING if radial else Severity.NOTE
            advice = (
                "take the play out of the axis" if radial else "shorter strokes, or direction uphill, turn round less"
            )
            found.append(about_move(replay, int(bad[0]), severity, "play", message, advice))
    return found


def judge_turns(replay: Replay) -> list[Finding]:
    """`wound-up`: the rotary ends many turns from where it began."""
    theta = replay.theta_rad[np.isfinite(replay.theta_rad)]
    turns = float(theta.max() - theta.min()) / TURN_RAD if len(theta) else 0.0
    if turns <= MANY_TURNS:
        return []
    move = len(replay) - 1
    message = f"the rotary winds through {turns:.1f} turns"
    advice = "keep cables and hoses clear; some machines unwind when they are sent home"
    return [about_move(replay, move, Severity.NOTE, "wound-up", message, advice)]
