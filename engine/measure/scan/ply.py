"""PLY 1.0, ascii and binary of either byte order: element `vertex` (x, y, z) and element `face` (a list of indices).

Other properties and elements are measured and passed over. Strict: the heading is known word by word, every row that
it promises is there and nothing follows. Source of the layout: G. Turk, "The PLY Polygon File Format" (1994).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bytes8, Floats, Ints
from engine.kernel.compiled import compiled
from engine.measure.scan.mesh import (
    AGAIN,
    MOST_BYTES,
    MOST_CORNERS,
    MOST_FACES,
    MOST_VERTICES,
    Mesh,
    fanned,
    mesh_fault,
    too_large,
)
from engine.measure.scan.tokens import real_numbers, whole_numbers

__all__ = ["read_ply"]

_KINDS = ("i1", "u1", "i2", "u2", "i4", "u4", "f4", "f8")
_OLD = ("char", "uchar", "short", "ushort", "int", "uint", "float", "double")
_NEW = ("int8", "uint8", "int16", "uint16", "int32", "uint32", "float32", "float64")
_TYPES = dict(zip(_OLD + _NEW, _KINDS + _KINDS, strict=True))
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_MOST_HEADING = 64 << 10  # bytes
_MOST_PROPERTIES = 64  # of an element
_SLICE = 100_000  # rows of text taken apart at a time
_LISTS = ("vertex_indices", "vertex_index")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Property:
    """`count` is the type of a list's length, "" for a single value; types as numpy names them, without order."""

    name: str
    kind: str
    count: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Element:
    name: str
    rows: int
    properties: tuple[_Property, ...]

    def place(self, names: Sequence[str], *, of_list: bool) -> int:
        """Which property has one of the names; BlankError where none has, or it is no list (or is one)."""
        for k, item in enumerate(self.properties):
            if item.name in names and bool(item.count) == of_list:
                return k
        raise mesh_fault(f"the {self.name}s of the file have no {names[0]}", "export the scan as a mesh of triangles")


def read_ply(data: bytes) -> Mesh:
    """The mesh; BlankError where the heading or the rows are not whole, or there are no faces."""
    order, elements, at = _heading(data)
    for element in elements:
        most = {"vertex": MOST_VERTICES, "face": MOST_FACES}.get(element.name, MOST_BYTES)
        if element.rows > min(most, max(len(data) - at, 0)):  # a row is a byte at least
            raise mesh_fault(
                f"{element.rows:,} of {element.name} are more than the file holds, or than {most:,}", AGAIN
            )
    names = [element.name for element in elements]
    if names.count("vertex") != 1 or names.count("face") != 1:
        raise mesh_fault("the file has no list of faces", "export the scan as a mesh of triangles, not as points")
    return _ascii(data[at:], elements) if not order else _binary(data, at, elements, order)


def _heading(data: bytes) -> tuple[str, list[_Element], int]:
    """Byte order ("" for ascii), elements, and where the rows begin."""
    end = data.find(b"end_header", 0, _MOST_HEADING)
    stop = data.find(b"\n", end)
    if data[end + 10 : end + 11] == b"\r" and data[end + 11 : end + 12] != b"\n":
        stop = end + 10  # lines end with a carriage return alone
    if end < 0 or stop < 0:
        raise mesh_fault("the heading does not end", AGAIN)
    lines = data[:end].decode("latin-1").replace("\r", "\n").split("\n")
    order, elements = "?", []
    for words in (line.split() for line in lines[1:]):
        match words:
            case [] | ["comment" | "obj_info", *_]:
                continue
            case ["format", kind, "1.0"] if kind in _ORDERS:
                order = _ORDERS[kind]
            case ["element", name, rows] if rows.isascii() and rows.isdigit() and len(rows) < 10:
                elements.append(_Element(name=name, rows=int(rows), properties=()))
            case ["property", *rest] if elements and len(elements[-1].properties) < _MOST_PROPERTIES:
                last = elements[-1]
                more = (*last.properties, _property(rest))
                elements[-1] = _Element(name=last.name, rows=last.rows, properties=more)
            case _:
                raise mesh_fault(f"the heading has a line that is not known: {' '.join(words)[:60]}", AGAIN)
    if order == "?":
        raise mesh_fault("the heading names no known format", "save as PLY 1.0, ascii or binary")
    if any(element.rows and not element.properties for element in elements):
        raise mesh_fault("the heading has an element without properties", AGAIN)
    return order, elements, stop + 1


