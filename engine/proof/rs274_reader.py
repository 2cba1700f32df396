"""Reader, room 4 of 4, and its public face: the text of a program in, the moves of the machine's axes out.

Two paths, one meaning: plain stretches go through `rs274_plain` (compiled), everything else line by line through
`rs274_lines` and `rs274_interpreter` (exact). `read(..., exact=True)` takes the exact path alone; tests hold both equal
to the last bit. What those rooms refuse ends the reading: the moves up to there are given with the fault. So do bytes
that are not ASCII, a program without M2, M30 or an enclosing pair of % lines (3.1), and words after its M2 or M30: a
controller would never come to them, so two programs stand in one file, or the end in the wrong place.
"""

from collections.abc import Collection
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.proof.rs274_interpreter import FEED, LINEAR, RAPID, Columns, State, Tape, step
from engine.proof.rs274_lines import LONGEST, ReadError, parse
from engine.proof.rs274_plain import Plain, columns_of, scan

__all__ = ["Moves", "read"]

CHUNK = 1 << 19  # bytes: a chunk and its words stay in the second-level cache
SHORT = 24  # plain lines in a row below which the exact path is as quick
MOST_EXACT = 150_000  # lines read one by one, 10 to 20 us each: above that no answer comes in time
SHOP = "shop line not followed"
WHITE = b" \t"
BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moves(Columns):
    """Every move of a program that could be read. events : (line, what). fault : why the reading ended early, None when
    the whole program was read.
    """

    events: tuple[tuple[int, str], ...]
    fault: ReadError | None
    axes: str


def read(text: bytes, *, axes: str = "XAZ", shop: Collection[str] = (), exact: bool = False) -> Moves:
    """Moves of a program. axes : letters of the machine, in the order of the columns given back.

    shop : lines that the machine's owner vouches for (header, footer): one of them that cannot be followed is an event,
    after which no axis's place is known, instead of a fault.
    """
    data = text
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not data.endswith(b"\n"):
        data += b"\n"
    reader = _Reader(axes, frozenset(line.strip() for line in shop), exact=exact)
    fault: ReadError | None = None
    try:
        reader.run(data)
    except ReadError as exc:
        fault = exc
    return _moves(reader.tape, axes, fault)


def _moves(tape: Tape, axes: str, fault: ReadError | None) -> Moves:
    tape.flush()
    parts = [Columns.none(len(axes)), *tape.parts]
    columns: dict[str, Any] = {
        column.name: np.concatenate([getattr(part, column.name) for part in parts]) for column in fields(Columns)
    }
    return Moves(**columns, events=tuple(tape.events), fault=fault, axes=axes)


