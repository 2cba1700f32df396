"""Triangles of many sets of points beside the library's one mesh of them all, and the tree of an outline's edges
beside a look at all of them.
"""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from engine.kernel.ragged import Ragged
from engine.marking.medial import edges_of, meshed
from engine.marking.medial import mesh as room
from engine.marking.medial.edges import foot, nearest, nearest_from

RNG = np.random.default_rng(11)
SETS = [RNG.uniform(0, 1, (int(n), 2)) + (3.0 * k, 0) for k, n in enumerate(RNG.integers(20, 400, 30))]

POINTS, OWNER = np.concatenate(SETS), np.repeat(np.arange(len(SETS)), [len(one) for one in SETS])


def triangles(corners):
    return {tuple(sorted(three)) for three in corners.tolist()}


@pytest.mark.parametrize("batch", [1, 900, 10_000_000])
def test_every_set_has_its_triangles_of_the_librarys_one_mesh_however_it_is_batched(batch, monkeypatch):
    """A triangle whose circle is empty of all points is empty of those of its batch."""
    monkeypatch.setattr(room, "BATCH", batch)
    mixed = RNG.permutation(len(OWNER))
    points, owner = POINTS[mixed], OWNER[mixed]
    corners, _ = meshed(points, owner)
    whole = Delaunay(points).simplices
    assert triangles(whole[(owner[whole] == owner[whole[:, :1]]).all(axis=1)]) <= triangles(corners)
    assert len(triangles(corners)) == len(corners)


def test_what_lies_beyond_a_side_shares_that_side(monkeypatch):
    monkeypatch.setattr(room, "BATCH", 900)
    corners, beside = meshed(POINTS, OWNER)
    t, k = np.nonzero(beside >= 0)
    shared = [len(set(corners[a]) & set(corners[b])) for a, b in zip(t, beside[t, k], strict=True)]
    assert set(shared) == {2}
    assert not (corners[beside[t, k]] == corners[t, k][:, None]).any()  # the corner against the side is not of it
    sides = np.sort(corners[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2), axis=1)
    _, times = np.unique(sides, axis=0, return_counts=True)
    assert (beside < 0).sum() == (times == 1).sum()


@pytest.mark.parametrize("metric", [(1.0, 0.0, 1.0), (0.4, 0.0, 1.0), (0.7, 0.35, 1.2), (2.0, -1.2, 0.8)])
def test_the_nearest_edge_is_the_one_that_a_look_at_all_edges_finds(metric):
    """In any metric, whether the search begins with no edge, a near one or a far one."""
    t = np.linspace(0, 2 * np.pi, 301)
    rings = [
        np.stack([r * np.cos(t) + x, r * np.sin(t) + y], 1) for x, y, r in RNG.uniform(0.5, 9, (12, 3)) * (1, 1, 0.2)
    ]
    for one in rings:
        one[-1] = one[0]
    edges = edges_of(Ragged.of(rings))
    for x, y in RNG.uniform(-2, 12, (60, 2)):
        all_of_them = min(foot(edges.line, i, x, y, *metric)[0] for i in range(len(edges.line)))
        found = nearest(edges.line, edges.box, edges.leaf, x, y, *metric, np.inf)
        assert found[0] == pytest.approx(all_of_them, rel=1e-12)
        assert foot(edges.line, found[1], x, y, *metric)[0] == found[0]
        for begin in (found[1], int(RNG.integers(len(edges.line)))):
            assert nearest_from(edges.line, edges.box, edges.leaf, begin, x, y, *metric)[0] == found[0]
