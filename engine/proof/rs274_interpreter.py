"""Reader, room 2 of 4: the modal state and what one parsed line does to it, in the order of NISTIR 6556 table 8.

Takes a `Line`; changes a `State`; appends to a `Tape`. Refuses, with line and column: what the standard forbids (G1
without F under G93, feeding at F 0, axis words without a motion mode, moves under no units) and what would leave the
tip's place unknown to this reader (G10, G28, G30, G53, G92, arcs, cycles, tool offsets, G55 and on).
Sources: NISTIR 6556 3.5 (G), 3.6 (M), 3.7 (other), table 8.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints
from engine.kernel.units import INCH_MM
from engine.proof.rs274_lines import WHOLE_WITHIN, Line, ReadError

__all__ = ["CHANGE", "FEED", "FIRST_TOOL", "LINEAR", "PROBE", "RAPID", "TURNING", "Columns", "State", "Tape", "step"]

LEAST_PROBE_MM = 0.254  # 3.5.9.1
RAPID, FEED, PROBE = 0, 1, 2
CHANGE = "tool change"
FIRST_TOOL = "first tool"  # fetched before anything has moved
TURNING = "changed while turning"
LINEAR = frozenset("XYZ")
_MODES = {0: RAPID, 1: FEED, 38.2: PROBE}
_UNFOLLOWED: dict[float, str] = {
    **dict.fromkeys((2, 3), "arcs are not followed; write them as short G1 moves"),
    10: "offsets are not followed; set them at the machine before the program",
    28: "it goes to a place that the program does not state; write the place with G0",
    30: "it goes to a place that the program does not state; write the place with G0",
    **dict.fromkeys((41, 42), "radius compensation is not followed; write the tool's own path, under G40"),
    43: "tool length offsets are not followed; zero the tool in use, under G49",
    53: "machine coordinates are unknown here; write the place in the program's own",
    **dict.fromkeys(
        (92, 92.1, 92.2, 92.3), "it shifts the coordinates; set the zero at the machine before the program"
    ),
    **dict.fromkeys(range(81, 90), "canned cycles are not followed; write their moves with G0 and G1"),
    **dict.fromkeys((55, 56, 57, 58, 59, 59.1, 59.2, 59.3), "only G54 is followed; set the zero there"),
}


@dataclass(slots=True)
class State:
    """What is in force. motion: None, RAPID, FEED or PROBE; mm per unit, absolute and speed: None until stated.

    called : the last T, and held : the T of the tool in the spindle; None before the first. changes : of the tool since
    the first move. moved : something has, since the last change.
    """

    position: list[float]
    motion: int | None = None
    unit_mm: float | None = None
    absolute: bool | None = None
    inverse: bool | None = None
    feed: float = 0.0
    speed: float | None = None
    spindle: int = 0
    called: int | None = None
    held: int | None = None
    changes: int = 0
    moved: bool = False
    stroke: int = 0
    ended: int = 0
    percent: int = 0

    @property
    def turning(self) -> int:
        """1 clockwise, -1 counter-clockwise, 0 stopped, as at S0. Without any S the spindle is taken to turn."""
        return 0 if self.speed == 0.0 else self.spindle

    @property
    def rpm(self) -> float:
        """The S in force, NaN before the first."""
        return math.nan if self.speed is None else self.speed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """n moves of k axes, in order.

    start, end : (n, k) words in mm (linear) or degrees (A B C); NaN where not yet known. motion : (n,) 0 rapid, 1 feed,
    2 probe, whose end is its target: it stops there or before, so the axes it moved are unknown after it. feed : (n,) F
    in force (mm/min, deg/min or 1/min), NaN for rapids. inverse : (n,) G93. spindle : (n,) 1 clockwise, -1
    counter-clockwise, 0 stopped. rpm : (n,) S in force, NaN before the first. stroke : (n,) last `(stroke N)`, 0 before
    the first. line : (n,) from 1. tool : (n,) changes of the tool so far, after each of which no place is known.
    """

    start: Floats
    end: Floats
    motion: Bytes8
    feed: Floats
    inverse: Bools
    spindle: NDArray[np.int8]
    rpm: Floats
    stroke: Ints
    line: Ints
    tool: Ints

    def __len__(self) -> int:
        return len(self.line)

    @classmethod
    def none(cls, axes: int) -> "Columns":
        """No move of so many axes."""
        place, whole = np.zeros((0, axes)), np.zeros(0, np.int64)
        return cls(
            start=place,
            end=place,
            motion=np.zeros(0, np.uint8),
            feed=np.zeros(0),
            inverse=np.zeros(0, np.bool_),
            spindle=np.zeros(0, np.int8),
            rpm=np.zeros(0),
            stroke=whole,
            line=whole,
            tool=whole,
        )


Row = tuple[tuple[float, ...], tuple[float, ...], int, float, bool, int, float, int, int, int]


@dataclass(slots=True)
class Tape:
    """What the program does, growing: finished columns, and single rows waiting to become such."""

    parts: list[Columns] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    events: list[tuple[int, str]] = field(default_factory=list)

    def flush(self) -> None:
        """Turn the waiting rows into columns."""
        if not self.rows:
            return
        start, end, motion, feed, inverse, spindle, rpm, stroke, line, tool = zip(*self.rows, strict=True)
        self.parts.append(
            Columns(
                start=np.array(start),
                end=np.array(end),
                motion=np.array(motion, np.uint8),
                feed=np.array(feed, np.float64),
                inverse=np.array(inverse, np.bool_),
                spindle=np.array(spindle, np.int8),
                rpm=np.array(rpm, np.float64),
                stroke=np.array(stroke, np.int64),
                line=np.array(line, np.int64),
                tool=np.array(tool, np.int64),
            )
        )
        self.rows.clear()


def step(line: Line, number: int, state: State, tape: Tape, axes: str) -> None:
    """Do one line. `axes`: the machine's letters, in the order of `state.position`."""
    for text in line.comments[-1:]:  # 3.3.5: of several comments on a line only the last counts
        parts = text.split()
        if len(parts) == 2 and parts[0].lower() == "stroke" and parts[1].isascii() and parts[1].isdigit():
            state.stroke = int(parts[1][-15:])
    if line.deleted:
        tape.events.append((number, "block delete"))
        return
    if not (line.g or line.m or line.words):
        return
    if state.ended:
        raise ReadError(number, 1, f"stands after the program's end in line {state.ended}; take it out")
    g, m, words, column = set(line.g), set(line.m), line.words, line.columns
    for code in line.g:
        if code in _UNFOLLOWED:
            raise ReadError(number, column[f"G{code:g}"], f"G{code:g}: {_UNFOLLOWED[code]}")
    if g & {93, 94} and state.inverse is not (93 in g):
        state.inverse = 93 in g
        state.feed = 0.0  # an F word has another meaning now: none is in force
    if "F" in words:
        if not words["F"] >= 0:
            raise ReadError(number, column["F"], "F must not be negative; mend it")
        state.feed = words["F"]
    _spindle_and_tool(line, m, number, state, tape)
    _dwell(line, g, number, tape)
    _units_and_distance(line, g, number, state)
    _move(g, line, number, state, tape, axes)
    if m & {0, 60} and state.called not in (None, state.held):
        _changed(number, state, tape)  # by hand, while the program waits
    tape.events += [(number, f"stop M{code}") for code in (0, 1, 60) if code in m]
    if m & {2, 30}:
        state.ended, state.spindle, state.motion = number, 0, FEED  # 3.6.1
        tape.events.append((number, "end"))


