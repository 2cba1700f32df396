"""The readers against files laid down word by word as the formats say, and against broken ones."""

from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import BlankError
from engine.measure.scan import Mesh, read_mesh
from tests.measure.scan import bodies

BODY = bodies.revolved(np.array([0.0, 10.0, 30.0]), np.array([5.0, 8.0, 4.0]), 7)
# A cube of edge 1 by its six quads, right-handed seen from outside.
CUBE = [[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]
QUADS = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
MIXED = [*QUADS[:5], [1, 5, 7], [1, 7, 3]]
ORDERS = ["ascii", "binary_little_endian", "binary_big_endian"]
FILES = {
    "stl binary": bodies.binary_stl(BODY),
    "stl solid": bodies.binary_stl(BODY, b"solid gourd"),
    "stl ascii": bodies.ascii_stl(BODY),
    "obj": bodies.obj(BODY.vertices, BODY.faces.tolist()),
    **{f"ply {order}": bodies.ply(BODY.vertices, BODY.faces.tolist(), order=order) for order in ORDERS},
    **{f"ply {order} more": bodies.ply(CUBE, MIXED, order=order, extra=True) for order in ORDERS},
}


def same_triangles(mesh, corners, tolerance):
    assert mesh.faces.shape == corners.shape[:2]
    np.testing.assert_allclose(mesh.vertices[mesh.faces], corners, atol=tolerance)


@pytest.mark.parametrize("name", [name for name in FILES if "more" not in name])
def test_every_format_gives_the_triangles_in_their_order(name):
    same_triangles(read_mesh(FILES[name]), BODY.vertices[BODY.faces], 1e-6 if "stl" in name else 0.0)


@pytest.mark.parametrize("name", ["stl binary", "stl ascii"])
def test_loose_triangles_are_welded(name):
    assert len(read_mesh(FILES[name]).vertices) == len(BODY.vertices)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("extra", [False, True])
@pytest.mark.parametrize("polygons", [QUADS, MIXED], ids=["quads", "mixed"])
def test_polygons_of_a_ply_are_fanned_and_other_properties_passed_over(order, extra, polygons):
    mesh = read_mesh(bodies.ply(CUBE, polygons, order=order, extra=extra))
    assert len(mesh.faces) == 12
    assert bodies.volume(mesh) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("corner", ["{}", "{0}/1", "{0}//1", "{0}/1/1"])
def test_polygons_of_an_obj_are_fanned_whatever_else_a_corner_names(corner):
    assert bodies.volume(read_mesh(bodies.obj(CUBE, MIXED, corner=corner))) == pytest.approx(1.0, abs=1e-12)


def test_an_obj_may_count_back_from_the_last_vertex():
    mesh = read_mesh(bodies.obj(CUBE, QUADS, first=-8))
    np.testing.assert_array_equal(mesh.faces, read_mesh(bodies.obj(CUBE, QUADS)).faces)
    early = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 0 0 1\nf -4 -3 -1\n"
    np.testing.assert_array_equal(read_mesh(early).faces, [[0, 1, 2], [0, 1, 3]])


def test_lines_may_end_as_on_any_machine_and_go_on():
    text = bodies.obj(CUBE, QUADS)
    for end in (b"\r\n", b"\r"):
        np.testing.assert_array_equal(read_mesh(text.replace(b"\n", end)).faces, read_mesh(text).faces)
    np.testing.assert_array_equal(read_mesh(text.replace(b"f 1 2", b"f 1 \\\n2")).faces, read_mesh(text).faces)
    for name in ("stl ascii", "ply ascii"):
        assert len(read_mesh(FILES[name].replace(b"\n", b"\r\n")).faces) == len(BODY.faces)


def test_two_solids_of_one_text_are_one_mesh():
    twice = FILES["stl ascii"] + FILES["stl ascii"].replace(b"float", b"of two words")
    assert len(read_mesh(twice).faces) == 2 * len(BODY.faces)


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("part", range(16))
def test_a_file_cut_short_is_refused(name, part):
    data = FILES[name][: len(FILES[name]) * part // 16]
    if name == "obj":  # holds no count: cut between two faces it is a mesh with a hole
        data = data[: data.rfind(b" ") + 1].rstrip(b" ") if b"\nf" in data else data
        data = data[: data.rfind(b"\n")] + b"\nf 1 2" if b"\nf" in data else data
    with pytest.raises(BlankError) as caught:
        read_mesh(data)
    assert caught.value.hint and caught.value.where == "/asset"


def changed(name, old, new):
    assert old in FILES[name]
    return FILES[name].replace(old, new, 1)


NAN = np.array(np.nan, "<f4").tobytes()
BROKEN = {
    "nothing": b"",
    "zeros": b"\0" * 4096,
    "a count of 2^32 - 1": FILES["stl binary"][:80] + b"\xff" * 4 + FILES["stl binary"][84:],
    "no triangles": FILES["stl binary"][:80] + b"\0" * 4,
    "a byte too many": FILES["stl binary"] + b"\0",
    "NaN in an STL": FILES["stl binary"][:96] + NAN + FILES["stl binary"][100:],
    "NaN in a text": changed("stl ascii", b"vertex 0", b"vertex nan"),
    "a facet of three words": changed("stl ascii", b"endsolid", b"facet normal endfacet\nendsolid"),
    "infinity": changed("obj", b"v 0", b"v 1e999"),
    "far away": changed("obj", b"v 0", b"v 1e7"),
    "a number with a mark": changed("obj", b"v 0", b"v 1_0"),
    "a word for a number": changed("ply ascii", b"\n0 5", b"\n0 five"),
    "vertex 0": changed("obj", b"\nf 1 ", b"\nf 0 "),
    "a vertex that is not there": changed("obj", b"\nf 1 ", b"\nf 99 "),
    "back too far": changed("obj", b"\nf 1 ", b"\nf -99 "),
    "an index beyond 64 bits": changed("obj", b"\nf 1 ", b"\nf 99999999999999999999 "),
    "a very long index": changed("obj", b"\nf 1 ", b"\nf " + b"9" * 5000 + b" "),
    "two corners": changed("obj", b"\nf 1 ", b"\nf 1 2\nf 1 "),
    "points alone": b"v 0 0 0\nv 1 0 0\nv 0 1 0\n",
    "a ply of points": changed("ply ascii", b"element face", b"element leaf"),
    "a ply of another version": changed("ply ascii", b"1.0", b"2.0"),
    "a ply with a huge count": changed("ply ascii", b"element vertex 23", b"element vertex 999999999"),
    "a ply with a negative count": changed("ply ascii", b"element vertex 23", b"element vertex -1"),
    "a ply with a count too large for its text": changed("ply ascii", b"element vertex 23", b"element vertex 24"),
    "a ply with a row too many": FILES["ply ascii"] + b"3 0 1 2\n",
    "a ply with bytes behind": FILES["ply binary_big_endian"] + b"\0",
    "a list of fractions": changed("ply binary_little_endian", b"uchar int vertex", b"uchar float vertex"),
    "a long list": FILES["ply binary_little_endian"].replace(b"\3" + bytes(4), b"\xff" + bytes(4)),
    "no x": changed("ply ascii", b"double x", b"double w"),
    "a page": b"<!doctype html><title>not a mesh</title>",
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8,
    "one long line": b"solid " + b"x" * (5 << 20),
    "a long word": b"solid\n" + b"facet " + b"x" * (5 << 20) + b"\nendfacet\nendsolid\n",
    "too many bytes": b"v " * (26 << 20),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_a_broken_file_is_refused_with_what_to_do(fault):
    with pytest.raises(BlankError) as caught:
        read_mesh(BROKEN[fault])
    assert caught.value.hint and caught.value.where == "/asset"


def read_or_refused(data):
    """Any other exception than a BlankError is the test's failure."""
    with suppress(BlankError):
        return read_mesh(data)


@given(
    st.sampled_from(sorted(FILES)),
    st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=6),
)
@settings(derandomize=True, deadline=None, max_examples=200)
def test_flipped_bytes_give_a_mesh_or_a_refusal(name, flips):
    data = bytearray(FILES[name])
    for share, value in flips:
        data[int(share * len(data))] = value
    mesh = read_or_refused(bytes(data))
    if mesh:
        assert np.isfinite(mesh.vertices).all() and len(mesh.faces) and mesh.faces.max() < len(mesh.vertices)


@given(st.binary(max_size=400), st.sampled_from([b"", b"solid\n", b"ply\nformat ascii 1.0\n", b"v 1 2 3\nf "]))
@settings(derandomize=True, deadline=None, max_examples=100)
def test_any_bytes_give_a_mesh_or_a_refusal(data, head):
    read_or_refused(head + data)


def test_a_mesh_cannot_be_written_to():
    mesh = Mesh(vertices=BODY.vertices, faces=BODY.faces)
    with pytest.raises(ValueError, match="read-only"):
        mesh.vertices[0, 0] = 1.0