def _property(words: list[str]) -> _Property:
    match words:
        case ["list", count, kind, name] if kind in _TYPES and _TYPES.get(count, "f")[0] != "f":
            return _Property(name=name, kind=_TYPES[kind], count=_TYPES[count])
        case [kind, name] if kind in _TYPES:
            return _Property(name=name, kind=_TYPES[kind], count="")
    raise mesh_fault(f"the heading has a property that is not known: {' '.join(words)[:60]}", AGAIN)


def _xyz(element: _Element) -> list[int]:
    return [element.place((name,), of_list=False) for name in "xyz"]


# ---- ascii -----------------------------------------------------------------------------------------------------------


def _ascii(text: bytes, elements: list[_Element]) -> Mesh:
    wanted = sum(element.rows for element in elements)
    text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    held = text.count(b"\n")
    if abs(held - wanted) > _SLICE:  # before a list of lines is made
        raise mesh_fault(f"the heading promises {wanted:,} lines, the file has {held:,}", AGAIN)
    lines = [line for line in text.split(b"\n") if line.strip()]
    if len(lines) != wanted:
        raise mesh_fault(f"the heading promises {wanted:,} lines, the file has {len(lines):,}", AGAIN)
    vertices, faces = np.zeros((0, 3)), np.zeros((0, 3), np.int64)
    at = 0
    for element in elements:
        rows = lines[at : at + element.rows]
        at += element.rows
        if element.name == "vertex":
            vertices = _ascii_points(rows, element)
        elif element.name == "face":
            faces = _ascii_faces(rows, element)
    return Mesh(vertices=vertices, faces=faces)


def _ascii_points(lines: list[bytes], element: _Element) -> Floats:
    parts = []
    columns, width = _xyz(element), len(element.properties)
    if any(item.count for item in element.properties):
        raise mesh_fault("a vertex of the file holds a list", "export vertices with x, y, z alone")
    for k in range(0, len(lines), _SLICE):
        rows = [line.split() for line in lines[k : k + _SLICE]]
        if any(len(row) != width for row in rows):
            raise mesh_fault(f"a vertex between {k + 1} and {k + len(rows)} has not {width} numbers", AGAIN)
        words = [row[column] for row in rows for column in columns]
        parts.append(real_numbers(words, f"a vertex between {k + 1} and {k + len(rows)}").reshape(-1, 3))
    return np.concatenate(parts) if parts else np.zeros((0, 3))


def _ascii_faces(lines: list[bytes], element: _Element) -> Ints:
    place = element.place(_LISTS, of_list=True)
    parts = []
    for k in range(0, len(lines), _SLICE):
        flat: list[bytes] = []
        sizes = []
        for number, line in enumerate(lines[k : k + _SLICE], k + 1):
            index = _ascii_list(line.split(), element.properties, place, number)
            flat += index
            sizes.append(len(index))
        corners = whole_numbers(flat, f"a corner of faces {k + 1} to {k + len(sizes)}")
        parts.append(fanned(corners, np.array(sizes, np.int64)))
    return np.concatenate(parts) if parts else np.zeros((0, 3), np.int64)


def _ascii_list(words: list[bytes], properties: tuple[_Property, ...], place: int, number: int) -> list[bytes]:
    """The words of the list at `place`; the row has to be as long as its lists say."""
    at = 0
    found: list[bytes] = []
    for k, item in enumerate(properties):
        size = 1
        if item.count:
            size = int(words[at]) if at < len(words) and len(words[at]) < 10 and words[at].isdigit() else len(words)
            at += 1
        if k == place:
            found = words[at : at + size]
        at += size
    if at != len(words):
        raise mesh_fault(f"face {number} is not as long as it says", AGAIN)
    return found


# ---- binary ----------------------------------------------------------------------------------------------------------


