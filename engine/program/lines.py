"""Programs that measure, line by line: words of the machine's axes for places on the blank, and the lines round them.

Takes a profile; gives text. Positions are in the blank's own sense: mm along the axis, degrees, radius of the tip's
lowest place. Refuses (ProgramError) what the axes cannot reach.
"""

import math
from collections.abc import Sequence
from hashlib import sha256

import numpy as np

from engine.kernel.errors import ProgramError
from engine.machine import Axis, Profile, room_of
from engine.program.comments import COMMENT_WIDTH, comment
from engine.program.program import NARROWEST, Program, with_header

__all__ = ["Lines"]

# NISTIR 6556 table 4: every mode that words depend on is stated; G94, since G38.2 is an error under G93 (3.5.9.1).
_MODES = ("G21 G90 G94", "G54 G17 G40 G49 G80")
_SAME = 1e-9  # mm or degrees: below every word's last decimal


class Lines:
    """A program under construction. zero_r_mm : the radius at which the radial word is 0."""

    def __init__(self, profile: Profile, zero_r_mm: float) -> None:
        self.profile = profile
        self.zero_r_mm = zero_r_mm
        self.seconds = 0.0
        self._place: dict[str, float] = {}
        self._text = [*_MODES, *profile.header, "M5"]
        self._row = [-1] * len(self._text)
        self.row = -1  # what the next lines belong to

    def rounded(self, value: float) -> float:
        """A position as its word can say it, in the axial or the radial axis."""
        return _to(value, self.profile.decimals, np.rint)

    def rounded_up(self, value: float) -> float:
        """A radius as its word can say it, never lower."""
        return _to(value - self.zero_r_mm, self.profile.decimals, np.ceil) + self.zero_r_mm

    def rounded_r(self, value: float) -> float:
        """A radius as its word can say it."""
        return self.rounded(value - self.zero_r_mm) + self.zero_r_mm

    def rounded_deg(self, value: float) -> float:
        """An angle as its word can say it."""
        return self.rounded(value * self._per_deg) / self._per_deg

    @property
    def _per_deg(self) -> float:
        return 1.0 if self.profile.mm_per_turn is None else self.profile.mm_per_turn / 360.0

    def say(self, text: str) -> None:
        """A comment."""
        width = COMMENT_WIDTH if self.profile.longest_line is None else max(self.profile.longest_line, NARROWEST)
        for line in comment(text, width):
            self._add(line)

    def code(self, line: str) -> None:
        """A line that moves nothing."""
        self._add(line)

    def move(
        self,
        code: str,
        *,
        x_mm: float | None = None,
        angle_deg: float | None = None,
        r_mm: float | None = None,
        feed_mm_min: float | None = None,
        trips_at_mm: float | None = None,
    ) -> None:
        """One straight move to the places that are given; F where one is given. ProgramError beyond an axis's room.

        trips_at_mm : the radius at which a probing move is thought to stop, for the time it takes.
        """
        words = [code]
        whole = 0.0
        for axis, value, per in (
            (self.profile.axial, x_mm, 1.0),
            (self.profile.rotary, angle_deg, self._per_deg),
            (self.profile.radial, None if r_mm is None else r_mm - self.zero_r_mm, 1.0),
        ):
            if value is None:
                continue
            refuse_beyond(axis, value)
            words.append(axis.letter + plain(-value * per if axis.reversed else value * per, self.profile.decimals))
            way = abs(value - self._place.get(axis.letter, value))
            rate = axis.rapid_per_min if feed_mm_min is None else feed_mm_min
            whole = max(whole, way / rate if rate else 0.0)
            self._place[axis.letter] = value
        if feed_mm_min is not None:
            words.append(f"F{feed_mm_min:.6g}")
        if trips_at_mm is not None:
            whole -= abs(trips_at_mm - self.zero_r_mm - self._place[self.profile.radial.letter]) / (feed_mm_min or 1.0)
            self._place[self.profile.radial.letter] = trips_at_mm - self.zero_r_mm
        self.seconds += 60.0 * max(whole, 0.0)
        self._add(" ".join(words))

    def program(self, header: Sequence[tuple[str, str]]) -> Program:
        """The whole program under its header: row i of `line_row` is what `row` said when line i was written."""
        self.row = -1
        for line in ("M5", *self.profile.footer, "M2"):
            self._add(line)
        body = "".join(f"{line}\n" for line in self._text).encode("ascii")
        bare = Program(
            text=body,
            body_sha256=sha256(body).hexdigest(),
            header_lines=0,
            line_stroke=np.zeros(len(self._text), np.int64),
            line_row=np.array(self._row, np.int64),
            slowed=0,
            slowest=1.0,
            dropped=0,
        )
        return with_header(bare, header, longest=self.profile.longest_line)

    def _add(self, line: str) -> None:
        self._text.append(line)
        self._row.append(self.row)


def refuse_beyond(axis: Axis, value: float) -> None:
    """ProgramError where an axis does not reach that far, in the blank's own sense."""
    least, greatest = room_of(axis)
    if not least - _SAME <= value <= greatest + _SAME:
        raise ProgramError(
            f"axis {axis.letter} would have to go to {value:g}, its room is {least:g} to {greatest:g}",
            where="/machine/axes",
            hint="other stations, other angles, or less clearance",
        )


def plain(value: float, decimals: int) -> str:
    """A number with fixed decimals and no -0 (NISTIR 6556 3.3.2.1)."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def _to(value: float, decimals: int, rule: "np.ufunc") -> float:
    scale = 10.0**decimals
    if not math.isfinite(value) or abs(value) * scale >= 1e14:
        raise ProgramError(
            "a word too long to be written exactly", hint="places on the blank, angles within a few turns"
        )
    exact = value * scale
    near = float(np.rint(exact))
    # What is a whole number but for the rounding of floats stays that number whichever way it is rounded.
    return (near if abs(exact - near) < 1e-6 else float(rule(exact))) / scale
