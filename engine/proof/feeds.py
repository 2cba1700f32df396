"""What the program asks of the axes: their ranges, their speeds, the feed of the tip, the reading of F.

Takes the replay and the machine; gives findings. A feed is the tip's speed over the blank; the asked one comes with the
wanted field. Rapids go as fast as the axes can and are not judged here.
"""

import math

import numpy as np

from engine.kernel.findings import Finding, Severity
from engine.kernel.values import Kind, Wanted
from engine.machine import FeedRule, Profile
from engine.proof.replay import TURN, Replay
from engine.proof.where import about_move, more, worst

__all__ = ["judge_feeds", "judge_limits", "judge_mode", "judge_play", "judge_speeds", "judge_turns"]

FEED_GRACE = 0.02
SPEED_GRACE = 1e-5  # F carries five significant digits (CONTRACT 4)
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


def judge_feeds(replay: Replay, machine: Profile, wanted: Wanted) -> list[Finding]:
    """`feed-too-fast`, `plunge-too-fast`, `feed-too-slow`: the tip's speed against what the job asks."""
    found = []
    feed, kind = replay.feed_mm_min(), replay.kind
    # Where coarse words leave nothing of a cut but a step or two inwards, that is no plunge.
    rounded = replay.start[:, 2] - replay.end[:, 2] <= 2.0 * 10.0**-machine.decimals + WORD_GRACE
    rules = (
        (Kind.CUT, "feed-too-fast", wanted.feed_mm_min, "the tip cuts at"),
        (Kind.PLUNGE, "plunge-too-fast", wanted.plunge_mm_min, "the tip goes in at"),
    )
    for which, code, asked, what in rules:
        bad = (kind == which) & (feed > asked * (1.0 + FEED_GRACE)) & ~(rounded & (kind == Kind.PLUNGE))
        if bad.any():
            move, count = worst(bad, feed)
            message = f"{what} {feed[move]:.5g} mm/min where {asked:.5g} is asked{more(count)}"
            advice = "check the feed rule of the machine's profile"
            found.append(about_move(replay, move, Severity.ERROR, code, message, advice))
    free = (kind == Kind.CUT) & np.isfinite(feed) & (feed > 0) & (_strain(replay, machine) < 0.9)
    minutes = float((replay.seconds[free] / 60.0).sum())
    mean = float(replay.way_mm[free].sum()) / minutes if minutes > 0 else wanted.feed_mm_min
    if mean < SLOW * wanted.feed_mm_min:
        move = int(np.flatnonzero(free)[0])
        message = f"the tip cuts at {mean:.3g} mm/min on the whole where {wanted.feed_mm_min:.5g} is asked"
        advice = "check the feed rule: F may be read otherwise than it is meant"
        found.append(about_move(replay, move, Severity.WARNING, "feed-too-slow", message, advice))
    return found


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
    turns = float(theta.max() - theta.min()) / TURN if len(theta) else 0.0
    if turns <= MANY_TURNS:
        return []
    move = len(replay) - 1
    message = f"the rotary winds through {turns:.1f} turns"
    advice = "keep cables and hoses clear; some machines unwind when they are sent home"
    return [about_move(replay, move, Severity.NOTE, "wound-up", message, advice)]
