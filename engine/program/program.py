"""The program: its text, the table that says which line is which, and the code that tells two programs apart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256

import numpy as np

from engine.kernel.arrays import Ints, frozen_ints
from engine.program.comments import COMMENT_WIDTH, comment

__all__ = ["Program", "check_code", "with_header"]

NARROWEST = 40  # characters: the codes that are read back stand whole on their lines
# Crockford's base 32: no letter that is misread for a digit (public alphabet; from memory).
_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def check_code(body: bytes) -> str:
    """Eight characters, `XXXX-XXXX`, of the SHA-256 of a program's body: what a person compares at the machine."""
    return _shortened(sha256(body).hexdigest())


def _shortened(digest: str) -> str:
    bits = int(digest[:10], 16)  # five bytes
    code = "".join(_ALPHABET[bits >> shift & 31] for shift in range(35, -1, -5))
    return f"{code[:4]}-{code[4:]}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Program:
    """Text and the tables that say which line is which.

    line_stroke : (lines,) stroke number of each line, 0 for none; line i + 1 of the text is entry i.
    line_row : (lines,) row of the Path whose move the line makes, -1 for none. header_lines : comments before the body.
    body_sha256 : of what stands under the header, hexadecimal. slowed : blocks whose F an axis limit held down;
    slowest : least share of the asked feed among them. dropped : rows whose words did not change, which give no line.
    """

    text: bytes
    body_sha256: str
    header_lines: int
    line_stroke: Ints
    line_row: Ints
    slowed: int
    slowest: float
    dropped: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "line_stroke", frozen_ints(self.line_stroke))
        object.__setattr__(self, "line_row", frozen_ints(self.line_row))

    @property
    def sha256(self) -> str:
        """Of the whole text, hexadecimal."""
        return sha256(self.text).hexdigest()

    @property
    def check_code(self) -> str:
        """The short form of the body's SHA-256 that a person compares at the machine."""
        return _shortened(self.body_sha256)


def with_header(program: Program, header: Sequence[tuple[str, str]], *, longest: int | None = None) -> Program:
    """The same body under the comments that (word, text) pairs, the body's SHA-256 and the check code make, in place of
    those it has. longest : characters of a line that the controller reads, where that is known.
    """
    width = COMMENT_WIDTH if longest is None else max(longest, NARROWEST)
    held = program.header_lines
    body = program.text.split(b"\n", held)[held]
    codes = ("sha-256", program.body_sha256), ("check code", program.check_code)
    says = [line for word, said in (*header, *codes) for line in comment(f"{word}: {said}", width)]
    above = np.zeros(len(says), np.int64)
    return replace(
        program,
        text="".join(f"{line}\n" for line in says).encode("ascii") + body,
        header_lines=len(says),
        line_stroke=np.concatenate([above, program.line_stroke[held:]]),
        line_row=np.concatenate([above - 1, program.line_row[held:]]),
    )
