"""The look at a file that has just come in: each kind by its bytes, and what is refused at the door."""

import struct

import numpy as np
import pytest

from engine.files import describe
from engine.kernel.errors import BlankError, NotArtworkError, TooBigError

GRID = [(x, a, 20 + 0.1 * x) for x in (0, 5, 10, 15, 20) for a in range(0, 360, 45)]


def table(rows, head="x_mm,angle_deg,radius_mm"):
    return "\n".join([head, *(",".join(map(str, row)) for row in rows), ""]).encode()


def stl(faces, heading=b"fair"):
    corners = np.random.default_rng(1).normal(size=(faces, 12)).astype("<f4")
    rows = b"".join(row.tobytes() + b"\0\0" for row in corners)
    return heading.ljust(80, b" ") + struct.pack("<I", faces) + rows


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (table(GRID), "table"),
        (table(GRID[:-1]), "readings"),
        (table([*GRID, GRID[3]]), "readings"),
        (table([(*row[:2], row[2] if row[0] else 0) for row in GRID]), "readings"),  # closed at the axis
        (table([(*row[:2], "") if k == 7 else row for k, row in enumerate(GRID)]), "readings"),
        (table([(*row[:2], "") if k == 7 else row for k, row in enumerate(GRID)], head="x,a,r"), "readings"),
        (
            b"ok\n[touch:1.000,2.000,-3.4,90.0:1]\n[touch:1.000,2.000,-3.4,99.0:1]\n[touch:1,2,-3.4,108.0:1]\n",
            "readings",
        ),
        (b"1 2 3\n4 5 6\r\n7 8 9", "readings"),
        (stl(12), "mesh"),
        (stl(4, heading=b"solid but binary"), "mesh"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "mesh"),
    ],
)
def test_each_kind_is_told_by_its_bytes(data, kind):
    assert describe(data).kind == kind


@pytest.mark.parametrize(
    "data",
    [stl(40)[:-7], stl(40)[:900], stl(40) + b"\0", b"ply\nformat ascii 1.0\n", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n"],
)
def test_a_mesh_that_is_not_whole_is_refused_with_what_to_do(data):
    with pytest.raises(BlankError) as told:
        describe(data)
    assert told.value.hint


@pytest.mark.parametrize(
    "rows",
    [
        [*GRID[:9], (5, 45, "wide"), *GRID[10:]],
        [*GRID[:9], (5, 45, -3), *GRID[10:]],
        [(x, a, str(r).replace(".", ",")) for x, a, r in GRID],
    ],
)
def test_a_table_with_a_wrong_reading_is_refused_at_the_door(rows):
    with pytest.raises(BlankError):
        describe(table(rows))


@pytest.mark.parametrize(
    "data", [b"", b"hello\n", b"1 2\n3 4\n5 6\n", bytes(range(256)), b"\xff\xfe1 2 3\n4 5 6\n7 8 9\n"]
)
def test_what_is_nothing_of_use_is_refused(data):
    with pytest.raises(NotArtworkError):
        describe(data)


def test_readings_have_a_limit():
    with pytest.raises(TooBigError):
        describe(b"1 2 3\n" * (9 << 20 >> 2))
