"""The program: its text, the table that says which line is which, and the code that tells two programs apart."""

from dataclasses import dataclass
from hashlib import sha256

from engine.kernel.arrays import Ints

__all__ = ["Program", "check_code"]

# Crockford's base 32: no letter that is misread for a digit (public alphabet; from memory).
_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def check_code(body: bytes) -> str:
    """Eight characters, `XXXX-XXXX`, of the SHA-256 of a program's body: what a person compares at the machine."""
    bits = int.from_bytes(sha256(body).digest()[:5], "big")
    code = "".join(_ALPHABET[bits >> shift & 31] for shift in range(35, -1, -5))
    return f"{code[:4]}-{code[4:]}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Program:
    """Text and the tables that say which line is which.

    line_stroke : (lines,) stroke number of each line, 0 for none; line i + 1 of the text is entry i.
    line_row : (lines,) row of the Path whose move the line makes, -1 for none. check_code : over all that follows the
    header's comments. slowed : blocks whose F an axis limit held down; slowest : least share of the asked feed among
    them. dropped : rows whose words did not change, which give no line.
    """

    text: bytes
    check_code: str
    line_stroke: Ints
    line_row: Ints
    slowed: int
    slowest: float
    dropped: int

    @property
    def sha256(self) -> str:
        """Of the whole text, hexadecimal."""
        return sha256(self.text).hexdigest()
