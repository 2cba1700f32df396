"""What a shop's own lines may not do to the program they stand in.

Takes the lines of a profile's header or footer; refuses (ProgramError, with the line's pointer) those after which the
program would not be the one that was planned. Anything else is the shop's own affair: the proof says where it cannot
follow a line. A work offset that the shop chooses (G54 to G59.3) or a tool length (G43) is the shop's to zero by: such
a line is told, not refused. Sources: NISTIR 6556 3.3 (lines), 3.4 (comments), table 5 and 3.5 (G words), 3.6.1 (M2,
M30), 3.2.2 (block delete). G50 to G52 and G68 shift, scale or turn on controllers beyond it: common practice, no
source.
"""

import re
from collections.abc import Sequence

from engine.kernel.errors import ProgramError

__all__ = ["refuse_shop_lines"]

LONGEST_LINE = 256  # NISTIR 6556 3.3
_COMMENT = re.compile(r"\([^)]*\)?|;.*")
_WORD = re.compile(r"([A-Z])([-+]?\d*\.?\d*)")
_ENDS = {"M2", "M30"}
_STARTS = {"M3", "M4"}
_SHIFTS = {"G10", "G50", "G51", "G52", "G68", "G92", "G92.1", "G92.2", "G92.3"}
_MODES = {"G18", "G19", "G20", "G41", "G42", "G91", "G93", "G94", "G95"}


def refuse_shop_lines(lines: Sequence[str], which: str) -> None:
    """Refuse lines of the `which`, header or footer, after which the program is not the one that was planned: ends of
    it, shifts of its zero, changes of its modes, a spindle left turning, lines that a switch leaves out.
    """
    for k, line in enumerate(lines):
        reason = _reason(line, which)
        if reason is not None:
            raise ProgramError(reason[0], where=f"/machine/{which}/{k}", hint=reason[1])


def _reason(line: str, which: str) -> tuple[str, str] | None:
    """Why a line cannot stand, and what to do; None where it can."""
    if len(line) > LONGEST_LINE or not line.isascii() or not line.isprintable():
        return "too long, or not all printable ASCII", f"at most {LONGEST_LINE} printable ASCII characters"
    if re.search(r"\(\s*stroke\b", line, re.IGNORECASE):
        return "a comment (stroke ...) would be taken for the program's own", "begin the comment with another word"
    said = _words(line)
    if line.lstrip().startswith("/"):
        return "a line behind a / runs or not by a switch of the controller", "take the / away, or the line"
    if "%" in _COMMENT.sub("", line) or said & _ENDS:
        return "this line would end the program", "leave it out: the program ends with M2 after the footer"
    if shifts := said & _SHIFTS:
        return f"{min(shifts)} shifts or scales the program's zero", "set the zero at the machine, by the touch-off"
    if which == "footer" and (starts := said & _STARTS):
        return f"{min(starts)} would leave the spindle turning", "leave it out: the program stops the spindle"
    if which == "header" and (modes := said & _MODES):
        return f"{min(modes)} changes how the program's words are read", "the program states its own modes"
    return None


def _words(line: str) -> set[str]:
    """The G and M words of a line, comments left out, without leading zeros: {"G0", "G92.1", "M30"}."""
    plain = re.sub(r"\s", "", _COMMENT.sub("", line)).upper()
    found = ((letter, number) for letter, number in _WORD.findall(plain) if letter in "GM" and number.strip("+-."))
    return {f"{letter}{float(number):g}" for letter, number in found}
