"""Placing: mirror, size and turn, in that order, about the art's centre."""

import numpy as np
import pytest

from engine.artwork import Drawing
from engine.kernel.errors import LayoutError
from engine.kernel.ragged import Ragged
from engine.layout import Placement, place

FLAG = np.array([[-4.0, -2], [4, -2], [4, 2], [-4, -2]])


def drawing(**more):
    return Drawing(width_mm=8, height_mm=4, rings=Ragged.of([FLAG]), lines=Ragged.of([FLAG[:2]]), **more)


def area(p):
    return 0.5 * (p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1]).sum()


def test_width_keeps_the_proportion_both_stretch_none_takes_the_files_size():
    for words, size in (
        ({"width_mm": 16}, (16, 8)),
        ({"height_mm": 2}, (4, 2)),
        ({"width_mm": 10, "height_mm": 10}, (10, 10)),
        ({}, (8, 4)),
    ):
        placed = place(drawing(), Placement(x_mm=0, **words))
        assert (placed.width_mm, placed.height_mm) == size
        assert np.ptp(placed.rings.points, axis=0) == pytest.approx(size)


def test_mirror_then_turn_counter_clockwise_and_exteriors_stay_counter_clockwise():
    placed = place(drawing(), Placement(x_mm=0, mirror=True, turn_deg=90))
    assert {tuple(np.round(p, 9) + 0.0) for p in placed.rings.points} == {(2, 4), (2, -4), (-2, -4)}
    assert area(placed.rings.points) == pytest.approx(16)
    assert placed.lines.points[0] == pytest.approx([2, 4])


def test_art_without_a_size_needs_one():
    with pytest.raises(LayoutError, match="states no size"):
        place(drawing(has_size=False), Placement(x_mm=0))


@pytest.mark.parametrize("words", [{"width_mm": 0}, {"height_mm": np.nan}, {"width_mm": np.inf}, {"turn_deg": np.nan}])
def test_what_is_no_size_or_turn_is_refused(words):
    with pytest.raises(LayoutError, match="placement/"):
        Placement(x_mm=0, **words)