def _spindle_and_tool(line: Line, m: set[float], number: int, state: State, tape: Tape) -> None:
    words, column = line.words, line.columns
    turned = state.turning
    if "S" in words:
        if not words["S"] >= 0:
            raise ReadError(number, column["S"], "S must not be negative; M4 turns the other way")
        state.speed = words["S"]
    if "T" in words:
        if words["T"] < 0 or abs(words["T"] - round(words["T"])) > WHOLE_WITHIN:
            raise ReadError(number, column["T"], "T takes a whole number of at least 0; mend it")
        state.called = round(words["T"])
        if not state.moved and not state.changes:
            state.held = state.called
    if 6 in m:
        _changed(number, state, tape)
        state.spindle = 0  # 3.6.3
    for code, turning in ((3, 1), (4, -1), (5, 0)):
        if code in m:
            state.spindle = turning
            if turning and state.speed is None:
                tape.events.append((number, "no speed"))
    if state.turning != turned:
        tape.events.append((number, "spindle"))


def _changed(number: int, state: State, tape: Tape) -> None:
    """Another tool in the spindle; its length is another, and what sets its zero moves the axes: no place is known.

    Nothing that has moved since the last one: it is still the same change, or before the first move the first tool.
    """
    state.held = state.called
    if not state.moved:
        if not state.changes:
            tape.events.append((number, FIRST_TOOL))
        return
    tape.events.append((number, CHANGE))
    if state.turning:
        tape.events.append((number, TURNING))
    state.changes += 1
    state.moved = False
    state.position = [math.nan] * len(state.position)


def _dwell(line: Line, g: set[float], number: int, tape: Tape) -> None:
    words = line.words
    if 4 in g:
        if not words.get("P", -1.0) >= 0:
            raise ReadError(
                number, line.columns.get("P", line.columns["G4"]), "G4 needs P, seconds of at least 0; add it"
            )
        tape.events.append((number, "dwell"))
    for letter in words:
        if letter not in "XYZABCFSTP" or (letter == "P" and 4 not in g):
            raise ReadError(number, line.columns[letter], f"{letter} has no use on this line; take it out")


