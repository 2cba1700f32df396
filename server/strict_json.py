"""JSON read strictly: what a machine program may be made from, and nothing that only looks like it.

Takes bytes, gives plain Python values; refuses (raises one `Problem`, every fault with its pointer): NaN, Infinity,
numbers that overflow or underflow, integers past 2**53, keys given twice, nesting over the limit, lone
surrogates, control characters in text, NUL, byte-order marks, any encoding but UTF-8, text after the end.
A negative zero is read as 0.
Source: RFC 8259; I-JSON, RFC 7493 section 2 (doubles, unique names, no surrogates).

Notes: the happy path does not walk the tree. The parser's own hooks leave a `_Bad` mark where a fault is; only if one
was left (or the bytes hold a surrogate escape) is the tree walked for pointers.
"""

import json
import math
import re
from collections.abc import Iterator
from typing import Any

from server.problems import Fault, Problem, key_step
from server.settings import Limits

__all__ = ["loads"]

# A string that never closes matches to the end: searching on from each of its quotes would take quadratic time.
_STRUCTURE = re.compile(rb'"[^"\\]*+(?:\\.[^"\\]*+)*+(?:"|\\?\Z)|[\[\]{}]', re.DOTALL)
_SURROGATE = re.compile(rb"\\u[dD][89abAB]")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff]")
_EXACT_INT = 2**53  # beyond it a double skips whole numbers
_LEAST_NORMAL = 2.2250738585072014e-308  # below it a double loses digits (IEEE 754, binary64)


class _Bad:
    """A fault left in the tree by a parser hook."""

    __slots__ = ("allowed", "given", "key")

    def __init__(self, given: object, allowed: str, key: str | None = None) -> None:
        self.given, self.allowed, self.key = given, allowed, key


class _Reader:
    """One reading: the hooks share the flag that says whether a mark was left."""

    def __init__(self, limits: Limits) -> None:
        self.limits, self.marked = limits, False

    def mark(self, given: object, allowed: str, key: str | None = None) -> _Bad:
        self.marked = True
        return _Bad(given, allowed, key)

    def constant(self, word: str) -> _Bad:
        return self.mark(word, "a finite number")

    def whole(self, text: str) -> int | _Bad:
        if len(text) > 17 or abs(int(text)) > _EXACT_INT:
            return self.mark(f"an integer of {len(text.lstrip('-'))} digits", "integers up to 2**53")
        return int(text)

    def real(self, text: str) -> float | _Bad:
        value = float(text)
        if not math.isfinite(value):
            return self.mark("a number too large for a double", "a finite number")
        # A zero may be one, or a number that underflowed: the digits tell.
        if abs(value) < _LEAST_NORMAL and any(c in "123456789" for c in re.split("[eE]", text)[0]):
            return self.mark("a number too small for a double", "0, or at least 2.3e-308")
        return value or 0.0  # a zero has no sign here

    def pairs(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) != len(pairs):
            seen: set[str] = set()
            for key, _ in pairs:
                if key in seen:
                    found[key] = self.mark("the same key twice", "each key once")
                seen.add(key)
        return found


def loads(raw: bytes, limits: Limits, *, free: str | None = None) -> Any:
    """One JSON document, or a 400 problem that lists every fault. free : pointer of a text that may hold anything."""
    depth = 0
    for token in _STRUCTURE.finditer(raw):
        mark = raw[token.start()]
        if mark in b"[{":
            depth += 1
            if depth > limits.json_depth:
                raise Problem(
                    400,
                    "json",
                    errors=[
                        Fault("", f"nesting over {limits.json_depth} levels", f"at most {limits.json_depth} levels")
                    ],
                )
        elif mark in b"]}":
            depth -= 1
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise Problem(400, "json", errors=[Fault("", "bytes that are not UTF-8", "UTF-8")]) from None
    if text.startswith("\ufeff"):
        raise Problem(400, "json", errors=[Fault("", "a byte-order mark", "UTF-8 without one")])
    reader = _Reader(limits)
    try:
        tree = json.loads(
            text,
            parse_constant=reader.constant,
            parse_int=reader.whole,
            parse_float=reader.real,
            object_pairs_hook=reader.pairs,
        )
    except json.JSONDecodeError as exc:
        where = f"line {exc.lineno}, column {exc.colno}"
        raise Problem(400, "json", detail=f"This is not JSON: it breaks off or goes wrong at {where}.") from None
    if reader.marked or _SURROGATE.search(raw) or b"\\u00" in raw or len(raw) > limits.json_text or _odd(text):
        faults = list(_faults(tree, "", limits, free))
        if faults:
            raise Problem(400, "json", errors=faults)
    return tree


def _odd(text: str) -> bool:
    return _CONTROL.search(text) is not None


def _text_fault(text: str, pointer: str, limits: Limits) -> Fault | None:
    if len(text) > limits.json_text:
        return Fault(pointer, f"text of {len(text)} characters", f"at most {limits.json_text} characters")
    if any("\ud800" <= c <= "\udfff" for c in text):
        return Fault(pointer, "half of a surrogate pair", "whole characters")
    if _CONTROL.search(text):
        return Fault(pointer, "a control character", "text without control characters")
    return None


def _faults(node: Any, pointer: str, limits: Limits, free: str | None) -> Iterator[Fault]:
    if isinstance(node, _Bad):
        yield Fault(pointer, node.given, node.allowed)
    elif isinstance(node, str):
        if pointer != free and (fault := _text_fault(node, pointer, limits)):
            yield fault
    elif isinstance(node, dict):
        for key, value in node.items():
            if fault := _text_fault(key, pointer, limits):
                yield fault
            else:
                yield from _faults(value, pointer + key_step(key), limits, free)
    elif isinstance(node, list):
        for i, value in enumerate(node):
            yield from _faults(value, f"{pointer}/{i}", limits, free)
