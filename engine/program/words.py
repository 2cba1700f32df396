"""Columns of numbers to columns of characters: the vectorised half of the program writer.

Takes whole numbers in units of the last decimal and places their characters on a sheet, one line a row, in cells of
four characters (one 32-bit word: one look-up and one store place up to four). A character that is not printed is NUL
and is dropped in one pass at the end. Fixed decimals, no exponent, no "-0": NISTIR 6556 3.3.2.1 knows digits, sign and
point.
"""

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bools, Ints

__all__ = ["Sheet", "digits_of"]


def _cells(texts: list[bytes]) -> NDArray[np.uint32]:
    return np.frombuffer(b"".join(t.ljust(4, b"\0") for t in texts), "<u4")


_WITH_ZEROS = [b"%03d" % i for i in range(1000)]
_WITHOUT = [b"%d" % i for i in range(1000)]
# Rows 0..999: three digits with their zeros; 1000..1999: leading zeros left out; 2000..2999: the same and a 0 left out
# altogether; 3000: nothing. In _LAST the point follows; from 3001 on the same without a point.
_GROUP = _cells(_WITH_ZEROS + _WITHOUT + [b""] + _WITHOUT[1:] + [b""])
_LAST = np.concatenate([_cells([t + b"." for t in _WITH_ZEROS + _WITHOUT] + [b""] * 1001), _GROUP])
_NOTHING, _NO_POINT, _LEADING, _MAYBE = 3000, 3001, 1000, 2000
# Decimals: 0, 1, 2, 3 or 4 digits with their zeros, one table after the other.
_PART = _cells([b"%0*d" % (k, i) if k else b"" for k in range(5) for i in range(10**k)])
_PART_AT = np.array([0, 1, 11, 111, 1111])
_TENS = 10 ** np.arange(18, dtype=np.int64)


def digits_of(value: int) -> int:
    """Decimal digits of a whole number >= 0; 1 for 0."""
    return len(str(int(value)))


def _divided(value: Ints, by: int) -> tuple[Ints, Ints]:
    high = value // by  # numpy divides by a scalar with vector code, divmod does not
    return high, value - high * by


class Sheet:
    """A block of lines under construction. Words are placed left to right; `cells` cells are provided for at most."""

    def __init__(self, lines: int, cells: int) -> None:
        self.cells = np.zeros((lines, cells), "<u4")
        self.at = 0

    def _put(self, cells: NDArray[np.uint32]) -> None:
        self.cells[:, self.at] = cells
        self.at += 1

    def choice(self, texts: list[str], which: Ints) -> None:
        """Place texts[which] on every line; each text has at most four characters."""
        self._put(_cells([t.encode("ascii") for t in texts]).take(which))

    def number(self, whole: Ints, decimals: int, shown: Bools, width: int) -> None:
        """Place |whole| / 10**decimals with `decimals` fixed decimals; the sign is the caller's, a 0 has none.

        whole : (n,); `width` digits, at least those before the point of the greatest, are provided for.
        """
        before, after = _divided(np.abs(whole), 10**decimals)
        self._before_point(before, width, shown)
        left = decimals
        while left:
            size = min(4, left)
            left -= size
            group, after = _divided(after, 10**left) if left else (after, after)
            self._put(_PART.take(np.where(shown, group + _PART_AT[size], 0)))

    def significant(self, whole: Ints, decimals: Ints, shown: Bools, width: int, most: int) -> None:
        """Place whole / 10**decimals where every line has its own number of decimals, 0 <= decimals <= most.

        whole : (n,) >= 0. A line without decimals prints no point.
        """
        scale = _TENS[decimals]
        before = whole // scale
        after = whole - before * scale
        self._before_point(before, width, shown, no_point=decimals == 0)
        for first in range(0, most, 4):
            size = np.clip(decimals - first, 0, 4)
            group = after
            if most > 4:
                group = after // _TENS[np.maximum(decimals - first - 4, 0)] % _TENS[size]
            self._put(_PART.take(np.where(shown, group + _PART_AT[size], 0)))

    def _before_point(self, value: Ints, width: int, shown: Bools, no_point: Bools | None = None) -> None:
        groups = (width + 2) // 3
        for g in range(groups - 1, -1, -1):
            higher = value // 1000 ** (g + 1) if g < groups - 1 else None
            group = value // 1000**g if g else value
            if higher is not None:
                group = group - 1000 * higher
            open_ = _LEADING if g == 0 else _MAYBE
            row = group + (open_ if higher is None else open_ * (higher == 0))
            row = np.where(shown, row, _NOTHING)
            if g == 0 and no_point is not None:
                row += _NO_POINT * no_point
            self._put((_GROUP if g else _LAST).take(row))

    def text(self) -> bytes:
        """The printed characters in reading order."""
        return self.cells[:, : self.at].tobytes().translate(None, b"\0")
