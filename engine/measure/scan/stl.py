"""STL, binary and ASCII: loose triangles, whose equal corners are welded; the stored normals are not used.

Binary: 80 bytes, a little-endian uint32 count, 50 bytes a triangle (12 float32, 2 bytes), and nothing after. ASCII:
`solid`, then `facet normal ... outer loop vertex ... endloop endfacet`, then `endsolid`; one or more solids.
"""

import re

import numpy as np

from engine.kernel.arrays import Floats
from engine.measure.scan.mesh import AGAIN, MOST_FACES, Mesh, mesh_fault, welded
from engine.measure.scan.tokens import CHUNK, real_numbers

__all__ = ["is_binary_stl", "like_cut_stl", "read_ascii_stl", "read_binary_stl"]

HEAD, EACH = 84, 50
_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
_NAME = re.compile(rb"^[ \t]*(end)?solid\b[^\n]*$", re.MULTILINE)
# The words of one facet by place; what is left out is a number.
_WORDS = {0: b"facet", 1: b"normal", 5: b"outer", 6: b"loop", 7: b"vertex", 11: b"vertex", 15: b"vertex"} | {
    19: b"endloop",
    20: b"endfacet",
}
_FACET = 21


def is_binary_stl(data: bytes) -> bool:
    """The length is the one that the count asks for; an ASCII file hits that by chance once in 4e9."""
    return len(data) >= HEAD and len(data) == HEAD + EACH * _count(data)


def like_cut_stl(data: bytes) -> bool:
    """Binary, cut short or run on: the count can be believed, and the length is not what follows from it."""
    return len(data) > HEAD and 0 < _count(data) <= MOST_FACES and b"\0" in data


def read_binary_stl(data: bytes) -> Mesh:
    """The mesh; BlankError where count and length differ, there are no or too many triangles, or no numbers."""
    if len(data) < HEAD:
        raise mesh_fault("the file ends within its heading", AGAIN)
    count = _count(data)
    if len(data) != HEAD + EACH * count:
        held = (len(data) - HEAD) / EACH
        raise mesh_fault(f"the file says {count:,} triangles and holds {held:,.1f}", AGAIN)
    if count > MOST_FACES:
        raise mesh_fault(f"{count:,} triangles are too many", f"thin the mesh to at most {MOST_FACES:,}")
    return welded(np.frombuffer(data, _ROW, count, HEAD)["corners"].astype(np.float64))


def read_ascii_stl(data: bytes) -> Mesh:
    """The mesh; BlankError where a word is missing or strange, or the last solid does not end."""
    text = data.replace(b"\r", b"\n").lower()
    last = text.rfind(b"endsolid")
    if last < 0 or text[last:].partition(b"\n")[2].strip():
        raise mesh_fault("the last solid does not end", AGAIN)
    parts = []
    at, total = 0, 0
    while at < last:
        end = text.rfind(b"endfacet", at, min(at + CHUNK, last))
        if end < 0:
            break
        parts.append(_corners(text[at : end + 8], total))
        total += len(parts[-1])
        at = end + 8
    if _NAME.sub(b"", text[at:]).strip():
        raise mesh_fault(f"after triangle {total} stands something else than a facet", AGAIN)
    return welded(np.concatenate(parts) if parts else np.zeros((0, 3, 3)))


def _corners(text: bytes, before: int) -> Floats:
    """(k, 3, 3) the facets of a piece of text that ends with one."""
    words = _NAME.sub(b"", text).split()
    count, over = divmod(len(words), _FACET)
    if over or before + count > MOST_FACES or any(set(words[k::_FACET]) != {w} for k, w in _WORDS.items()):
        raise mesh_fault(f"between triangles {before + 1} and {before + count + 1} a facet is not whole", AGAIN)
    numbers = [word for k in (8, 12, 16) for j in range(3) for word in words[k + j :: _FACET]]
    what = f"a corner of triangles {before + 1} to {before + count}"
    return np.ascontiguousarray(real_numbers(numbers, what).reshape(3, 3, count).transpose(2, 0, 1))


def _count(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")