class _Reader:
    """One reading: its state and its tape."""

    def __init__(self, axes: str, shop: frozenset[str], *, exact: bool) -> None:
        self.axes = axes
        self.shop = shop
        self.exact = exact
        self.table = columns_of(axes)
        self.state = State(position=[float("nan")] * len(axes))
        self.tape = Tape()
        self.begun = False  # a line that is not blank was met
        self.slow = 0  # lines read one by one

    def run(self, data: bytes) -> None:
        """All lines of `data`, which ends with a line end."""
        first, at = 1, 0
        while at < len(data) and self.state.percent < 2:
            stop = len(data) if at + CHUNK >= len(data) else data.rfind(b"\n", at, at + CHUNK) + 1
            if stop <= at:  # one line longer than a chunk: the exact path refuses it
                stop = data.find(b"\n", at) + 1
            first = self._chunk(data[at:stop], first)
            at = stop
        if self.state.percent == 1:
            raise ReadError(first, 1, "a % line at the start needs one at the end; add it", code="no-end")
        if not self.state.ended and self.state.percent != 2:
            raise ReadError(first, 1, "the program has no M2 or M30; was its tail cut off?", code="no-end")

    def _chunk(self, chunk: bytes, first: int) -> int:
        """Do all lines of a chunk whose first line is number `first`; the number of the next chunk's first line."""
        count = chunk.count(b"\n")
        if self.exact:
            self._exact(chunk.split(b"\n"), 0, count, first)
            return first + count
        plain = scan(chunk, self.table, self.axes)
        if len(plain.line) * SHORT < count:  # next to nothing to gain
            self._exact(chunk.split(b"\n"), 0, count, first)
            return first + count
        lines: list[bytes] = []
        done = 0
        for wall in [*plain.odd.tolist(), count]:
            while done < wall:
                lo, hi = (int(k) for k in np.searchsorted(plain.line, [done, wall]))
                quick = hi - lo >= SHORT and self.state.absolute and self.state.unit_mm and not self.state.ended
                if quick:
                    done = self._plain_run(plain, lo, hi, done, wall, first)
                    if done == wall:
                        break
                # Beside a short stretch, only the one line that the plain path would not decide.
                upto = wall if hi - lo < SHORT else done + 1
                lines = lines or chunk.split(b"\n")
                self._exact(lines, done, upto, first)
                done = upto
            if wall < count:
                lines = lines or chunk.split(b"\n")
                self._exact(lines, wall, wall + 1, first)
                done = wall + 1
            if self.state.percent == 2:
                break
        return first + count

    def _exact(self, lines: list[bytes], start: int, stop: int, first: int) -> None:
        """The lines start .. stop of a chunk, one by one."""
        for k in range(start, stop):
            if self.state.percent == 2:  # what stands after the second % is ignored (3.1)
                return
            raw, number = lines[k], first + k
            words = raw.strip(WHITE)
            if not words and len(raw) <= LONGEST:
                continue
            begun, self.begun = self.begun, True
            self.slow += 1
            if self.slow > MOST_EXACT and not self.exact:
                raise _too_many(number)
            if words == b"%":
                if begun and self.state.percent != 1:
                    raise ReadError(number, 1, "a % line stands only at the start and the end; take it out")
                self.state.percent += 1
                continue
            text = raw.decode("latin-1")
            try:
                if not raw.isascii():
                    raise _not_ascii(raw, number)
                step(parse(text, number), number, self.state, self.tape, self.axes)
            except ReadError:
                if text.strip() not in self.shop:
                    raise
                self.tape.events.append((number, SHOP))
                self.state.position = [float("nan")] * len(self.axes)

    def _plain_run(self, plain: Plain, lo: int, hi: int, from_line: int, to_line: int, first: int) -> int:
        """Do the plain lines lo .. hi under the modes in force; the first line not done (to_line when all are)."""
        state, axes = self.state, self.axes
        unit_mm = state.unit_mm or 1.0
        value = plain.value[lo:hi]
        motion = _held(value[:, 0], float(state.motion) if state.motion in (RAPID, FEED) else np.nan)
        feeding = motion == FEED
        feed = value[:, 1] if state.inverse else _held(value[:, 1], state.feed)
        doubtful = np.isnan(motion) | (feeding & ~(feed > 0))
        if state.inverse is None:
            doubtful |= feeding
        n = int(doubtful.argmax()) if doubtful.any() else len(value)
        if n:
            value, motion, feeding, feed = value[:n], motion[:n], feeding[:n], feed[:n]
            at = np.zeros((n + 1, len(axes)))
            at[0] = state.position
            for k, letter in enumerate(axes):
                at[1:, k] = _held(value[:, 2 + k] * (unit_mm if letter in LINEAR else 1.0), state.position[k])
            if not state.inverse and unit_mm != 1.0:
                linear = np.array([letter in LINEAR for letter in axes])
                here = at[1:, linear]
                moved = ((here != at[:-1, linear]) & ~np.isnan(here)).any(axis=1)  # never said yet: it stands
                feed = np.where(moved, feed * unit_mm, feed)
            self.tape.flush()
            self.tape.parts.append(
                Columns(
                    start=at[:-1],
                    end=at[1:],
                    motion=motion.astype(np.uint8),
                    feed=np.where(feeding, feed, np.nan),
                    inverse=np.full(n, bool(state.inverse)),
                    spindle=np.full(n, state.turning, np.int8),
                    rpm=np.full(n, state.rpm),
                    stroke=self._strokes(plain, plain.line[lo : lo + n], from_line),
                    line=plain.line[lo : lo + n] + first,
                    tool=np.full(n, state.changes, np.int64),
                )
            )
            state.moved = True
            state.position = at[-1].tolist()
            state.motion = int(motion[-1])
            said = np.flatnonzero(~np.isnan(value[:, 1]))
            if len(said):
                state.feed = float(value[said[-1], 1])
        done = to_line if n == hi - lo else int(plain.line[lo + n])
        a, b = np.searchsorted(plain.stroke_line, [from_line, done])
        if b > a:
            state.stroke = int(plain.stroke[b - 1])
        return done

    def _strokes(self, plain: Plain, line: Ints, from_line: int) -> Ints:
        """(n,) the stroke that each plain line belongs to."""
        if not len(plain.stroke):
            return np.full(len(line), self.state.stroke, np.int64)
        k = np.searchsorted(plain.stroke_line, line) - 1
        held = np.maximum(k, 0)
        told = (k >= 0) & (plain.stroke_line[held] >= from_line)
        return np.where(told, plain.stroke[held], self.state.stroke)


def _too_many(number: int) -> ReadError:
    message = (
        f"more than {MOST_EXACT:,} lines up to here hold something else than G0, G1, F and axis words; "
        "take comments and codes off the lines of moves, or prove the program in parts"
    )
    return ReadError(number, 1, message)


def _not_ascii(raw: bytes, number: int) -> ReadError:
    if number == 1 and raw.startswith(BOM):
        return ReadError(number, 1, "a byte order mark before the program; save it as plain ASCII text")
    column = next(at for at, byte in enumerate(raw, 1) if byte > 127)
    return ReadError(number, column, "a character that is not ASCII; take it out")


def _held(said: Floats, before: float) -> Floats:
    """Each value, or the last one said before it, or `before`."""
    where = np.where(np.isnan(said), -1, np.arange(len(said)))
    np.maximum.accumulate(where, out=where)
    return np.where(where < 0, before, said[np.maximum(where, 0)])
