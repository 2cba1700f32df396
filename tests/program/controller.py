"""A controller for the tests: runs a program that measures, word by word from the standard's rules, plain Python.

Knows G0 G1 G4 G17 G21 G38.2 G40 G49 G54 G80 G90 G94, M0 M2 M5, F, P and axis words, and refuses all else.
Source: NISTIR 6556 3.3 (lines), 3.5.4, 3.5.9 (straight probe), 3.8 table 8.
"""

import math
import re
from dataclasses import dataclass, field

WORD = re.compile(r"([A-Z])(-?\d+(?:\.\d*)?)")
MODES = {17, 21, 40, 49, 54, 80, 90, 94}


@dataclass
class Move:
    line: int
    code: float
    start: dict
    end: dict
    feed: float | None


@dataclass
class Run:
    moves: list = field(default_factory=list)
    touches: list = field(default_factory=list)  # (place, found) of every probing move
    waits: list = field(default_factory=list)  # (line, seconds or None for M0, place)
    comments: list = field(default_factory=list)
    modes: set = field(default_factory=set)
    ended: bool = False


def run(text, letters, trips=lambda place: -math.inf):
    """Run a program. letters : of the axial, rotary and radial axis. trips(place) : the radial word at which a probing
    move from there stops, going down or up alike; a target that is not reached by then is a touch that found nothing.
    """
    out, place, feed = Run(), dict.fromkeys(letters, math.nan), None
    radial = letters[2]
    for number, line in enumerate(text.decode("ascii").removesuffix("\n").split("\n"), 1):
        assert len(line) <= 256 and not out.ended, line
        if line.startswith("("):
            assert line.endswith(")") and not set("()") & set(line[1:-1]), line
            out.comments.append((number, line[1:-1]))
            continue
        squeezed = line.replace(" ", "")
        words = WORD.findall(squeezed)
        assert squeezed and "".join(a + b for a, b in words) == squeezed, line
        codes = [float(b) for a, b in words if a == "G"]
        stops = [int(b) for a, b in words if a == "M"]
        values = {a: float(b) for a, b in words if a not in "GM"}
        assert len(values) == len([1 for a, _ in words if a not in "GM"]), f"a letter twice in {line}"
        assert all(not b.startswith("-") or float(b) < 0 for _, b in words), f"-0 in {line}"
        feed = values.pop("F", feed)
        motions = [c for c in codes if c in (0, 1, 38.2)]
        if 4 in codes:
            out.waits.append((number, values.pop("P"), dict(place)))
        assert set(values) <= set(letters), line
        assert bool(values) == (len(motions) == 1) and len(motions) < 2, line
        out.modes |= {c for c in codes if c not in (0, 1, 4, 38.2)}
        assert out.modes <= MODES, line
        if values:
            assert {21, 90, 94} <= out.modes, f"moves before units, distance and feed mode: {line}"
            end = place | values
            if motions[0] == 38.2:  # 3.5.9.1
                assert set(values) == {radial}, f"a probing move of another axis: {line}"
                assert abs(end[radial] - place[radial]) >= 0.254, f"too near: {line}"
            if motions[0] != 0:
                assert feed is not None and feed > 0, line
            out.moves.append(Move(number, motions[0], place, end, feed))
            if motions[0] == 38.2:
                stop, way = trips(place), end[radial] - place[radial]
                found = (stop - place[radial]) * way > 0 and abs(stop - place[radial]) <= abs(way)
                end = end | ({radial: stop} if found else {})
                out.touches.append((end, found))
            place = end
        for code in stops:
            assert code in (0, 2, 5), line
            out.ended = out.ended or code == 2
            if code == 0:
                out.waits.append((number, None, dict(place)))
    return out
