"""Parts of a mesh that hang together, and what is told of those beside the piece."""

import numpy as np
import pytest

from engine.kernel.findings import Severity
from engine.measure.scan import Mesh, scan_skin
from engine.measure.scan.parts import parts
from tests.measure.scan import bodies
from tests.measure.scan.bodies import ALONG_X

BODY = bodies.revolved(np.linspace(0, 80, 41), np.full(41, 30.0), 90)
STRAY = Mesh(vertices=np.array([[40.0, 60, 0], [42, 60, 0], [40, 62, 1]]), faces=np.array([[0, 1, 2]]))
TABLE = Mesh(
    vertices=np.array([[-50.0, -200, -40], [150, -200, -40], [150, 200, -40], [-50, 200, -40]]),
    faces=np.array([[0, 1, 2], [0, 2, 3]]),
)
FLAT_END = Mesh(vertices=np.array([[-20.0, 1, 1], [-20, 9, 1], [-20, 1, 9]]), faces=np.array([[0, 1, 2]]))


def together(*meshes):
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = [mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]
    return Mesh(vertices=np.concatenate([mesh.vertices for mesh in meshes]), faces=np.concatenate(faces))


def told(mesh):
    return [one for one in scan_skin(mesh, ALONG_X).findings if one.code == "loose-parts"]


def test_faces_with_corners_of_their_own_are_one_part_where_the_places_are_the_same():
    loose = Mesh(vertices=BODY.vertices[BODY.faces].reshape(-1, 3), faces=np.arange(3 * len(BODY.faces)).reshape(-1, 3))
    assert parts(loose).max() == 0 and parts(BODY).max() == 0
    assert sorted(np.bincount(parts(together(loose, STRAY, TABLE)))) == [1, 2, len(BODY.faces)]


@pytest.mark.parametrize("other", [STRAY, TABLE, FLAT_END])
def test_a_part_beside_the_piece_is_a_warning_with_its_place(other):
    (one,) = told(together(BODY, other))
    assert one.severity is Severity.WARNING and "1 of the scan's 2 parts" in one.message
    assert one.where.x_mm == pytest.approx(other.vertices[other.faces].mean(axis=(0, 1))[0], abs=0.01)
    assert "table" in one.advice


def test_of_several_the_biggest_is_named_and_all_are_counted():
    (one,) = told(together(TABLE, BODY, STRAY))
    assert "2 of the scan's 3 parts" in one.message and "the biggest has 2 triangles" in one.message


def test_an_inner_wall_is_only_noted_and_a_piece_of_one_part_is_not():
    inner = bodies.revolved(np.linspace(5, 75, 15), np.full(15, 25.0), 60)
    (one,) = told(together(BODY, inner))
    assert one.severity is Severity.NOTE and "inside" in one.message
    assert not told(BODY)
