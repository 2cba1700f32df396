"""A shop's own lines stand as they are, but for those after which the program would be another."""

import pytest

from engine.kernel.errors import ProgramError
from engine.machine import Profile

GOOD = [
    "G54",
    "M8",
    "(coolant at 50%) M8",
    "G28 Z0",
    "G43 H1",
    "G53 G0 Z-1",
    "#1=5",
    "; M2 is said later",
    "(M30)",
    "G4 P1",
]


@pytest.mark.parametrize("line", GOOD)
def test_a_line_that_leaves_the_program_alone_stands(line):
    assert Profile(header=("M8", line)).header[1] == line
    assert Profile(footer=(line,)).footer == (line,)


def test_a_footer_may_change_modes_since_nothing_follows():
    assert Profile(footer=("G91", "G28 Z0", "G90")).footer[0] == "G91"


BAD = {
    "M2": "end the program", "m02": "end the program", "M30": "end the program", "%": "end the program",
    "G0 Z5 M 3 0": "end the program", "G92 X0": "G92 shifts", "G92.1": "G92.1 shifts", "g 5 2 X1": "G52 shifts",
    "G10 L2 P1 X0": "G10 shifts", "(stroke 4)": "taken for the program's own", "( Stroke 4)": "taken for",
    "/G0 Z5": "by a switch", " /M8": "by a switch", "x" * 257: "too long",
    "Größe": "printable ASCII", "M8\nG0 Z-5": "printable ASCII",
}  # fmt: skip


@pytest.mark.parametrize("line", BAD)
@pytest.mark.parametrize("which", ["header", "footer"])
def test_a_line_that_would_change_the_program_is_refused_with_its_place(line, which):
    with pytest.raises(ProgramError, match=BAD[line]) as caught:
        Profile(**{which: ("M8", line)})
    assert caught.value.where == f"/machine/{which}/1" and caught.value.hint


def test_a_header_may_start_the_spindle_and_a_footer_may_not():
    assert Profile(header=("M3 S200",)).header
    for line in ("M3", "S200 m03", "M4"):
        with pytest.raises(ProgramError, match="leave the spindle turning"):
            Profile(footer=(line,))


@pytest.mark.parametrize("line", ["G91", "G20", "G94", "G18", "G41 D1", "M8 G95"])
def test_a_header_may_not_change_how_words_are_read(line):
    with pytest.raises(ProgramError, match="changes how the program's words are read"):
        Profile(header=(line,))