def _binary(data: bytes, at: int, elements: list[_Element], order: str) -> Mesh:
    vertices, faces = np.zeros((0, 3)), np.zeros((0, 3), np.int64)
    buffer = np.frombuffer(data, np.uint8)
    for element in elements:
        if element.name == "vertex":
            vertices, at = _binary_points(buffer, at, element, order)
        elif element.name == "face":
            faces, at = _binary_faces(buffer, at, element, order)
        elif element.rows:
            _, _, at = _rows(buffer, at, element, order, -1)
    if at != len(data):
        raise mesh_fault(f"{len(data) - at:,} bytes follow the last row", AGAIN)
    return Mesh(vertices=vertices, faces=faces)


def _binary_points(buffer: Bytes8, at: int, element: _Element, order: str) -> tuple[Floats, int]:
    if any(item.count for item in element.properties):
        raise mesh_fault("a vertex of the file holds a list", "export vertices with x, y, z alone")
    row = np.dtype([(f"p{k}", order + item.kind) for k, item in enumerate(element.properties)])
    end = at + row.itemsize * element.rows
    if end > len(buffer):
        raise mesh_fault("the file ends among its vertices", AGAIN)
    table = np.frombuffer(buffer, row, element.rows, at)
    return np.stack([table[f"p{k}"].astype(np.float64) for k in _xyz(element)], axis=1), end


def _binary_faces(buffer: Bytes8, at: int, element: _Element, order: str) -> tuple[Ints, int]:
    place = element.place(_LISTS, of_list=True)
    kind = np.dtype(order + element.properties[place].kind)
    if kind.kind == "f":
        raise mesh_fault("a face's corner is no whole number", AGAIN)
    starts, sizes, end = _rows(buffer, at, element, order, place)
    if element.rows == 0:
        return np.zeros((0, 3), np.int64), end
    steps = np.diff(starts)
    if (sizes == sizes[0]).all() and (len(steps) == 0 or (steps == steps[0]).all()):
        step = int(steps[0]) if len(steps) else 1
        shape, strides = (element.rows, int(sizes[0])), (step, kind.itemsize)
        flat = np.ndarray(shape, kind, buffer=buffer, offset=int(starts[0]), strides=strides).ravel()
    else:
        first = np.cumsum(sizes) - sizes
        place_of = np.repeat(starts - first * kind.itemsize, sizes) + np.arange(int(sizes.sum())) * kind.itemsize
        flat = buffer[place_of[:, None] + np.arange(kind.itemsize)].reshape(-1).view(kind)
    return fanned(flat.astype(np.int64), sizes), end


def _rows(buffer: Bytes8, at: int, element: _Element, order: str, place: int) -> tuple[Ints, Ints, int]:
    """(k,) where the list at `place` of each row begins and how long it is; where the rows end."""
    widths = np.array([np.dtype(item.kind).itemsize for item in element.properties], np.int64)
    counts = np.array([np.dtype(item.count).itemsize if item.count else 0 for item in element.properties], np.int64)
    starts, sizes = np.zeros(element.rows, np.int64), np.zeros(element.rows, np.int64)
    end = _walk(buffer, at, widths, counts, order == ">", place, starts, sizes)
    if end < 0:
        raise mesh_fault(f"the file ends among its {element.name}s", AGAIN)
    if int(sizes.sum()) > MOST_CORNERS:
        raise too_large()
    return starts, sizes, end


@compiled
def _walk(buffer: Bytes8, at: int, widths: Ints, counts: Ints, big: bool, place: int, starts: Ints, sizes: Ints) -> int:
    """Fills `starts` and `sizes`, row by row; gives where the rows end, -1 where that is beyond the buffer."""
    for row in range(len(starts)):
        for k in range(len(widths)):
            size = 1
            if counts[k] > 0:
                if at + counts[k] > len(buffer):
                    return -1
                size = 0
                for b in range(counts[k]):
                    shift = 8 * (counts[k] - 1 - b) if big else 8 * b
                    size += int(buffer[at + b]) << shift
                at += counts[k]
            if k == place:
                starts[row] = at
                sizes[row] = size
            at += size * widths[k]
            if at > len(buffer):
                return -1
    return at
