"""A mesh from the bytes of a file: which kind it is is told from the bytes, never from a name."""

from engine.measure.scan.mesh import MOST_BYTES, Mesh, mesh_fault
from engine.measure.scan.obj import read_obj
from engine.measure.scan.ply import read_ply
from engine.measure.scan.stl import is_binary_stl, read_ascii_stl, read_binary_stl

__all__ = ["read_mesh"]

_LOOK = 64 << 10  # bytes at the head that have to be text in a file of text


def read_mesh(data: bytes) -> Mesh:
    """The mesh of an STL (binary, ASCII), OBJ or PLY (ascii, binary) file, in the file's own unit.

    A length that fits the count makes a binary STL, whatever its heading says (some begin with "solid").

    Raises
    ------
    BlankError, with what to do: larger than 50 MiB or 1,000,000 triangles, cut short, numbers that are none, indices
    out of range, no faces, another kind of file.
    """
    if len(data) > MOST_BYTES:
        raise mesh_fault(
            f"the file has {len(data) / 2**20:.0f} MiB", f"thin the mesh to at most {MOST_BYTES >> 20} MiB"
        )
    if not data.strip(b"\0 \t\r\n"):
        raise mesh_fault("the file is empty", "export the scan again")
    head = data[:_LOOK].lstrip()[:6].lower()
    if is_binary_stl(data):
        return read_binary_stl(data)
    if head[:3] == b"ply" and head[3:4] in (b"\n", b"\r"):
        return read_ply(data)
    if b"\0" in data[:_LOOK]:
        return read_binary_stl(data)
    if head[:5] == b"solid":
        return read_ascii_stl(data)
    return read_obj(data)
