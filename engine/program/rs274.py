"""The writer: a flat Path and a machine Profile in, the text of an RS274/NGC program out.

Gives `Program`: ASCII text, and which line is which stroke and row. Refuses (ProgramError): numbers too long to be
written exactly. Whether the machine can reach the words is not asked here: the proof reads them back and says where
they leave an axis's range.
Sources: NISTIR 6556 3.3 (lines), 3.3.2.1 (numbers), 3.5 (G words), 3.6 (M words), table 4 (modal groups).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

import numpy as np

from engine.kernel.arrays import Bools, Ints
from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine import Profile
from engine.program.blocks import blocks, rounded
from engine.program.change import Change, changing, setting_out
from engine.program.feeds import Feeds, feeds
from engine.program.program import Program, with_header

__all__ = ["write"]

_Part = tuple[bytes, Ints, Ints]  # lines as text, and of each its stroke and its row


def write(
    path: Path,
    profile: Profile,
    *,
    zero_r_mm: float = 0.0,
    rpm: float = 0.0,
    changes: Sequence[Change] = (),
    header: Sequence[tuple[str, str]] = (),
    spindle: bool = True,
) -> Program:
    """The program for `path` on the machine `profile`.

    Parameters
    ----------
    path : the moves; its first row is reached radially first, then along and around, since the start is unknown.
    zero_r_mm : the radius from which the radial word counts: 0 for the axis, the skin's radius at the touch-off point.
    rpm : the spindle's speed with the path's first tool; changes : for each further one, in order.
    header : (word, text) pairs that the header's comments say, in order. spindle : False for air runs and walks.

    Raises
    ------
    ProgramError : a word too long, or changes that are not as many as the path's.

    Notes
    -----
    A row whose words do not change gives no line (`dropped` counts them). Same input, same bytes.
    """
    stints = path.stints
    if len(changes) != len(stints) - 1:
        raise ProgramError(f"{len(stints) - 1} changes of the tool, words for {len(changes)}", where="changes")
    rows = _rows(path, profile, zero_r_mm)
    parts: list[_Part] = []
    for k, (first, last) in enumerate(stints):
        change = changes[k - 1] if k else Change(rpm=rpm)
        begins = changing(profile, change, int(path.tool[first]) + 1) if k else []
        begins += setting_out(profile, rows.place(first, profile), change.rpm, spindle=spindle, again=k > 0)
        parts += [_tied_to_nothing(begins), rows.moves(first, last, path, profile)]
    parts.append(_tied_to_nothing(["M5", *profile.footer, "M2"]))
    bare = _joined(parts, rows.f_words, dropped=len(path) - len(stints) - len(rows.shown))
    return with_header(bare, header, longest=profile.longest_line)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """The path's rows as they are written.

    whole : (3, n) words in units of the last decimal. moved : (3, n) whether a word differs from the row before.
    shown : (k,) rows that give a line. feeding : (k,) whether by feed. f_words : the F of those.
    """

    whole: Ints
    moved: Bools
    shown: Ints
    feeding: Bools
    f_words: Feeds

    def place(self, row: int, profile: Profile) -> list[str]:
        """The words (axial, rotary, radial) of a row."""
        words = zip(profile.letters, self.whole[:, row], strict=True)
        return [letter + _plain(int(word), profile.decimals) for letter, word in words]

    def moves(self, first: int, last: int, path: Path, profile: Profile) -> _Part:
        """The lines of the rows from `first` to before `last`."""
        here, fed = (slice(*np.searchsorted(some, [first, last])) for some in (self.shown, self.shown[self.feeding]))
        rows = self.shown[here]
        return blocks(self.whole, self.moved, rows, self.feeding[here], self.f_words.part(fed), path, profile)


def _rows(path: Path, profile: Profile, zero_r_mm: float) -> _Rows:
    whole, words, r_mm = rounded(path, profile, zero_r_mm)
    moved = np.ones(whole.shape, np.bool_)
    np.not_equal(whole[:, 1:], whole[:, :-1], out=moved[:, 1:])
    shows: Bools = moved[0] | moved[1] | moved[2]
    shows[[first for first, _ in path.stints]] = False  # a tool's first row is written by hand
    shown = np.flatnonzero(shows)
    feeding = path.kind[shown] != Kind.TRAVEL
    f_words = feeds(words, r_mm, shown[feeding], path.feed_mm_min[shown[feeding]], profile)
    return _Rows(whole=whole, moved=moved, shown=shown, feeding=feeding, f_words=f_words)


def _joined(parts: Sequence[_Part], f_words: Feeds, *, dropped: int) -> Program:
    """The program without its header. f_words : the F of all its blocks."""
    texts, line_stroke, line_row = zip(*parts, strict=True)
    body = b"".join(texts)
    return Program(
        text=body,
        body_sha256=sha256(body).hexdigest(),
        header_lines=0,
        line_stroke=np.concatenate(line_stroke),
        line_row=np.concatenate(line_row),
        slowed=int(f_words.slowed.sum()),
        slowest=float(f_words.share.min(initial=1.0)),
        dropped=dropped,
    )


def _tied_to_nothing(lines: Sequence[str]) -> _Part:
    """Lines that belong to no stroke and no row, as text and tables."""
    none = np.zeros(len(lines), np.int64)
    return "".join(f"{line}\n" for line in lines).encode("ascii"), none, none - 1


def _plain(whole: int, decimals: int) -> str:
    sign, size = "-" if whole < 0 else "", abs(whole)
    return f"{sign}{size // 10**decimals}.{size % 10**decimals:0{decimals}d}"
