"""The chord error of facets against closed forms: r (1 - cos(pi / n)) of a polygon, and the distance from a sphere."""

import numpy as np
import pytest

from engine.measure.scan import Mesh
from engine.measure.scan.facets import Facets
from tests.measure.scan import bodies


@pytest.mark.parametrize("count", [24, 60, 200])
def test_strips_of_a_cylinder_are_off_by_the_sagitta_of_their_polygon(count):
    body = bodies.revolved(np.array([0.0, 20.0]), np.array([15.0, 15.0]), count, caps=False)
    sagitta = 15.0 * (1 - np.cos(np.pi / count))
    np.testing.assert_allclose(Facets.of(body).chord_mm, sagitta, rtol=2.0 / count)


def icosphere(times):
    """Even triangles on the unit sphere: an icosahedron, each face cut in four `times` times."""
    g = (1 + 5**0.5) / 2
    points = [(0, s, t * g) for s in (1, -1) for t in (1, -1)]
    points = np.array([np.roll(p, k) for p in points for k in range(3)], float)
    points /= np.linalg.norm(points[0])
    near = np.linalg.norm(points[:, None] - points[None], axis=2) < 1.1
    faces = [(a, b, c) for a in range(12) for b in range(a) for c in range(b) if near[a, b] & near[b, c] & near[a, c]]
    triangles = points[np.array(faces)]
    for _ in range(times):
        a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
        d, e, f = ((p + q) / np.linalg.norm(p + q, axis=1, keepdims=True) for p, q in ((a, b), (b, c), (c, a)))
        triangles = np.concatenate([np.stack(t, 1) for t in ((a, d, f), (d, b, e), (f, e, c), (d, e, f))])
    points, index = np.unique(np.round(triangles.reshape(-1, 3), 12), axis=0, return_inverse=True)
    return Mesh(vertices=points, faces=index.reshape(-1, 3))


def test_even_triangles_of_a_sphere_are_off_by_an_eighth_more_at_most():
    """The facets' senses are mixed here: that must not count as an edge."""
    ball = icosphere(4)
    true = 1 - np.linalg.norm(ball.vertices[ball.faces].mean(axis=1), axis=1)
    ratio = Facets.of(ball).chord_mm / true
    assert ratio.mean() == pytest.approx(1.125, abs=0.02)
    assert ratio.min() > 0.9 and ratio.max() < 1.3


def test_true_edges_and_facets_without_area_add_nothing():
    box = bodies.revolved(np.array([0.0, 10.0]), np.array([5.0, 5.0]), 4)
    assert (Facets.of(box).chord_mm == 0).all()
    sick = Mesh(vertices=box.vertices, faces=np.concatenate([box.faces, [[0, 1, 1], [2, 2, 2]]]))
    facets = Facets.of(sick)
    assert (facets.chord_mm == 0).all() and (facets.normal[-2:] == 0).all()
