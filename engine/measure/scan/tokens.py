"""Numbers of a text file, strictly: what Python reads and a mesh format does not (1_000, nan) is refused."""

from collections.abc import Iterator, Sequence

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.measure.scan.mesh import mesh_fault

__all__ = ["line_chunks", "real_numbers", "whole_numbers"]

CHUNK = 4 << 20  # bytes of text taken apart at a time: split text takes ten times its own room
HINT = "export the scan again; numbers are written with a decimal point"


def line_chunks(text: bytes) -> Iterator[bytes]:
    """Pieces of at most CHUNK bytes that end at a line's end; BlankError where one line is longer than that."""
    at = 0
    while at < len(text):
        end = len(text) if len(text) - at <= CHUNK else text.rfind(b"\n", at, at + CHUNK) + 1
        if end == 0:
            raise mesh_fault("a line of the file is too long", HINT)
        yield text[at:end]
        at = end


def real_numbers(words: Sequence[bytes], what: str) -> Floats:
    """(k,) float64; BlankError, naming `what`, where a word is no finite number."""
    try:
        values = np.array(list(map(float, words)), np.float64)
    except ValueError as exc:
        raise mesh_fault(f"{what} is no number", HINT) from exc
    if not np.isfinite(values).all() or any(b"_" in word for word in words):
        raise mesh_fault(f"{what} is no number", HINT)
    return values


def whole_numbers(words: Sequence[bytes], what: str) -> Ints:
    """(k,) int64; BlankError, naming `what`, where a word is no whole number."""
    try:
        values = np.array(list(map(int, words)), np.int64)
    except (ValueError, OverflowError) as exc:
        raise mesh_fault(f"{what} is no whole number", HINT) from exc
    if any(b"_" in word for word in words):
        raise mesh_fault(f"{what} is no whole number", HINT)
    return values
