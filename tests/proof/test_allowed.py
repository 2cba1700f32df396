"""Distances on the skin: both ways of looking for the nearest cell give the same, and what a plain search gives."""

import numpy as np
import pytest

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
