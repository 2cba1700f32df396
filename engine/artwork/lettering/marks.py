"""Letters with marks for the single-stroke faces, whose data holds plain ones alone: members' names are full of them.

A letter is taken apart by Unicode's decomposition (NFD); each mark is drawn over or under its ink. The marks, and the
strokes through letters that do not decompose, are drawn for this project, in the faces' units: a capital is 21 high.
"""

import unicodedata
from collections.abc import Mapping

__all__ = ["STAND_INS", "Letter", "Strokes", "composed"]

Point = tuple[float, float]
Strokes = tuple[tuple[Point, ...], ...]
Letter = tuple[float, Strokes]  # its width, and its strokes

GAP = 3.0  # between a letter's ink and a mark over it
TOPMOST = 0.2  # share of a letter's height over which its top's middle is taken: script faces lean
DOTTED = "ij"  # another mark over them takes the place of the dot


def _dot(x: float, y: float) -> tuple[Point, ...]:
    return ((x, y - 1.0), (x + 1.0, y), (x, y + 1.0), (x - 1.0, y), (x, y - 1.0))


OVER: dict[str, Strokes] = {
    "\u0300": (((2.0, 0.0), (-2.0, 4.0)),),
    "\u0301": (((-2.0, 0.0), (2.0, 4.0)),),
    "\u0302": (((-3.0, 0.0), (0.0, 4.0), (3.0, 0.0)),),
    "\u0303": (((-4.0, 0.5), (-3.0, 2.0), (-1.5, 2.5), (1.5, 0.5), (3.0, 1.0), (4.0, 2.5)),),
    "\u0304": (((-3.5, 0.5), (3.5, 0.5)),),
    "\u0306": (((-3.0, 3.5), (-2.0, 1.0), (0.0, 0.0), (2.0, 1.0), (3.0, 3.5)),),
    "\u0307": (_dot(0.0, 1.5),),
    "\u0308": (_dot(-3.0, 1.5), _dot(3.0, 1.5)),
    "\u030a": (
        ((0.0, 0.0), (1.5, 0.6), (2.0, 2.0), (1.5, 3.4), (0.0, 4.0), (-1.5, 3.4), (-2.0, 2.0), (-1.5, 0.6), (0.0, 0.0)),
    ),
    "\u030b": (((-3.5, 0.0), (-1.0, 4.0)), ((1.0, 0.0), (3.5, 4.0))),
    "\u030c": (((-3.0, 4.0), (0.0, 0.0), (3.0, 4.0)),),
}
UNDER: dict[str, Strokes] = {
    "\u0323": (_dot(0.0, -3.0),),
    "\u0326": (((0.0, -2.5), (-1.5, -6.0)),),
    "\u0327": (((0.0, 0.0), (-0.5, -2.0), (1.5, -3.0), (1.0, -5.0), (-2.0, -5.5)),),
    "\u0328": (((1.0, 0.0), (-1.0, -2.5), (0.0, -5.0), (2.5, -4.5)),),
}
# Letters that do not decompose: the plain letter, and the stroke through it in shares of its ink's box.
THROUGH: dict[str, tuple[str, tuple[Point, Point]]] = {
    "ø": ("o", ((0.0, -0.1), (1.0, 1.1))),
    "Ø": ("O", ((0.0, -0.1), (1.0, 1.1))),
    "ł": ("l", ((-3.0, 0.4), (3.0, 0.65))),
    "Ł": ("L", ((-0.3, 0.35), (0.5, 0.65))),
    "đ": ("d", ((0.4, 0.82), (1.3, 0.82))),
    "Đ": ("D", ((-0.3, 0.5), (0.45, 0.5))),
    "ı": ("i", ((0.0, 0.0), (0.0, 0.0))),
}
STAND_INS = {"’": "'", "‘": "'", "“": '"', "”": '"', "„": '"', "–": "-", "—": "-", "\u2010": "-", "\u2011": "-"}


def composed(character: str, letters: Mapping[str, Letter]) -> Letter | None:
    """The letter with its marks, made of plain `letters`; None where one of its parts is not to be had."""
    if character in THROUGH:
        plain, stroke = THROUGH[character]
        return None if plain not in letters else _struck(letters[plain], stroke, dotless=plain in DOTTED)
    taken = unicodedata.normalize("NFD", character)
    plain, marks = taken[0], taken[1:]
    if plain not in letters or not marks or not all(mark in OVER or mark in UNDER for mark in marks):
        return None
    width, strokes = letters[plain]
    if plain in DOTTED and any(mark in OVER for mark in marks):
        strokes = _dotless(strokes)
    for mark in marks:
        x, top, foot = _anchors(strokes)
        drawn, y = (OVER[mark], top + GAP) if mark in OVER else (UNDER[mark], min(foot, 0.0))
        strokes += tuple(tuple((a + x, b + y) for a, b in stroke) for stroke in drawn)
    return width, strokes


def _dotless(strokes: Strokes) -> Strokes:
    """Without what lies wholly above the strokes that reach the lower half: the dots of i and j."""
    spans = [(min(y for _, y in stroke), max(y for _, y in stroke)) for stroke in strokes]
    middle = (min(low for low, _ in spans) + max(high for _, high in spans)) / 2
    body = max(high for low, high in spans if low <= middle)
    return tuple(stroke for stroke, (low, _) in zip(strokes, spans, strict=True) if low <= body)


def _anchors(strokes: Strokes) -> tuple[float, float, float]:
    """The top's middle, the top and the foot of a letter's ink; those of a space stand at 0."""
    points = [point for stroke in strokes for point in stroke] or [(0.0, 0.0)]
    top, foot = max(y for _, y in points), min(y for _, y in points)
    high = [x for x, y in points if y >= top - TOPMOST * (top - foot)]
    return (min(high) + max(high)) / 2, top, foot


def _struck(letter: Letter, ends: tuple[Point, Point], *, dotless: bool) -> Letter:
    width, strokes = letter
    if dotless:
        return width, _dotless(strokes)
    xs, ys = zip(*(point for stroke in strokes for point in stroke), strict=True)
    left, foot, high = min(xs), min(ys), max(ys) - min(ys)
    wide = max(max(xs) - left, 1.0)
    return width, (*strokes, tuple((left + x * wide, foot + y * high) for x, y in ends))
