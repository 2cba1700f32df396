"""The writer: a flat Path and a machine Profile in, the text of an RS274/NGC program out.

Gives `Program`: ASCII text, and which line is which stroke and row. Refuses (ProgramError): numbers too long to be
written exactly. Whether the machine can reach the words is not asked here: the proof reads them back and says where
they leave an axis's range.
Sources: NISTIR 6556 3.3 (lines), 3.3.2.1 (numbers), 3.5 (G words), 3.6 (M words), table 4 (modal groups).
"""

from collections.abc import Sequence

import numpy as np

from engine.kernel.arrays import Bools, Ints
from engine.kernel.values import Kind, Path
from engine.machine import FeedRule, Profile
from engine.program.blocks import blocks, rounded, with_stroke_comments
from engine.program.feeds import feeds
from engine.program.program import Program, check_code, with_header

__all__ = ["write"]


def write(
    path: Path,
    profile: Profile,
    *,
    zero_r_mm: float = 0.0,
    rpm: float = 0.0,
    header: Sequence[tuple[str, str]] = (),
    spindle: bool = True,
) -> Program:
    """The program for `path` on the machine `profile`.

    Parameters
    ----------
    path : the moves; its first row is reached radially first, then along and around, since the start is unknown.
    zero_r_mm : the radius from which the radial word counts: 0 for the axis, the skin's radius at the touch-off point.
    header : (word, text) pairs that the header's comments say, in order. spindle : False for air runs and walks.

    Raises
    ------
    ProgramError : a word too long.

    Notes
    -----
    A row whose words do not change gives no line (`dropped` counts them). Same input, same bytes.
    """
    whole, words, r_mm = rounded(path, profile, zero_r_mm)
    moved = np.ones(whole.shape, np.bool_)  # (3, n): word to be said again
    np.not_equal(whole[:, 1:], whole[:, :-1], out=moved[:, 1:])
    shown: Bools = moved[0] | moved[1] | moved[2]
    shown[0] = False  # row 0 is written by hand
    rows = np.flatnonzero(shown)
    feeding = path.kind[rows] != Kind.TRAVEL
    told = feeds(words, r_mm, rows[feeding], path.feed_mm_min[rows[feeding]], profile)
    start, bottom = _start(profile, rpm, spindle, whole), _end(profile)
    text, line_stroke, line_row = with_stroke_comments(blocks(whole, moved, rows, feeding, told, profile), rows, path)
    body = _text(start) + text + _text(bottom)
    above, below = np.zeros(len(start), np.int64), np.zeros(len(bottom), np.int64)
    bare = Program(
        text=body,
        check_code=check_code(body),
        header_lines=0,
        line_stroke=np.concatenate([above, line_stroke, below]),
        line_row=np.concatenate([above - 1, line_row, below - 1]),
        slowed=int(told.slowed.sum()),
        slowest=float(told.share.min(initial=1.0)),
        dropped=len(path) - 1 - len(rows),
    )
    return with_header(bare, header, longest=profile.longest_line)


def _text(lines: Sequence[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _start(profile: Profile, rpm: float, spindle: bool, whole: Ints) -> list[str]:
    """Modes, the shop's header, up to the first height, over to the first place, spindle."""
    mode = "G93" if profile.feed_rule is FeedRule.INVERSE_TIME else "G94"
    words = [
        f"{letter}{_plain(int(w), profile.decimals)}" for letter, w in zip(profile.letters, whole[:, 0], strict=True)
    ]
    turning = [f"S{rpm:.0f} M3"] + ([f"G4 P{profile.dwell_s:.3f}"] if profile.dwell_s > 0 else [])
    return [
        f"G21 G90 {mode}",
        "G17 G40 G49 G80",
        *profile.header,
        f"G0 {words[2]}",
        f"G0 {words[0]} {words[1]}",
        *(turning if spindle else ["M5"]),
    ]


def _end(profile: Profile) -> list[str]:
    return ["M5", *profile.footer, "M2"]


def _plain(whole: int, decimals: int) -> str:
    sign, size = "-" if whole < 0 else "", abs(whole)
    return f"{sign}{size // 10**decimals}.{size % 10**decimals:0{decimals}d}"
