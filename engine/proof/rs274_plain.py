"""Reader, room 3 of 4: many plain lines at once. Bytes of whole lines in; which are plain, and their words, out.

A plain line is `G1 X1.25 A-3. ..` as most lines of any program are: G, F and axis words in either case, blanks before
words or none, no more than eight digits before the point and seven after, G 0 or 1, an axis word at least, no word
twice; a line number may stand first. A line `(stroke N)` is plain too. Every other line is left for the exact path, so
nothing here ever decides that a line is wrong. Numbers are whole numbers below 2**53 over a power of ten: the same
double as float() gives.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.compiled import compiled
from engine.proof.rs274_lines import LONGEST

__all__ = ["Plain", "columns_of", "scan"]

_LETTERS = "GF"  # before the axes; columns of `Plain.value`
_G, _F, _AXES = 0, 1, 2
_NUMBER, _NONE = 254, 255  # what else a character may be in a table: N, or no letter of a plain line
_BEFORE, _AFTER = 8, 7  # most digits before the point and after it
_NUMBERED = 5  # most digits of a line number, 3.3.1
_STROKE = np.frombuffer(b"(stroke ", np.uint8)
_MOST_OF_STROKE = 8  # digits
_TENS = 10.0 ** np.arange(_AFTER + 1)
_END, _TAB, _BLANK, _PLUS, _MINUS, _POINT, _ZERO, _NINE, _OPENS, _SHUTS = b"\n\t +-.09()"
_LOWER = 32  # the bit that makes a letter lower-case


def columns_of(axes: str) -> Bytes8:
    """(256,) which column of `Plain.value` a character opens; only G, F, N and the machine's own axis letters do."""
    table = np.full(256, _NONE, np.uint8)
    for k, letter in enumerate(_LETTERS + axes):
        table[[ord(letter), ord(letter.lower())]] = k
    table[[ord("N"), ord("n")]] = _NUMBER
    return table


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


def scan(chunk: bytes, table: Bytes8, axes: str) -> Plain:
    """Words of a chunk that ends with a line end; table : `columns_of`. Lines are counted from 0 within the chunk."""
    lines = chunk.count(b"\n")
    value = np.full((lines + 1, _AXES + len(axes)), np.nan)  # one more: a line that is not plain leaves its words there
    line, stroke, odd = np.zeros(lines, np.int64), np.zeros((2, lines), np.int64), np.zeros(lines, np.int64)
    blocks, strokes, others = _scan(np.frombuffer(chunk, np.uint8), table, value, line, stroke, odd)
    return Plain(line[:blocks], value[:blocks], stroke[0, :strokes], stroke[1, :strokes], odd[:others])


@compiled
def _scan(text: Bytes8, table: Bytes8, value: Floats, line: Ints, stroke: Ints, odd: Ints) -> tuple[int, int, int]:
    """Fill the columns of `Plain`, stroke (2, m) its comments; how many blocks, comments and odd lines there are."""
    blocks = strokes = others = 0
    first = number = 0
    while first < len(text):
        plain, end = _words(text, first, table, value, blocks)
        while text[end] != _END:
            end += 1
        comment = _stroke(text, first, end) if text[first] == _OPENS else -1
        if comment >= 0:
            stroke[0, strokes], stroke[1, strokes] = number, comment
            strokes += 1
        elif plain and end - first <= LONGEST:
            line[blocks] = number
            blocks += 1
        elif end > first:
            value[blocks] = np.nan
            odd[others] = number
            others += 1
        first, number = end + 1, number + 1
    return blocks, strokes, others


@compiled
def _words(text: Bytes8, first: int, table: Bytes8, value: Floats, row: int) -> tuple[bool, int]:
    """Fill a row of value with the words of the line that begins at `first`; whether it is plain, and where to read on.

    Digits are read in place, and not by a function: a call counts the holders of `text`, which takes as long as a word.
    """
    at, letter, goes = first, text[first], False  # whether an axis is told to go anywhere
    while letter != _END:
        begins = at == first
        while letter in (_BLANK, _TAB):
            at += 1
            letter = text[at]
        column = table[letter]
        if column == _NONE:
            return False, at
        at += 1
        letter = text[at]
        minus = letter == _MINUS
        signed = minus or letter == _PLUS
        at += signed
        letter = text[at]
        whole, starts = 0, at
        while _ZERO <= letter <= _NINE:
            whole, at = whole * 10 + (letter - _ZERO), at + 1
            letter = text[at]
        before, after, pointed = at - starts, 0, letter == _POINT
        if pointed:
            starts = at = at + 1
            letter = text[at]
            while _ZERO <= letter <= _NINE:
                whole, at = whole * 10 + (letter - _ZERO), at + 1
                letter = text[at]
            after = at - starts
        if column == _NUMBER:
            if signed or pointed or not 0 < before <= _NUMBERED or not begins:
                return False, at
            continue
        if before > _BEFORE or after > _AFTER or before + after == 0 or not np.isnan(value[row, column]):
            return False, at
        size = whole / _TENS[after]
        value[row, column] = -size if minus else size
        goes = goes or column >= _AXES
    known = np.isnan(value[row, _G]) or value[row, _G] == 0.0 or value[row, _G] == 1.0
    return goes and known and not value[row, _F] < 0.0, at


@compiled
def _digits(text: Bytes8, at: int) -> tuple[int, int]:
    """The whole number that begins at `at`, good up to 18 digits, and how many digits it has."""
    number = count = 0
    while _ZERO <= text[at + count] <= _NINE:
        number = number * 10 + text[at + count] - _ZERO
        count += 1
    return number, count


@compiled
def _stroke(text: Bytes8, first: int, end: int) -> int:
    """The number of a line that is exactly `(stroke N)`, -1 for any other."""
    digits = end - first - len(_STROKE) - 1
    if not 0 < digits <= _MOST_OF_STROKE or text[end - 1] != _SHUTS:
        return -1
    for k in range(len(_STROKE)):
        letter = 0 < k < len(_STROKE) - 1
        if (text[first + k] | _LOWER if letter else text[first + k]) != _STROKE[k]:
            return -1
    number, count = _digits(text, first + len(_STROKE))
    return number if count == digits else -1
