"""Named arrays as one body: `application/vnd.roundwright.arrays`.

A 4-byte little-endian length H, then H bytes of UTF-8 JSON {"meta": {...}, "arrays": [{name, dtype, shape, at}]} padded
with spaces so that the data begins at a multiple of 8, then the raw little-endian arrays, each at byte `at` from the
start of the data, `at` a multiple of 8.
"""

import json
import struct
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["MEDIA", "as_json", "pack"]

MEDIA = "application/vnd.roundwright.arrays"
_DTYPES = {"<f4", "<u4", "<u2", "|u1", "<i4"}


def pack(meta: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """The body. Doubles become singles and long integers four bytes: what a screen can use."""
    entries: list[dict[str, Any]] = []
    bodies: list[bytes] = []
    at = 0
    for name in sorted(arrays):
        array = _small(arrays[name])
        body = array.tobytes()
        entries.append({"name": name, "dtype": array.dtype.str.replace("|", "<"), "shape": array.shape, "at": at})
        bodies.append(body + bytes(-len(body) % 8))
        at += len(bodies[-1])
    head = json.dumps({"meta": meta, "arrays": entries}, allow_nan=False).encode()
    head += b" " * (-(len(head) + 4) % 8)
    return struct.pack("<I", len(head)) + head + b"".join(bodies)


def as_json(meta: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """The same as {"meta": ..., "arrays": {name: nested lists}}."""
    lists = {name: array.tolist() for name, array in sorted(arrays.items())}
    return json.dumps({"meta": meta, "arrays": lists}, allow_nan=False, separators=(",", ":")).encode()


def _small(array: NDArray[Any]) -> NDArray[Any]:
    if array.dtype.str in _DTYPES:
        return np.ascontiguousarray(array)
    if array.dtype.kind == "f":
        return np.ascontiguousarray(array, "<f4")
    return np.ascontiguousarray(array, "<i4" if array.dtype.kind == "i" else "<u4")
