"""One line of mixed directions to runs in the order in which they are seen, left to right.

The Unicode Bidirectional Algorithm without explicit embeddings, which `characters` refuses, and with the brackets in
`PAIRS` alone. Source: Unicode Standard Annex 9, rules P2-P3, W1-W7, N0-N2, I1-I2, L2 (L1 changes nothing
where there are neither embeddings nor tabs). Scripts part runs further: a
shaping engine takes one script at a time (Unicode Standard Annex 24: common and inherited characters go with what
stands before them).
"""

import unicodedata
from dataclasses import dataclass
from itertools import pairwise, takewhile

from fontTools.unicodedata import script

__all__ = ["Run", "runs_of"]

STRONG = ("L", "R", "AL")
NEUTRAL = ("B", "S", "WS", "ON")
PAIRS = dict(zip("([{⁅⟨〈《「『【〔（［｛", ")]}⁆⟩〉》」』】〕）］｝", strict=True))
MOST_OPEN = 63  # brackets, by the annex
NO_SCRIPT = ("Zyyy", "Zinh", "Zzzz")


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Characters start to end of a line, of one direction and one script (ISO 15924)."""

    start: int
    end: int
    rightward: bool
    script: str


def runs_of(line: str, rightward: bool | None) -> list[Run]:
    """The runs of a line as they are seen from left to right.

    rightward : the line's own direction; None takes it of the first letter that has one, left to right if none has.
    """
    levels = _levels(line, rightward)
    scripts = _scripts(line)
    cuts = [k for k in range(1, len(line)) if levels[k] != levels[k - 1] or scripts[k] != scripts[k - 1]]
    bounds = [0, *cuts, len(line)]
    spans = list(pairwise(bounds)) if line else []
    for level in range(max(levels, default=0), 0, -1):  # L2
        k = 0
        while k < len(spans):
            end = k
            while end < len(spans) and levels[spans[end][0]] >= level:
                end += 1
            spans[k:end] = spans[k:end][::-1]
            k = max(end, k + 1)
    return [Run(start=a, end=b, rightward=levels[a] % 2 == 0, script=scripts[a]) for a, b in spans]


def _levels(line: str, rightward: bool | None) -> list[int]:
    """The embedding level of each character."""
    kinds = [unicodedata.bidirectional(c) or "L" for c in line]
    if rightward is None:
        rightward = next((kind for kind in kinds if kind in STRONG), "L") == "L"
    base = 0 if rightward else 1
    own = "L" if rightward else "R"
    resolved = _neutral(_bracketed(line, _weak(kinds, own), own), own)
    if base == 0:
        return [{"L": 0, "R": 1}.get(kind, 2) for kind in resolved]
    return [1 if kind == "R" else 2 for kind in resolved]


def _weak(kinds: list[str], own: str) -> list[str]:
    """W1 to W7: marks, numbers, and what stands in and beside them."""
    out = list(kinds)
    last, strong = own, own
    for k, kind in enumerate(out):
        if kind in ("NSM", "BN"):  # W1; X9 takes BN out, which comes to the same
            out[k] = last
        elif kind == "EN" and strong == "AL":  # W2
            out[k] = "AN"
        last = out[k]
        strong = last if last in STRONG else strong
    out = ["R" if kind == "AL" else kind for kind in out]  # W3
    for k in range(1, len(out) - 1):  # W4
        around = out[k - 1]
        if around == out[k + 1] and ((out[k] == "CS" and around in ("EN", "AN")) or (out[k], around) == ("ES", "EN")):
            out[k] = around
    _spread_numbers(out)
    strong = own
    for k, kind in enumerate(out):
        if kind in ("ES", "ET", "CS"):  # W6
            out[k] = "ON"
        elif kind == "EN" and strong == "L":  # W7
            out[k] = "L"
        strong = kind if kind in ("L", "R") else strong
    return out


def _spread_numbers(kinds: list[str]) -> None:
    """W5: signs of currency, percent and the like beside a European number belong to it."""
    for order in (range(len(kinds)), range(len(kinds) - 1, -1, -1)):
        beside = False
        for k in order:
            if kinds[k] == "ET" and beside:
                kinds[k] = "EN"
            beside = kinds[k] == "EN"


def _bracketed(line: str, kinds: list[str], own: str) -> list[str]:
    """N0: both brackets of a pair take the line's direction if something between them has it; if all between runs the
    other way, they do as what stands before them does.
    """
    out = list(kinds)
    for opened, closed in _pairs(line, kinds):
        inside = {_side(kind) for kind in out[opened + 1 : closed] if kind not in NEUTRAL}
        if not inside:
            continue
        before = next((_side(kind) for kind in reversed(out[:opened]) if kind not in NEUTRAL), own)
        chosen = own if own in inside or before == own else before
        for k in (opened, closed):
            marks = takewhile(lambda c: unicodedata.bidirectional(c) == "NSM", line[k + 1 :])
            end = k + 1 + sum(1 for _ in marks)
            out[k:end] = [chosen] * (end - k)
    return out


def _pairs(line: str, kinds: list[str]) -> list[tuple[int, int]]:
    """Places of brackets that belong together, by where they open (BD16)."""
    found: list[tuple[int, int]] = []
    waiting: list[tuple[str, int]] = []
    for k, c in enumerate(line):
        if kinds[k] != "ON":
            continue
        if c in PAIRS:
            if len(waiting) == MOST_OPEN:
                return []
            waiting.append((PAIRS[c], k))
        depth = next((d for d in range(len(waiting) - 1, -1, -1) if waiting[d][0] == c), None)
        if depth is not None:
            found.append((waiting[depth][1], k))
            del waiting[depth:]
    return sorted(found)


def _neutral(kinds: list[str], own: str) -> list[str]:
    """N1 and N2: what has no direction takes that of both its sides, or the line's own."""
    out = list(kinds)
    k = 0
    while k < len(out):
        end = k
        while end < len(out) and out[end] in NEUTRAL:
            end += 1
        if end > k:
            before = _side(out[k - 1]) if k else own
            after = _side(out[end]) if end < len(out) else own
            out[k:end] = [before if before == after else own] * (end - k)
        k = max(end, k + 1)
    return out


def _side(kind: str) -> str:
    return "L" if kind == "L" else "R"


def _scripts(line: str) -> list[str]:
    """The script of each character; at the beginning, that of the first which has one."""
    own = [script(c) for c in line]
    held = next((name for name in own if name not in NO_SCRIPT), "Zyyy")
    for k, name in enumerate(own):
        held = held if name in NO_SCRIPT else name
        own[k] = held
    return own
