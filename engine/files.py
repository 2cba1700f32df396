"""A look at a file that has just come in: what it is, and whether it can be what it says.

Pictures and drawings are for art, photographs among them; tables, readings and meshes are for a blank. A table is a
whole measured grid, ready for a job; readings are text with numbers in columns, whatever their names: a table with
cells missing, the log of a controller. They are read for good where they are used, with what they were taken with.
"""

import re

from engine.artwork import Description
from engine.artwork import describe as described
from engine.blank import check_grid
from engine.kernel.errors import GapsError, NotArtworkError, TooBigError
from engine.measure.scan import is_binary_stl, like_cut_stl, read_mesh

__all__ = ["describe"]

LEAST_ROWS = 3  # lines with as many numbers each make a text a text of readings
MOST_READINGS = 8 << 20  # bytes
HEAD = 4096  # bytes in which a mesh of text shows itself
_NUMBER = re.compile(rb"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")
_VERTEX = re.compile(rb"^v[ \t]+[-+.0-9eE]+[ \t]+[-+.0-9eE]+[ \t]+[-+.0-9eE]+", re.MULTILINE)


def describe(data: bytes) -> Description:
    """What the bytes are, at little cost; a table's readings and a mesh are checked.

    Raises
    ------
    NotArtworkError, TooBigError; BlankError where no blank can be made of a table's readings, or of a mesh.
    """
    if _like_a_mesh(data):
        return _mesh(data)
    try:
        description = described(data)
    except NotArtworkError:
        if _like_readings(data):
            return _readings(data)
        if like_cut_stl(data):
            return _mesh(data)
        raise
    if description.kind == "table":
        return _table(data, description)
    return description


def _table(data: bytes, description: Description) -> Description:
    try:
        check_grid(data)
    except GapsError:
        return _readings(data)
    return description


def _mesh(data: bytes) -> Description:
    mesh = read_mesh(data)
    width, height = float(len(mesh.vertices)), float(len(mesh.faces))
    return Description(kind="mesh", media_type="model/mesh", width=width, height=height, has_size=False)


def _readings(data: bytes) -> Description:
    if len(data) > MOST_READINGS:
        raise TooBigError(f"the text has {len(data):,} bytes of at most {MOST_READINGS:,}", where="file")
    rows = data.count(b"\n") + 1
    return Description(kind="readings", media_type="text/plain", width=0.0, height=float(rows), has_size=False)


def _like_a_mesh(data: bytes) -> bool:
    head = data[:HEAD].lstrip()
    return (
        is_binary_stl(data)
        or head[:4] in (b"ply\n", b"ply\r")
        or (head[:5].lower() == b"solid" and b"facet" in head.lower())
        or (b"\0" not in head and _VERTEX.search(data[: 16 * HEAD]) is not None)
    )


def _like_readings(data: bytes) -> bool:
    if b"\0" in data[:HEAD]:
        return False
    lines = (line for line in data[: 64 * HEAD].splitlines() if len(_NUMBER.findall(line)) >= LEAST_ROWS)
    return sum(1 for _ in zip(lines, range(LEAST_ROWS), strict=False)) == LEAST_ROWS and _is_text(data)


def _is_text(data: bytes) -> bool:
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    return True
