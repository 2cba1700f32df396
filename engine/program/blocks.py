"""The body of a program: rounded words, one line a block, a comment before each stroke.

Takes a Path in whole units of the last decimal; gives bytes. Motion mode, axis words and, under G94, F are left out
where unchanged, so that a rotary-only block carries no linear word (NISTIR 6556 2.1.2.5 B).
"""

import numpy as np

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.errors import ProgramError
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Path
from engine.machine import FeedRule, Profile
from engine.program.feeds import Feeds
from engine.program.words import MOST_DIGITS, put_fixed, put_significant, put_text, put_whole

__all__ = ["blocks", "rounded"]

_RAPID, _FEED, _F, _STROKE, _CLOSED = (
    np.frombuffer(word, np.uint8) for word in (b"G0", b"G1", b" F", b"(stroke ", b")\n")
)
_END, _BLANK, _MINUS = b"\n -"
_LONGEST = 2 + 3 * (4 + MOST_DIGITS) + 3 + MOST_DIGITS + 1  # characters of a line: G, three axis words, F


def rounded(path: Path, profile: Profile, zero_r_mm: float) -> tuple[Ints, Floats, Floats]:
    """Words as whole numbers of the last decimal (3, n), the same as floats, and the tip's radius they mean (n,) mm."""
    scale = 10.0**profile.decimals
    turns = path.theta_rad / TURN_RAD
    per_turn = 360.0 if profile.mm_per_turn is None else profile.mm_per_turn
    whole = np.zeros((3, len(path)), np.int64)
    for k, (axis, value) in enumerate(
        ((profile.axial, path.x_mm), (profile.rotary, turns * per_turn), (profile.radial, path.r_mm - zero_r_mm))
    ):
        signed = -value if axis.reversed else value
        exact = np.rint(signed * scale)
        if not np.abs(exact).max() < 1e14:
            raise ProgramError("a word too long to be written exactly", where=f"path row {int(np.abs(exact).argmax())}")
        whole[k] = exact
    words = whole / scale
    radial = -words[2] if profile.radial.reversed else words[2]
    return whole, words, np.maximum(radial + zero_r_mm, 0.0)


def blocks(
    whole: Ints, moved: Bools, rows: Ints, feeding: Bools, f_words: Feeds, path: Path, profile: Profile
) -> tuple[bytes, Ints, Ints]:
    """Text of the blocks that end at `rows`, one line each, with `(stroke N)` on a line before each stroke's first; and
    stroke number and row of each line, -1 for a comment.
    """
    n, stroke = len(rows), path.stroke[rows]
    opens = (stroke > 0) & (np.diff(stroke, prepend=0) != 0)
    f_whole, f_decimals = np.zeros(n, np.int64), np.zeros(n, np.int64)
    f_whole[feeding], f_decimals[feeding] = f_words.whole, f_words.decimals
    say_f = feeding.copy()
    if profile.feed_rule is not FeedRule.INVERSE_TIME:  # 3.5.19: under G93 every feeding line has F
        same = (f_words.whole[1:] == f_words.whole[:-1]) & (f_words.decimals[1:] == f_words.decimals[:-1])
        say_f[np.flatnonzero(feeding)[1:][same]] = False
    say_g = np.ones(n, np.bool_)
    say_g[1:] = feeding[1:] != feeding[:-1]
    if n:
        say_g[0] = bool(feeding[0])  # the header left G0 in force
    letters = np.frombuffer("".join(profile.letters).encode("ascii"), np.uint8)
    room = _LONGEST * n + (len(_STROKE) + MOST_DIGITS + 2) * int(opens.sum())
    sheet = np.zeros(room, np.uint8)
    says = (say_g, say_f, f_whole, f_decimals)
    size = _lines(sheet, (whole, moved, letters, profile.decimals), rows, feeding, says, np.where(opens, stroke, 0))
    opened = np.flatnonzero(opens)
    return sheet[:size].tobytes(), np.insert(stroke, opened, stroke[opened]), np.insert(rows, opened, -1)


@compiled
def _lines(
    sheet: Bytes8,
    words: tuple[Ints, Bools, Bytes8, int],
    rows: Ints,
    feeding: Bools,
    says: tuple[Bools, Bools, Ints, Ints],
    opens: Ints,
) -> int:
    """Fill the sheet; how many characters there are.

    words : whole numbers (3, n), which are said at each row, the axes' letters and the decimals. says : (k,) whether a
    line says G and F, and F. opens : (k,) the number of the stroke that a line opens, 0 for none.
    """
    whole, moved, letters, decimals = words
    say_g, say_f, f_whole, f_decimals = says
    at = 0
    for i in range(len(rows)):
        if opens[i]:
            at = put_whole(sheet, put_text(sheet, at, _STROKE), opens[i])
            at = put_text(sheet, at, _CLOSED)
        begins = at
        if say_g[i]:
            at = put_text(sheet, at, _FEED if feeding[i] else _RAPID)
        for k in range(len(letters)):
            if not moved[k, rows[i]]:
                continue
            if at > begins:
                sheet[at] = _BLANK
                at += 1
            sheet[at] = letters[k]
            at += 1
            value = whole[k, rows[i]]
            if value < 0:
                sheet[at] = _MINUS
                at += 1
            at = put_fixed(sheet, at, abs(value), decimals)
        if say_f[i]:
            at = put_significant(sheet, put_text(sheet, at, _F), f_whole[i], f_decimals[i])
        sheet[at] = _END
        at += 1
    return at
