"""Reader, room 3 of 4: many plain lines at once. Bytes of whole lines in; which are plain, and their words, out.

A plain line is `G1 X1.25 A-3. ..` as most lines of any program are: G, F and axis words in either case, blanks before
words or none, no more than eight digits before the point and seven after, G 0 or 1, an axis word at least, no word
twice; a line number may stand first. A line `(stroke N)` is plain too. Every other line is left for the exact path, so
nothing here ever decides that a line is wrong. Numbers are whole numbers below 2**53 over a power of ten: the same
double as float() gives.
Source of the digit folding: the usual eight digits in a 64-bit word (three multiply-shift steps), checked in tests.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.proof.rs274_lines import LONGEST

__all__ = ["Plain", "classes", "scan"]

Words64 = NDArray[np.uint64]
_BLANK, _END, _LETTER, _DIGIT, _POINT, _SIGN, _VOID, _OTHER = range(8)
_NONE, _BAD, _STOP, _DOT, _OPEN, _TURN = range(6)  # what a pair of neighbours means; _TURN: one stops, one opens
_WELL = {
    (_END, _LETTER): _OPEN,
    (_BLANK, _LETTER): _OPEN,
    (_LETTER, _DIGIT): _NONE,
    (_LETTER, _SIGN): _NONE,
    (_SIGN, _DIGIT): _NONE,
    (_DIGIT, _DIGIT): _NONE,
    (_LETTER, _POINT): _DOT,
    (_SIGN, _POINT): _DOT,
    (_DIGIT, _POINT): _DOT,
    (_POINT, _DIGIT): _NONE,
    (_DIGIT, _BLANK): _STOP,
    (_DIGIT, _END): _STOP,
    (_DIGIT, _LETTER): _TURN,
    (_POINT, _BLANK): _STOP,
    (_POINT, _END): _STOP,
    (_POINT, _LETTER): _TURN,
    (_END, _BLANK): _NONE,
    (_BLANK, _BLANK): _NONE,
    (_END, _VOID): _NONE,
    (_VOID, _VOID): _NONE,
    (_VOID, _END): _NONE,
}
_PAIRS = bytes(_WELL.get((k // 8, k % 8), _BAD) if k < 64 else _BAD for k in range(256))
_STROKE = np.frombuffer(b"(stroke ", "<u8")[0]
_LOWER = np.frombuffer(b"\0      \0", "<u8")[0]  # the bit of a blank makes a letter lower-case
_UPPER = np.uint8(0xDF)
_TENS = 10.0 ** np.arange(9)
_TENS_WHOLE = 10 ** np.arange(9, dtype=np.uint64)
_EIGHT = np.uint64(8)


def classes(axes: str) -> bytes:
    """Translation table from characters to classes; only G, F, N and the machine's own axis letters are letters."""
    table = bytearray([_OTHER] * 256)
    letters = "GFN" + axes
    kinds = (
        (" \t", _BLANK),
        ("\n", _END),
        (letters + letters.lower(), _LETTER),
        ("0123456789", _DIGIT),
        (".", _POINT),
        ("+-", _SIGN),
    )
    for chars, kind in kinds:
        for char in chars:
            table[ord(char)] = kind
    return bytes(table)


@dataclass(frozen=True, slots=True, eq=False)
class Plain:
    """Of one chunk of m lines. line : (b,) rising index of the plain blocks; value : (b, 2 + axes) G, F and axis words,
    NaN where not said; stroke_line, stroke : comment lines `(stroke N)`; odd : (o,) lines left for the exact path.
    """

    line: Ints
    value: Floats
    stroke_line: Ints
    stroke: Ints
    odd: Ints


def scan(chunk: bytes, table: bytes, axes: str) -> Plain:
    """Words of a chunk that ends with a line end. Lines are counted from 0 within the chunk."""
    size = len(chunk)
    room = np.zeros(size + 32 - size % 8, np.uint8)  # 8 before: the number before a point may reach back
    room[7] = 10
    room[8 : 8 + size] = np.frombuffer(chunk, np.uint8)
    eights = room.view("<u8")
    kind = np.frombuffer(b"\1" + chunk.translate(table), np.uint8)
    text = room[8 : 8 + size]
    ends = np.flatnonzero(text == 10)
    starts = np.concatenate([np.zeros(1, np.int64), ends[:-1] + 1])
    kind, stroke_line, stroke = _stroke_comments(text, kind, eights, starts, ends)
    pair = np.frombuffer(((kind[:-1] << 3) | kind[1:]).tobytes().translate(_PAIRS), np.uint8)
    bad = ends - starts > LONGEST
    wrong = np.flatnonzero(pair == _BAD)
    # An empty line is a pair (end, end): neither plain nor a matter for anyone.
    wrong = wrong[~((kind[wrong] == _END) & (kind[wrong + 1] == _END))]
    bad[np.searchsorted(ends, wrong)] = True
    opened, stop = (np.flatnonzero((pair == mark) | (pair == _TURN)) for mark in (_OPEN, _STOP))
    dot = np.flatnonzero(pair == _DOT)
    if bad.any():
        opened, stop, dot = (p[~bad[np.searchsorted(ends, p)]] for p in (opened, stop, dot))
    last = text[stop] == 10
    block = np.cumsum(last) - last  # which block (line with words) a word is of
    block_line = np.searchsorted(ends, stop[last])
    value, odd_word = _numbers(room, eights, opened, stop, dot)
    letter = text[opened] & _UPPER
    columns, odd_block = _columns(letter, value, block, len(block_line), axes)
    odd_block[block[odd_word]] = True
    odd_block[block[_no_line_number(text, letter, opened, stop, block)]] = True
    bad[block_line[odd_block]] = True
    return Plain(block_line[~odd_block], columns[~odd_block], stroke_line, stroke, np.flatnonzero(bad))


