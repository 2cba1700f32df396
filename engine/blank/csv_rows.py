"""The rows of a CSV table from its bytes: headings, and every row that holds anything.

Takes UTF-8 text, with or without a byte order mark; gives cells as text. Refuses (BlankError) what is too large, is no
text and no table; what the columns mean is the caller's business.
"""

import csv
from io import StringIO
from itertools import islice
from typing import Literal

from engine.kernel.errors import BlankError

__all__ = ["MOST_BYTES", "MOST_ROWS", "rows_of"]

_Row = tuple[int, list[str]]

MOST_BYTES = 5 << 20  # of as many rows as are taken, 40 bytes each, and some to spare
MOST_ROWS = 100_000  # 500 stations at 200 angles, finer than any probe; read in a second or two


def rows_of(data: bytes, *, where: str, marks: Literal[",", ",;\t"] = ",") -> tuple[list[str], list[_Row], str]:
    """(headings, rows with their numbers from 2, the mark between cells: that of `marks` which the headings hold most).

    where : the pointer that an error names.
    """

    def fault(message: str, hint: str) -> BlankError:
        return BlankError(message, where=where, hint=hint)

    if len(data) > MOST_BYTES:
        raise fault("the table is too large", f"at most {MOST_BYTES >> 20} MiB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        raise fault("the table is not UTF-8 text", "save it as CSV, UTF-8") from exc
    first = text.split("\n", 1)[0]
    mark = max(marks, key=first.count)  # of equals the first
    try:
        lines = csv.reader(StringIO(text), delimiter=mark)
        head = [cell.strip() for cell in next(lines, [])]
        filled = ((number, row) for number, row in enumerate(lines, 2) if any(cell.strip() for cell in row))
        rows = list(islice(filled, MOST_ROWS + 1))
    except csv.Error as exc:
        hint = "comma-separated text" if marks == "," else "text with commas, semicolons or tabs"
        raise fault("the table cannot be read as CSV", hint) from exc
    if len(rows) > MOST_ROWS:
        raise fault("the table has too many rows", f"at most {MOST_ROWS} rows")
    return head, rows, mark
