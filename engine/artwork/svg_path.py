"""The grammar of path data to an `Outline`. Wrong data is drawn up to the fault, and the fault told.

Source: SVG 2, section 9.3 (grammar, commands) and 9.5.4 (errors).
"""

import math
import re
from collections.abc import Callable

import numpy as np

from engine.artwork.svg_outline import Outline
from engine.artwork.svg_values import NUMBER
from engine.kernel.errors import TooBigError

__all__ = ["path_outline"]

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_PAIR = rf"\s*{NUMBER}(?:\s*,\s*|\s+){NUMBER}\s*"
_LINES = re.compile(
    rf"(?:(?:L{_PAIR}){{2,}}+|(?:l{_PAIR}){{2,}}+)(?![^A-Za-z])"
)  # lines of one point, each with its letter
_NUMBER = re.compile(rf"[\s,]*({NUMBER})")
_FLAG = re.compile(r"[\s,]*([01])")  # a flag may be glued to what follows it
_BETWEEN = " ,\t\r\n\f"
_COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_FLAGS = (3, 4)  # places of an arc's flags


def path_outline(text: str, most: int, where: str) -> tuple[Outline, str]:
    """(outline, what is wrong or empty) of a `d` attribute with at most `most` numbers.

    Raises
    ------
    TooBigError.
    """
    pen = _Pen()
    left, end = most, len(text) - len(text.lstrip(_BETWEEN))
    while found := _COMMAND.match(text, end):
        many = _LINES.match(text, end)
        if many and pen.lines(many[0]):
            end = many.end()
            left -= 2 * many[0].count(many[0][0])
            if left < 0:
                raise TooBigError(f"the path has over {most:,} numbers", where=where)
            continue
        end = found.end()
        values, fault_at = _arguments(found[1], found[2])
        left -= len(values)
        if left < 0:
            raise TooBigError(f"the path has over {most:,} numbers", where=where)
        if not pen.draw(found[1], values) or fault_at is not None:
            return pen.outline, f"path data wrong at character {found.start() + 1 + (fault_at or 0)}"
    if text[end:].strip(_BETWEEN):
        return pen.outline, f"path data wrong at character {end}"
    return pen.outline, ""


def _arguments(command: str, text: str) -> tuple[list[float], int | None]:
    """The numbers after a command's letter, and the place in `text` where they cease to be numbers, or None."""
    arc = command in "Aa"
    values: list[float] = []
    at = 0
    while True:
        found = (_FLAG if arc and len(values) % 7 in _FLAGS else _NUMBER).match(text, at)
        if not found:
            return values, at if text[at:].strip(_BETWEEN) else None
        values.append(float(found[1]))
        at = found.end()


class _Pen:
    """Draws commands one after the other, keeping what a later one may refer to."""

    def __init__(self) -> None:
        self.outline = Outline()
        self._control: tuple[float, float] | None = None  # the last curve's second control point
        self._curve = ""  # the last curve's kind, C or Q, empty after anything else
        self._begun = False

    def draw(self, letter: str, values: list[float]) -> bool:
        """Draw one command with all its repeats; False where it is wrong."""
        kind, relative = letter.upper(), letter.islower()
        if not self._begun and kind != "M":
            return False
        if kind == "Z":
            self.outline.close()
            self._curve = ""
            return not values
        count = _COUNT[kind]
        steps = self._steps()
        for i in range(0, len(values) - count + 1, count):
            ox, oy = self.outline.at if relative else (0.0, 0.0)
            v = values[i : i + count]
            if not all(map(math.isfinite, v)):
                return False
            steps[kind if kind != "M" or i == 0 else "L"](v, ox, oy)
            self._begun = True
            self._curve = {"C": "C", "S": "C", "Q": "Q", "T": "Q"}.get(kind, "")
        return bool(values) and len(values) % count == 0

    def lines(self, text: str) -> bool:
        """Draw `L x y L x y ...`, all of one letter, at once; False, and nothing drawn, where it is not so plain."""
        if not self._begun:
            return False
        values = np.array(list(map(float, text.replace(text[0], " ").replace(",", " ").split()))).reshape(-1, 2)
        if text[0] == "l":
            values = np.cumsum(np.concatenate([[self.outline.at], values]), axis=0)[1:]
        if not np.isfinite(values).all():
            return False
        self.outline.lines(values)
        self._curve = ""
        return True

    def _steps(self) -> dict[str, Callable[[list[float], float, float], None]]:
        pen = self.outline
        return {
            "M": lambda v, ox, oy: pen.move((ox + v[0], oy + v[1])),
            "L": lambda v, ox, oy: pen.line((ox + v[0], oy + v[1])),
            "H": lambda v, ox, oy: pen.line((ox + v[0], pen.at[1])),
            "V": lambda v, ox, oy: pen.line((pen.at[0], oy + v[0])),
            "C": lambda v, ox, oy: self._cubic((ox + v[0], oy + v[1]), v[2:], ox, oy),
            "S": lambda v, ox, oy: self._cubic(self._mirrored("C"), v, ox, oy),
            "Q": lambda v, ox, oy: self._quadratic((ox + v[0], oy + v[1]), v[2:], ox, oy),
            "T": lambda v, ox, oy: self._quadratic(self._mirrored("Q"), v, ox, oy),
            "A": lambda v, ox, oy: pen.arc(v[0], v[1], v[2], v[3] == 1, v[4] == 1, (ox + v[5], oy + v[6])),
        }

    def _mirrored(self, curve: str) -> tuple[float, float]:
        """The last control point mirrored in the current point; the current point after no such curve."""
        x, y = self.outline.at
        if self._curve != curve or self._control is None:
            return x, y
        return 2 * x - self._control[0], 2 * y - self._control[1]

    def _cubic(self, a: tuple[float, float], v: list[float], ox: float, oy: float) -> None:
        self._control = (ox + v[0], oy + v[1])
        self.outline.cubic(a, self._control, (ox + v[2], oy + v[3]))

    def _quadratic(self, a: tuple[float, float], v: list[float], ox: float, oy: float) -> None:
        self._control = a
        self.outline.quadratic(a, (ox + v[0], oy + v[1]))