def _columns(letter: Bytes8, value: Floats, block: Ints, blocks: int, axes: str) -> tuple[Floats, NDArray[np.bool_]]:
    """(blocks, 2 + axes) values by letter, and which blocks say more than a plain line may."""
    columns = np.full((blocks, 2 + len(axes)), np.nan)
    odd = np.zeros(blocks, np.bool_)
    for k, char in enumerate(b"GF" + axes.encode()):
        mine = np.flatnonzero(letter == char)
        where = block[mine]
        odd[where[1:][where[1:] == where[:-1]]] = True
        columns[where, k] = value[mine]
    g = columns[:, 0]
    odd |= ~(np.isnan(g) | (g == 0) | (g == 1)) | np.isnan(columns[:, 2:]).all(axis=1)
    odd |= columns[:, 1] < 0
    return columns, odd


def _no_line_number(text: Bytes8, letter: Bytes8, opened: Ints, stop: Ints, block: Ints) -> Ints:
    """The N words that do not stand first, or are anything but one to five digits."""
    said = np.flatnonzero(letter == ord("N"))
    if not len(said):
        return said
    size = stop[said] - opened[said] - 1
    odd = (size > 5) | ((said > 0) & (block[said] == block[said - 1]))
    for k in range(1, 6):
        char = text[np.minimum(opened[said] + k, len(text) - 1)]
        odd |= (k <= size) & ((char < 48) | (char > 57))
    return said[odd]


def _numbers(room: Bytes8, eights: Words64, opened: Ints, stop: Ints, dot: Ints) -> tuple[Floats, Ints]:
    """Values of the words that open at `opened` and stop before `stop`, and the indices of those not for here."""
    sign = room[opened + 9]
    minus = sign == 45
    signed = minus | (sign == 43)
    point = stop.copy()
    owner = np.searchsorted(stop, dot)
    point[owner] = dot
    twice = owner[1:][owner[1:] == owner[:-1]]
    before = point - opened - 1 - signed
    after = np.maximum(stop - point - 1, 0)
    odd = np.flatnonzero((before > 8) | (after > 7) | (before + after > 15) | (before + after < 1))
    whole = _fold(_load(eights, point), 8 - np.minimum(before, 8), before_point=True)
    part = _fold(_load(eights, point + 9), 8 - np.minimum(after, 8), before_point=False)
    after = np.minimum(after, 8)
    value = (whole * _TENS_WHOLE[after] + part).astype(np.float64) / _TENS[after]
    np.negative(value, out=value, where=minus)
    return value, np.concatenate([odd, twice])


def _load(eights: Words64, at: Ints) -> Words64:
    """Eight bytes from byte `at` of the room, first byte lowest, out of two aligned words."""
    word, shift = at >> 3, ((at & 7) << 3).astype(np.uint64)
    # A shift by all 64 bits is undefined: the second word goes up in two steps.
    return (eights[word] >> shift) | ((eights[word + 1] << _EIGHT) << (np.uint64(56) - shift))


def _fold(x: Words64, spare: Ints, *, before_point: bool) -> Words64:
    """The number that 8 - spare digits make: the last of eight bytes (before the point) or the first (after it)."""
    # Eight spare bytes would shift by all 64 bits, which is undefined: such words are emptied instead.
    some = spare < 8
    shift = (np.where(some, spare, 0) << 3).astype(np.uint64)
    x = np.where(some, x & np.uint64(0x0F0F0F0F0F0F0F0F), np.uint64(0))
    x = (x >> shift) << shift if before_point else x << shift
    x = (x * np.uint64(2561)) >> np.uint64(8)
    x = ((x & np.uint64(0x00FF00FF00FF00FF)) * np.uint64(6553601)) >> np.uint64(16)
    return ((x & np.uint64(0x0000FFFF0000FFFF)) * np.uint64(42949672960001)) >> np.uint64(32)


def _stroke_comments(
    text: Bytes8, kind: Bytes8, eights: Words64, starts: Ints, ends: Ints
) -> tuple[Bytes8, Ints, Ints]:
    """Lines that are exactly `(stroke N)`, N of 1 to 8 digits: their bytes become void; their lines and numbers."""
    line = np.flatnonzero(text[np.minimum(starts, len(text) - 1)] == 40)
    if not len(line):
        return kind, line, line
    first, size = starts[line], ends[line] - starts[line]
    fits = ((_load(eights, first + 8) | _LOWER) == _STROKE) & (size >= 10) & (size <= 17)
    line, first, size = line[fits], first[fits], size[fits]
    digits = size - 9
    good = text[first + size - 1] == 41
    for k in range(8):
        char = text[np.minimum(first + 8 + k, len(text) - 1)]
        good &= (k >= digits) | ((char >= 48) & (char <= 57))
    line, first, size, digits = line[good], first[good], size[good], digits[good]
    number = _fold(_load(eights, first + 16), 8 - digits, before_point=False)
    kind = kind.copy()
    for k in range(17):
        kind[1 + first[size > k] + k] = _VOID
    return kind, line, number.astype(np.int64)