def _units_and_distance(line: Line, g: set[float], number: int, state: State) -> None:
    if g & {20, 21}:
        unit = INCH_MM if 20 in g else 1.0
        if state.unit_mm not in (None, unit):
            if "F" in line.words:  # table 8: F comes before the units, so which unit it has is moot
                raise ReadError(
                    number, line.columns["F"], "an F word on the line that changes the units; put it on the next"
                )
            state.feed = 0.0  # the F in force was said in the other unit
        state.unit_mm = unit
    if g & {90, 91}:
        state.absolute = 90 in g


def _move(g: set[float], line: Line, number: int, state: State, tape: Tape, axes: str) -> None:
    moved = [letter for letter in "XYZABC" if letter in line.words]
    asked = g & {0, 1, 38.2, 80}
    if 80 in asked:
        state.motion = None
    elif asked:
        code = next(iter(asked))
        state.motion = _MODES[code]
        if not moved:
            raise ReadError(number, line.columns[f"G{code:g}"], "a motion word without an axis word; state the place")
    if not moved:
        return
    unit_mm = _allowed(moved, line, number, state, axes)
    start = tuple(state.position)
    for letter in moved:
        k = axes.index(letter)
        value = line.words[letter] * (unit_mm if letter in LINEAR else 1.0)  # 3.5.7: degrees do not change
        if not state.absolute and np.isnan(state.position[k]):
            raise ReadError(
                number, line.columns[letter], f"an incremental move from an unknown {letter}; state the place under G90"
            )
        state.position[k] = value if state.absolute else state.position[k] + value
    if state.motion == PROBE:
        _probe(moved, start, line, number, state, axes)
    linear = any(
        state.position[k] != start[k] and not math.isnan(state.position[k])  # never said yet: it stands
        for k, letter in enumerate(axes)
        if letter in LINEAR
    )
    # Rotary only: degrees a minute, never inches.
    feed = np.nan if state.motion == RAPID else state.feed * (unit_mm if linear and not state.inverse else 1.0)
    tape.rows.append(
        (
            start,
            tuple(state.position),
            int(state.motion or RAPID),
            feed,
            bool(state.inverse),
            state.turning,
            state.rpm,
            state.stroke,
            number,
            state.changes,
        )
    )
    state.moved = True
    if state.motion == PROBE:  # 3.5.9: it stops where it trips, somewhere on its way
        state.position = [at if at == before else math.nan for at, before in zip(state.position, start, strict=True)]


def _allowed(moved: Sequence[str], line: Line, number: int, state: State, axes: str) -> float:
    """Millimetres per unit of the move; ReadError where the standard or the machine forbids it."""
    first = line.columns[moved[0]]
    for letter in moved:
        if letter not in axes:
            raise ReadError(
                number, line.columns[letter], f"this machine has no axis {letter}; it has {', '.join(axes)}"
            )
    if state.motion is None:
        raise ReadError(number, first, "axis words with no motion in force; state G0 or G1")
    if state.unit_mm is None or state.absolute is None:
        raise ReadError(
            number, first, "a move before units and distance mode are stated; begin with G20 or G21, G90 or G91"
        )
    if state.motion == RAPID:
        return state.unit_mm
    if state.inverse is None:
        raise ReadError(number, first, "a feed move before G93 or G94 is stated; state one")
    if state.inverse and state.motion == PROBE:
        raise ReadError(number, first, "G38.2 under G93; go back to G94 first")
    if state.inverse and "F" not in line.words:
        raise ReadError(number, first, "a feed move under G93 without its own F; add it")
    if not state.feed > 0:
        raise ReadError(
            number, first, "a feed move with F 0, or with none stated since units or feed mode changed; state F"
        )
    return state.unit_mm


def _probe(moved: Sequence[str], start: Sequence[float], line: Line, number: int, state: State, axes: str) -> None:
    linear = [axes.index(k) for k in moved if k in LINEAR]
    turned = [k for k in moved if k not in LINEAR and state.position[axes.index(k)] != start[axes.index(k)]]
    if not linear or turned:
        raise ReadError(number, line.columns[(turned or moved)[0]], "G38.2 moves linear axes only; turn before it")
    way = math.hypot(*(state.position[k] - start[k] for k in linear))
    if not way >= LEAST_PROBE_MM:
        message = f"G38.2 needs {LEAST_PROBE_MM} mm or more from a stated place to its target; start further off"
        raise ReadError(number, line.columns[moved[0]], message)
