"""The body of a program: rounded words, one line a block, a comment before each stroke.

Takes a Path in whole units of the last decimal; gives bytes. Motion mode, axis words and, under G94, F are left out
where unchanged, so that a rotary-only block carries no linear word (NISTIR 6556 2.1.2.5 B).
"""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import ProgramError
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Path
from engine.machine import FeedRule, Profile
from engine.program.feeds import MOST_DECIMALS, Feeds
from engine.program.words import Sheet, digits_of

__all__ = ["blocks", "rounded", "with_stroke_comments"]

_TENS = 10 ** np.arange(MOST_DECIMALS + 1, dtype=np.int64)
LINES_AT_A_TIME = 1 << 13  # the sheet of one block stays in the second-level cache


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


def blocks(whole: Ints, moved: Bools, rows: Ints, feeding: Bools, f_words: Feeds, profile: Profile) -> bytes:
    """Text of the blocks that end at `rows`, one line each."""
    n = len(rows)
    f_whole, f_decimals = np.zeros(n, np.int64), np.zeros(n, np.int64)
    f_whole[feeding], f_decimals[feeding] = f_words.whole, f_words.decimals
    say_f = feeding.copy()
    if profile.feed_rule is not FeedRule.INVERSE_TIME:  # 3.5.19: under G93 every feeding line has F
        same = (f_words.whole[1:] == f_words.whole[:-1]) & (f_words.decimals[1:] == f_words.decimals[:-1])
        say_f[np.flatnonzero(feeding)[1:][same]] = False
    say_g = np.ones(n, bool)
    say_g[1:] = feeding[1:] != feeding[:-1]
    if n:
        say_g[0] = bool(feeding[0])  # the header left G0 in force
    width = [digits_of(int(np.abs(whole[k]).max()) // 10**profile.decimals) for k in range(3)]
    f_width = digits_of(int((f_whole // _TENS[f_decimals]).max(initial=0)))
    most = min(int(f_decimals.max(initial=0)), MOST_DECIMALS)
    cells = 3 + sum((w + 2) // 3 + 3 for w in width) + (f_width + 2) // 3 + (most + 3) // 4 + 2
    texts = []
    for first in range(0, n, LINES_AT_A_TIME):
        part = slice(first, min(n, first + LINES_AT_A_TIME))
        row = rows[part]
        sheet = Sheet(len(row), cells)
        before = say_g[part]
        sheet.choice(["", "G0", "G1"], before * (1 + feeding[part]))
        for k, letter in enumerate(profile.letters):
            here, value = moved[k].take(row), whole[k].take(row)
            sheet.choice(["", letter, f"{letter}-", f" {letter}", f" {letter}-"], here * (1 + (value < 0) + 2 * before))
            sheet.number(value, profile.decimals, here, width[k])
            before = before | here
        if say_f[part].any():
            sheet.choice(["", " F"], say_f[part].astype(np.int64))
            sheet.significant(f_whole[part], f_decimals[part], say_f[part], f_width, most)
        sheet.choice(["\n"], np.zeros(len(row), np.int64))
        texts.append(sheet.text())
    return b"".join(texts)


def with_stroke_comments(body: bytes, rows: Ints, path: Path) -> tuple[bytes, Ints, Ints]:
    """The body with `(stroke N)` before each stroke's first block; stroke number and row of each of its lines."""
    stroke = path.stroke[rows]
    opens = np.flatnonzero((stroke > 0) & (np.diff(stroke, prepend=0) != 0))
    line_ends = np.flatnonzero(np.frombuffer(body, np.uint8) == 10)
    starts = np.concatenate([[0], line_ends + 1])[opens].tolist()
    pieces, at = [], 0
    for number, start in zip(stroke[opens].tolist(), starts, strict=True):
        pieces.append(body[at:start])
        pieces.append(b"(stroke %d)\n" % number)
        at = start
    pieces.append(body[at:])
    line_stroke = np.insert(stroke, opens, stroke[opens])
    line_row = np.insert(rows, opens, -1)
    return b"".join(pieces), line_stroke, line_row
