"""What crosses the border between the server and a worker: frames of JSON and named byte parts.

A frame is one line of JSON, ``{"kind": ..., "parts": [[name, bytes], ...], ...}``, followed by the parts' bytes in that
order. Both directions use it, and so does the file in which a result is kept. Nothing here can run code on reading:
JSON is parsed strictly, an npz is read with ``allow_pickle=False``.

A frame from a worker is a stranger's: the worker has parsed foreign bytes and may have been taken over. So every length
is bounded before it is believed, and every field is checked before it is used.
"""

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Mapping
from typing import Any, BinaryIO, NoReturn

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BYTES",
    "RESULT_BYTES",
    "Arrays",
    "WireError",
    "dump_arrays",
    "dump_json",
    "input_digest",
    "load_arrays",
    "load_json",
    "read_frame",
    "write_frame",
]

Arrays = Mapping[str, NDArray[Any]]
BYTES = "bytes:"  # an array whose name begins so holds bytes that are no numbers: a program, a picture
LINE_BYTES = 64 << 10  # the longest header line
PARTS = 512  # the most parts of one frame
RESULT_BYTES = 256 << 20  # the most bytes that a worker may send back for one plan

_NAME = re.compile(r"[A-Za-z0-9_.:-]{1,128}")


class WireError(Exception):
    """The other side broke the format. The message says how; it never quotes what was sent."""


def dump_json(value: Any) -> bytes:
    """The one spelling of a JSON value: keys sorted, ASCII, no spaces. ValueError on NaN and infinities."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False).encode("ascii")


def load_json(data: bytes) -> Any:
    """Strict JSON: no NaN or Infinity words, no number that overflows, no key twice. WireError otherwise."""
    try:
        return json.loads(data, parse_constant=_refuse, parse_float=_finite, object_pairs_hook=_once)
    except (ValueError, RecursionError) as exc:
        raise WireError(f"not strict JSON ({type(exc).__name__})") from exc


def dump_arrays(arrays: Arrays) -> bytes:
    """An npz of the arrays, the same bytes for the same values on every machine and day.

    Entries are in name order, stored without compression, dated 1980, little-endian, C order.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as file:
        for name in sorted(arrays):
            if not _NAME.fullmatch(name):
                raise ValueError("an array's name is letters, digits, _ . : -")
            array = np.asarray(arrays[name])
            array = array.astype(array.dtype.newbyteorder("<"), order="C", copy=False)
            body = io.BytesIO()
            np.lib.format.write_array(body, array, version=(1, 0), allow_pickle=False)
            file.writestr(zipfile.ZipInfo(f"{name}.npy", (1980, 1, 1, 0, 0, 0)), body.getvalue())
    return out.getvalue()


def load_arrays(data: bytes) -> dict[str, NDArray[Any]]:
    """The arrays of an npz as `dump_arrays` writes it; WireError for anything else (objects, compression...)."""
    try:
        return _arrays(data)
    except WireError:
        raise
    except Exception as exc:  # zipfile and numpy raise a dozen kinds on broken bytes; all mean the same here
        raise WireError(f"not an npz ({type(exc).__name__})") from exc


def _arrays(data: bytes) -> dict[str, NDArray[Any]]:
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        entries = file.infolist()
        if len(entries) > PARTS or sum(entry.file_size for entry in entries) > len(data):
            raise WireError("an npz that claims more than it holds")
        if any(entry.compress_type != zipfile.ZIP_STORED for entry in entries):
            raise WireError("a compressed npz")
        arrays: dict[str, NDArray[Any]] = {}
        for entry in entries:
            name = entry.filename.removesuffix(".npy")
            if not _NAME.fullmatch(name) or name in arrays:
                raise WireError("an npz with a bad or repeated name")
            with file.open(entry) as body:
                arrays[name] = np.lib.format.read_array(body, allow_pickle=False)
        return arrays


def write_frame(file: BinaryIO, header: Mapping[str, Any], parts: Mapping[str, bytes] | None = None) -> None:
    """Send one frame and flush. Blocks while the reader does not read, so never call it on the event loop."""
    bodies = parts or {}
    line = dump_json({**header, "parts": [[name, len(body)] for name, body in bodies.items()]})
    if len(line) >= LINE_BYTES:
        raise ValueError("the header is too long: put big values into a part")
    file.write(line + b"\n")
    for body in bodies.values():
        file.write(body)
    file.flush()


def read_frame(file: BinaryIO, *, most_bytes: int) -> tuple[dict[str, Any], dict[str, bytes]] | None:
    """The next frame, or None where the stream ends between two frames.

    Raises WireError: a line too long, not strict JSON, parts malformed or more than `most_bytes` in all, a cut stream.
    """
    line = file.readline(LINE_BYTES)
    if not line:
        return None
    if not line.endswith(b"\n"):
        raise WireError("a header cut short or too long")
    header = load_json(line)
    if not isinstance(header, dict) or not isinstance(header.get("kind"), str):
        raise WireError("a header that is no object with a kind")
    sizes = header.pop("parts", None)
    if not isinstance(sizes, list) or len(sizes) > PARTS or not all(_is_size(size) for size in sizes):
        raise WireError("parts that are not pairs of a name and a length")
    if sum(length for _, length in sizes) > most_bytes:
        raise WireError("more bytes than allowed")
    parts: dict[str, bytes] = {}
    for name, length in sizes:
        body = file.read(length)
        if len(body) != length:
            raise WireError("a part cut short")
        parts[name] = body
    return header, parts


def input_digest(*parts: Any) -> str:
    """What a result is filed under: sha-256 of all that it follows from, each part a JSON value.

    An asset stands for itself by its id, the sha-256 of its bytes: the store vouches for that.
    """
    return hashlib.sha256(dump_json(parts)).hexdigest()


def _is_size(size: Any) -> bool:
    named = isinstance(size, list) and len(size) == 2 and isinstance(size[0], str) and _NAME.fullmatch(size[0])
    return bool(named) and type(size[1]) is int and size[1] >= 0


def _refuse(word: str) -> NoReturn:
    raise ValueError(f"{word} is no JSON number")


def _finite(text: str) -> float:
    number = float(text)
    if not abs(number) < float("inf"):
        raise ValueError("a number beyond the range of a double")
    return number


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key given twice")
    return found
