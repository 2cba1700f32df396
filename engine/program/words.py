"""Numbers as characters: what the program writer puts down, one after the other.

Takes whole numbers in units of the last decimal and places their characters at a place of a sheet of bytes; gives the
place after them. Fixed decimals, no exponent, no "-0": NISTIR 6556 3.3.2.1 knows digits, sign and point.
"""

import numpy as np

from engine.kernel.arrays import Bytes8
from engine.kernel.compiled import compiled

__all__ = ["MOST_DIGITS", "put_fixed", "put_significant", "put_text", "put_whole"]

MOST_DIGITS = 19  # of any whole number here
_POINT, _ZERO = b".0"
_TENS = 10 ** np.arange(MOST_DIGITS, dtype=np.int64)


@compiled
def put_text(sheet: Bytes8, at: int, text: Bytes8) -> int:
    """The characters as they are."""
    for k in range(len(text)):
        sheet[at + k] = text[k]
    return at + len(text)


@compiled
def put_whole(sheet: Bytes8, at: int, value: int) -> int:
    """The digits of a whole number of 0 or more."""
    size = 1
    while size < MOST_DIGITS and value >= _TENS[size]:
        size += 1
    return _put_digits(sheet, at, value, size)


@compiled
def put_fixed(sheet: Bytes8, at: int, value: int, decimals: int) -> int:
    """The value / 10**decimals, 0 or more, with all its decimals and its point."""
    size = decimals + 1
    while size < MOST_DIGITS and value >= _TENS[size]:
        size += 1
    end = at + size + 1
    for k in range(end - 1, end - 1 - decimals, -1):
        rest = value // 10
        sheet[k] = _ZERO + value - 10 * rest
        value = rest
    sheet[end - 1 - decimals] = _POINT
    _put_digits(sheet, at, value, size - decimals)
    return end


@compiled
def put_significant(sheet: Bytes8, at: int, value: int, decimals: int) -> int:
    """The same; without decimals no point either."""
    return put_fixed(sheet, at, value, decimals) if decimals else put_whole(sheet, at, value)


@compiled
def _put_digits(sheet: Bytes8, at: int, value: int, size: int) -> int:
    """`size` digits, those before the number's own zeros."""
    for k in range(size - 1, -1, -1):
        rest = value // 10
        sheet[at + k] = _ZERO + value - 10 * rest
        value = rest
    return at + size
