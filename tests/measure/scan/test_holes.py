"""Filling of unmet places, its error, and which places belong together."""

from itertools import pairwise

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure.scan import holes
from engine.measure.scan.holes import depth_mm, filled, miss_mm, regions

X = np.arange(120) * 0.5
THETA = np.arange(180) * (2 * np.pi / 180)
ARC = 25 * 2 * np.pi / 180


def lobed(x=X[:, None], theta=THETA):
    return 25 + 3 * np.sin(x / 12) + 1.2 * np.cos(3 * theta + x / 40) + 0.4 * np.cos(5 * theta)


def disc(x_mm, angle_rad, radius_mm):
    around = 25 * np.angle(np.exp(1j * (THETA - angle_rad)))
    return np.hypot(X[:, None] - x_mm, around) >= radius_mm


def test_regions_hang_together_over_the_seam_and_come_largest_first():
    mask = np.zeros((6, 9), bool)
    mask[1:3, :2] = mask[2:4, 8] = True
    mask[5, 4] = mask[4, 5] = True  # touch by a corner: two places
    parts = regions(mask)
    assert [len(row) for row, _ in parts] == [6, 1, 1]
    assert set(parts[0][1]) == {0, 1, 8}
    assert regions(np.zeros((3, 4), bool)) == []


def test_depth_is_the_distance_to_the_nearest_known_cell_over_the_seam():
    known = np.ones((5, 12), bool)
    known[:, [10, 11, 0]] = False
    np.testing.assert_allclose(depth_mm(known, 0.5, 2.0)[2], [2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 2, 4])
    known[:] = True
    known[1:4] = False
    np.testing.assert_allclose(depth_mm(known, 0.5, 2.0)[:, 3], [0, 0.5, 1.0, 0.5, 0])


def test_a_filling_leaves_what_is_known_and_is_even_round_the_seam():
    known = disc(30.0, 0.0, 6.0)
    values = np.where(known, lobed(), np.nan_to_num(lobed() * 0))
    whole = filled(values, known, 0.5, ARC)
    np.testing.assert_array_equal(whole[known], values[known])
    rolled = filled(np.roll(values, 57, axis=1), np.roll(known, 57, axis=1), 0.5, ARC)
    np.testing.assert_allclose(np.roll(rolled, -57, axis=1), whole, atol=1e-9)


def test_a_plate_has_no_bending_to_add_to_a_plane():
    """What bends nowhere is filled exactly: r linear in x, the same all around."""
    cone = 10 + 0.2 * X[:, None] + 0 * THETA
    known = disc(30.0, 1.0, 9.0) & disc(20.0, 3.0, 4.0)
    np.testing.assert_allclose(filled(np.where(known, cone, 0.0), known, 0.5, ARC), cone, atol=1e-7)


@pytest.mark.parametrize("size", [3.0, 7.0, 16.0])
def test_the_stated_error_of_a_filling_predicts_its_true_error(size):
    """Over eight places of the piece: neither too small nor more than some times too large, and grows with size."""
    ratios = []
    for x in (22.0, 37.0):
        for angle in np.arange(4) * 0.52:
            known = disc(x, angle, size)
            values = np.where(known, lobed(), 0.0)
            miss = miss_mm(values, known, 0.5, ARC)
            error = filled(values, known, 0.5, ARC) - lobed()
            assert (miss[known] == 0).all() and (miss[~known] > 0).all()
            ratios.append((error[~known] ** 2).mean() / (miss[~known] ** 2).mean())
    assert 0.2 < np.sqrt(np.mean(ratios)) < 0.9


def test_the_error_grows_with_the_hole():
    sizes = [2.0, 5.0, 9.0, 14.0]
    worst = []
    for size in sizes:
        known = disc(30.0, 2.0, size)
        worst.append(miss_mm(np.where(known, lobed(), 0.0), known, 0.5, ARC).max())
    assert all(b > 2 * a for a, b in pairwise(worst))


def test_a_hole_beyond_all_that_can_be_learnt_has_a_wide_error():
    known = np.zeros((40, 12), bool)
    known[:3] = known[-3:] = True
    values = np.where(known, 20.0, 0.0)
    assert miss_mm(values, known, 1.0, 10.0)[20].min() > 2.0


def test_too_much_to_fill_is_refused(monkeypatch):
    monkeypatch.setattr(holes, "MOST_FILLED", 10)
    with pytest.raises(BlankError) as caught:
        filled(lobed(), disc(30.0, 2.0, 5.0), 0.5, ARC)
    assert caught.value.hint
