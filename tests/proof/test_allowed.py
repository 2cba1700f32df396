"""Distances on the skin: both ways of looking for the nearest cell give the same, and what a plain search gives."""

import numpy as np
import pytest

from engine.blank import Sampled
from engine.kernel.values import Ask, Wanted
from engine.proof import allowed
from engine.proof.allowed import distance
from engine.proof.carve_pieces import Frame


def plainly(mask, radius, frame, cap):
    """The least of all distances, row by row with its own radius, in numpy."""
    nx, nt = mask.shape
    out = np.full((nx, nt), np.inf)
    for i, j in zip(*np.nonzero(mask), strict=True):
        aside = np.abs(np.arange(nt) - j)
        aside = np.minimum(aside, nt - aside) if frame.whole else aside
        away = np.hypot((np.arange(nx) - i)[:, None] * frame.dx, (aside * frame.dth * radius[i])[None, :])
        out = np.minimum(out, away)
    return np.where(out <= cap, out, np.inf)


@pytest.mark.parametrize("few_rows", [0, 10**6])
@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize(("cap", "share"), [(0.31, 0.02), (1.03, 0.002), (8.97, 0.001), (8.97, 0.2), (8.97, 0.0)])
def test_the_nearest_cell_of_the_art_however_far_is_looked(few_rows, whole, cap, share, monkeypatch):
    rng = np.random.default_rng(int(1000 * share) + whole)
    mask = rng.random((60, 80)) < share
    mask[20:30] = False
    radius = np.linspace(18.0, 23.0, 60)
    frame = Frame(0.0, 0.1, -1.0, 2.0 * np.pi / 80 if whole else 0.006, whole)
    monkeypatch.setattr(allowed, "FEW_ROWS", few_rows)
    found = distance(mask, radius, frame, cap)
    assert found.dtype == np.float32
    np.testing.assert_allclose(np.where(found <= cap, found, np.inf), plainly(mask, radius, frame, cap), rtol=1e-6)


def test_strokes_that_end_just_beside_graded_art_are_not_held_to_its_greatest_depth():
    """A depth is allowed there, by the art next to it, and none is asked."""
    depth = np.zeros((40, 60))
    depth[10:30, 10:50] = 0.2
    asks = np.where(depth > 0, Ask.GRADED, Ask.NOTHING).astype(np.uint8)
    asks[10:30, 40:] = np.where(depth[10:30, 40:] > 0, Ask.EVEN, Ask.NOTHING)
    x, theta = np.arange(40) * 0.05 + 20.0, np.arange(60) * 0.0025
    wanted = Wanted(x_mm=x, theta_rad=theta, depth_mm=depth, asks=asks, feed_mm_min=240.0, plunge_mm_min=80.0)
    skin = Sampled.of(np.full((7, 180), 20.0), 10.0, 40.0)
    may = allowed.allowed(wanted, skin, reach_mm=0.2)
    places = np.array([[9, 30], [20, 30], [20, 45], [9, 45], [0, 0]])
    at = x[places[:, 0]], theta[places[:, 1]]
    assert (may.at(*at)[:4] > 0).all()
    assert may.is_even(*at).tolist() == [False, False, True, False, False]
