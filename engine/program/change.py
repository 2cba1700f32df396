"""The lines that stop for another tool, and those from which a program, or what follows a change, sets out.

Takes the profile and what is to be said; gives lines. The spindle is stopped before a hand or the changer comes near,
and coolant that the shop's own header turned on with it; after M6 the spindle stands (NISTIR 6556 3.6.3), and M0 waits
until the cycle is started again (3.6.1). What comes after the stop takes nothing for granted: modes are said again, and
the place, radial axis first, since the axes were moved by hand to set the new tool's zero.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from engine.machine import FeedRule, Profile, ToolChange
from engine.program.comments import COMMENT_WIDTH, comment
from engine.program.program import NARROWEST

__all__ = ["Change", "changing", "setting_out"]

_COMMENT = re.compile(r"\([^)]*\)?|;.*")
_COOLANT = re.compile(r"M0*([789])(?![\d.])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How a further tool is come to. rpm : the spindle's speed with it. says : what the comments before the stop say,
    where Z is set again above all.
    """

    rpm: float = 0.0
    says: tuple[str, ...] = ()


def changing(profile: Profile, change: Change, number: int) -> list[str]:
    """The lines that stop for tool `number`, from 1."""
    width = COMMENT_WIDTH if profile.longest_line is None else max(profile.longest_line, NARROWEST)
    said = [line for text in change.says for line in comment(text, width)]
    fetch = f"T{number} M6" if profile.tool_change is ToolChange.CHANGER else f"T{number}"
    shown = f"(MSG, fit tool {number}, set {profile.radial.letter} again)"  # shown to the operator: 3.3.5
    return ["M5", *(["M9"] if _coolant(profile) else []), *said, shown, fetch, "M0"]


def setting_out(profile: Profile, words: Sequence[str], rpm: float, *, spindle: bool, again: bool = False) -> list[str]:
    """Modes, up to the first height, over to the first place, spindle. words : axial, rotary, radial. again : after a
    change, where the shop's header has been run already.
    """
    mode = "G93" if profile.feed_rule is FeedRule.INVERSE_TIME else "G94"
    turning = [f"S{rpm:.0f} M3"] + ([f"G4 P{profile.dwell_s:.3f}"] if profile.dwell_s > 0 else [])
    return [
        f"G21 G90 {mode}",
        "G17 G40 G49 G80",
        *(() if again else profile.header),
        f"G0 {words[2]}",
        f"G0 {words[0]} {words[1]}",
        *(_coolant(profile) if again else ()),
        *(turning if spindle else ["M5"]),
    ]


def _coolant(profile: Profile) -> list[str]:
    """The words by which the shop's header leaves coolant running; none where it leaves it off."""
    on: list[str] = []
    for code in _COOLANT.findall("\n".join(_COMMENT.sub("", line).replace(" ", "") for line in profile.header)):
        on = [] if code == "9" else [*on, f"M{code}"]
    return list(dict.fromkeys(on))
