"""A small reader of emitted programs for the tests: word by word, from the standard's own rules, plain Python.

Knows what our programs hold (G0 G1 G4 G17 G21 G40 G49 G80 G90 G93 G94, M0 M2 M3 M5 M6, S, F, P, T, axis words) and
refuses everything else. Source: NISTIR 6556 2.1.2.5, 3.3, 3.5.19, 3.8 (table 8: the order of execution on a line).
"""

import math
import re
from dataclasses import dataclass, field

WORD = re.compile(r"([A-Z])(-?\d+(?:\.\d*)?)")
STROKE = re.compile(r"\(stroke (\d+)\)")
MODES = {17, 21, 40, 49, 80, 90}


@dataclass
class Move:
    """One straight move in the machine's own words; `start` holds NaN for axes whose place is not known yet."""

    line: int
    start: dict
    end: dict
    rapid: bool
    said: set
    feed: float | None
    minutes: float
    stroke: int
    spindle: float


@dataclass
class Reading:
    moves: list = field(default_factory=list)
    strokes: list = field(default_factory=list)  # numbers of the stroke comments, in the text's order
    comments: list = field(default_factory=list)
    modes: set = field(default_factory=set)
    ended: bool = False


def read_back(text, letters, *, all_axes=False, linear="XYZ"):
    """Every move of a program. linear : letters whose words count as mm; all_axes : the rule that counts them all."""
    out, motion, inverse, feed, spindle, stroke = Reading(), 1, None, None, 0.0, 0
    speed = 0.0
    place = dict.fromkeys(letters, math.nan)
    for number, line in enumerate(text.decode("ascii").removesuffix("\n").split("\n"), 1):
        assert len(line) <= 256, line
        assert not out.ended, f"line {number} stands after the end"
        if line.startswith("("):
            assert line.endswith(")") and not set("()") & set(line[1:-1]), line
            out.comments.append(line[1:-1])
            if found := STROKE.fullmatch(line):
                stroke = int(found[1])
                out.strokes.append(stroke)
            continue
        squeezed = line.replace(" ", "")
        words = WORD.findall(squeezed)
        assert squeezed and "".join(a + b for a, b in words) == squeezed, line
        values = {}
        codes = {"G": [], "M": []}
        for letter, digits in words:
            assert not digits.startswith("-") or float(digits) < 0, f"-0 in {line}"
            if letter in codes:
                codes[letter].append(int(digits))
            else:
                assert letter not in values, f"{letter} twice in {line}"
                values[letter] = float(digits)
        assert set(values) <= {*letters, "F", "S", "P", "T"}, line
        for code in codes["G"]:
            if code in (0, 1):
                motion = code
            elif code in (93, 94):
                inverse = code == 93
                out.modes.add(code)
            else:
                assert code in MODES or (code == 4 and "P" in values), line
                out.modes.add(code)
        speed = values.get("S", speed)
        for code in codes["M"]:
            assert code in (0, 2, 3, 5, 6), line
            if code == 0:  # a hand sets the zero of another tool: where the axes stand is not known after
                assert spindle == 0.0, line
                place = dict.fromkeys(letters, math.nan)
            spindle = speed if code == 3 else 0.0 if code == 5 else spindle
            out.ended = code == 2
        said = set(values) & set(letters)
        if motion == 1 and said and inverse:
            assert "F" in values, f"no F under G93: {line}"
        feed = values.get("F", feed)
        if said:
            end = place | {k: values[k] for k in said}
            gone = {k: end[k] - place[k] for k in letters}
            minutes = math.nan
            if motion == 1:
                assert feed is not None and feed > 0, line
                minutes = 1 / feed if inverse else counted(gone, all_axes, linear) / feed
            out.moves.append(Move(number, place, end, motion == 0, said, feed, minutes, stroke, spindle))
            place = end
    return out


def counted(gone, all_axes, linear):
    """The length that F divides under G94: along the linear axes, else the degrees; or all alike."""
    straight = math.sqrt(sum(d * d for k, d in gone.items() if k in linear))
    if all_axes:
        return math.sqrt(sum(d * d for d in gone.values()))
    return straight if straight > 0 else math.sqrt(sum(d * d for d in gone.values()))


def way_mm(a, b):
    """Length of the tip's way between two (x mm, degrees, r mm), r running evenly: Simpson's rule over 64 panels."""
    turn = math.radians(b[1] - a[1])
    speeds = [
        math.sqrt((b[0] - a[0]) ** 2 + (b[2] - a[2]) ** 2 + (turn * (a[2] + (b[2] - a[2]) * k / 128)) ** 2)
        for k in range(129)
    ]
    return (speeds[0] + speeds[-1] + 4 * sum(speeds[1:-1:2]) + 2 * sum(speeds[2:-1:2])) / 384
