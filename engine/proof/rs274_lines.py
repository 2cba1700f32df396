"""Reader, room 1 of 4: the exact grammar of one line. Text of a line in, its words and comments with columns out.

Shares no code with the writer. Refuses (`ReadError`, line and column counted from 1): characters that are no word,
malformed numbers, repeated words, two words of one modal group, a fifth M word, 257 characters, comments that do not
close or that nest, expressions, parameters and O words (this reader follows programs that state every number).
Comments after a semicolon, which many controllers take, are refused too: the standard has none, so a controller that
keeps to it would stop there.
Source: NISTIR 6556 3.3 to 3.3.5, tables 3 and 4, appendix E.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.kernel.errors import ProgramError

__all__ = ["LONGEST", "Line", "ReadError", "parse"]

LONGEST = 256  # characters of a line, 3.3
MOST_M_WORDS = 4  # 3.3.5
WHOLE_WITHIN = 0.0001  # 3.3.2.1: a whole number may differ by this much
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_NO_BLANKS = {ord(" "): None, ord("\t"): None}
_STRAY = {
    ";": "the standard's comments stand in ( )",
    ",": "write a decimal point, not a comma",
    "E": "write the number out, the standard has no exponents",
    "%": "a % stands alone on its line",
    "/": "the block delete stands first on its line",
}
_LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")  # table 3, N apart
_G_GROUPS: tuple[tuple[int, tuple[float, ...]], ...] = (
    (0, (4, 10, 28, 30, 53, 92, 92.1, 92.2, 92.3)),
    (1, (0, 1, 2, 3, 38.2, 80, 81, 82, 83, 84, 85, 86, 87, 88, 89)),
    (2, (17, 18, 19)),
    (3, (90, 91)),
    (5, (93, 94)),
    (6, (20, 21)),
    (7, (40, 41, 42)),
    (8, (43, 49)),
    (10, (98, 99)),
    (12, (54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3)),
    (13, (61, 61.1, 64)),
)
_M_GROUPS: tuple[tuple[int, tuple[float, ...]], ...] = (
    (4, (0, 1, 2, 30, 60)),
    (6, (6,)),
    (7, (3, 4, 5)),
    (8, (7, 8, 9)),
    (9, (48, 49)),
)
G_GROUP = {code: group for group, codes in _G_GROUPS for code in codes}
M_GROUP = {code: group for group, codes in _M_GROUPS for code in codes}


class ReadError(ProgramError):
    """The program breaks the standard or asks for what this reader does not follow. line, column: from 1."""

    def __init__(self, line: int, column: int, message: str, *, code: str = "unreadable-line") -> None:
        super().__init__(message, where=f"line {line}, column {column}")
        self.line = line
        self.column = column
        self.code = code


@dataclass(frozen=True, slots=True)
class Line:
    """One line: G and M codes, the other words by letter, comments. columns : of each word, by letter (for G and M the
    first) and for G and M by code as well, as in `G38.2`.
    """

    g: tuple[float, ...]
    m: tuple[float, ...]
    words: Mapping[str, float]
    comments: tuple[str, ...]
    columns: Mapping[str, int]
    deleted: bool


def parse(text: str, number: int) -> Line:
    """The words of one line (without its line end). Order of words has no meaning (3.3.6)."""
    if len(text) > LONGEST:
        raise ReadError(number, LONGEST + 1, f"{len(text)} characters; the standard allows {LONGEST}: break the line")
    squeezed, columns, comments = _without_comments(text, number)
    deleted = squeezed[:1] == "/"  # block delete (3.2.2)
    at = int(deleted)
    g: list[float] = []
    m: list[float] = []
    words: dict[str, float] = {}
    where: dict[str, int] = {}
    while at < len(squeezed):
        letter, column = squeezed[at], columns[at]
        if letter == "N":
            at = _line_number(squeezed, at, columns, number, first=int(deleted))
            continue
        value, at = _word(squeezed, at, columns, number)
        if letter == "G":
            g.append(_code(value, G_GROUP, g, "G", number, column))
            where[f"G{g[-1]:g}"] = column
        elif letter == "M":
            if len(m) == MOST_M_WORDS:
                raise ReadError(number, column, "more than four M words; put them on two lines")
            m.append(_code(value, M_GROUP, m, "M", number, column))
            where[f"M{m[-1]:g}"] = column
        elif letter in words:
            raise ReadError(number, column, f"the word {letter} stands twice; keep one, or make two lines of it")
        else:
            words[letter] = value
        where.setdefault(letter, column)
    return Line(tuple(g), tuple(m), words, comments, where, deleted)


def _word(squeezed: str, at: int, columns: Sequence[int], number: int) -> tuple[float, int]:
    """The number of the word that begins at `at`, and where the next word begins."""
    letter, column = squeezed[at], columns[at]
    if letter == "O":
        raise ReadError(number, column, "O words are not in the standard and are not followed; write the lines out")
    if letter in "[]#" or squeezed[at + 1 : at + 2] in ("[", "#"):
        raise ReadError(number, column, "expressions and parameters are not followed; state the number")
    if letter not in _LETTERS:
        advice = _STRAY.get(letter, "take it out, or put it in ( )")
        raise ReadError(number, column, f"{letter!r} begins no word; {advice}")
    found = _NUMBER.match(squeezed, at + 1)
    if not found:
        raise ReadError(number, column, f"{letter} has no number; state it, or take the letter out")
    if squeezed[found.end() : found.end() + 1] == ".":
        raise ReadError(number, columns[found.end()], "a number has one point at most; take one out")
    return float(found.group()), found.end()


def _without_comments(text: str, number: int) -> tuple[str, Sequence[int], tuple[str, ...]]:
    """What stands outside comments, upper-case and without blanks; the column of each character; the comments."""
    if text.isascii() and "(" not in text and ")" not in text:
        columns = [column for column, char in enumerate(text, 1) if char not in " \t"]
        return text.translate(_NO_BLANKS).upper(), columns, ()
    return _between_comments(text, number)


def _between_comments(text: str, number: int) -> tuple[str, Sequence[int], tuple[str, ...]]:
    kept: list[str] = []
    columns: list[int] = []
    comments: list[str] = []
    opened = 0
    for column, char in enumerate(text, 1):
        if opened:
            if char == "(":
                raise ReadError(number, column, "a comment within a comment; take the inner ( ) away")
            if char == ")":
                comments.append(text[opened : column - 1])
                opened = 0
        elif char == "(":
            opened = column
        elif char == ")":
            raise ReadError(number, column, "a comment closes that never opened; take the ) away")
        elif char not in " \t":  # 3.3: white space outside comments means nothing
            kept.append(char.upper() if char.isascii() else char)
            columns.append(column)
    if opened:
        raise ReadError(number, opened, "the comment does not close on its line; add the )")
    return "".join(kept), columns, tuple(comments)


def _line_number(squeezed: str, at: int, columns: Sequence[int], number: int, *, first: int) -> int:
    """Where the word after the N word at `at` begins."""
    if at != first:
        raise ReadError(number, columns[at], "a line number stands first on its line; move it there")
    digits = re.match(r"[0-9]+", squeezed[at + 1 :])
    if not digits or len(digits.group()) > 5:  # 3.3.1
        raise ReadError(number, columns[at], "N takes one to five digits and no sign; mend it or leave it out")
    end = at + 1 + len(digits.group())
    if squeezed[end : end + 1] == ".":
        raise ReadError(number, columns[end], "N takes a whole number; mend it or leave it out")
    return end


def _code(
    value: float, groups: Mapping[float, int], said: Sequence[float], letter: str, number: int, column: int
) -> float:
    """The code that a G or M number means, if no word said before on the line is of its modal group (3.3.5)."""
    code = round(value * 10) / 10 if abs(value) < 1000 else value
    if abs(value - code) > WHOLE_WITHIN or code not in groups:
        raise ReadError(number, column, f"{letter}{value:g} is not a code of the standard; take it out")
    for other in said:
        if groups[other] == groups[code]:
            message = f"{letter}{other:g} and {letter}{code:g} exclude each other on one line; put them on two"
            raise ReadError(number, column, message)
    return code
