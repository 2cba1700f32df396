"""A person's mends do what they say, and nothing elsewhere."""

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure.photographs import Mend, find_edge
from tests.measure.photographs import pieces, renderer


@pytest.fixture(scope="module")
def picture():
    return renderer.photograph(pieces.OVAL, 0.0, renderer.Setting(width=1200, height=800, px_per_mm=8.0), seed=2)[0]


@pytest.fixture(scope="module")
def edge(picture):
    return find_edge(picture)


def nearest(points, place):
    return float(np.hypot(*(points - place).T).min())


def box(x0, y0, x1, y1):
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def test_without_a_mend_nothing_changes(picture, edge):
    again = find_edge(picture, mend=Mend())
    assert np.array_equal(again.points_px, edge.points_px) and np.array_equal(again.ok, edge.ok)


def test_a_dark_thing_beside_the_piece_is_taken_out(picture, edge):
    dirty = picture.copy()
    low = int(edge.points_px[:, 1].max())
    dirty[low - 6 : low + 60, 560:640] = (60, 40, 30)
    spoilt = find_edge(dirty)
    assert spoilt.points_px[:, 1].max() > low + 50
    mended = find_edge(dirty, mend=Mend(exclude=(box(540, low + 4, 660, low + 90),)))
    assert mended.points_px[:, 1].max() < low + 12
    far = np.abs(edge.points_px[:, 0] - 600) > 80
    assert max(nearest(mended.points_px, p) for p in edge.points_px[far]) < 1.6  # half a step of the outline


def test_a_pale_spot_that_was_left_out_is_taken_in(picture, edge):
    pale = picture.copy()
    top = int(edge.points_px[:, 1].min())
    pale[: top + 60, 500:700] = picture[20, 600]
    spoilt = find_edge(pale)
    assert nearest(spoilt.points_px, (600, top)) > 40
    mended = find_edge(pale, mend=Mend(include=(box(500, top, 700, top + 80),)))
    assert nearest(mended.points_px, (600, top)) < 4
    here = np.abs(mended.points_px - (600, top)).max(axis=1) < 30
    assert not mended.ok[here].any()  # nobody saw an edge there


def test_exclude_is_laid_over_include(picture, edge):
    both = find_edge(picture, mend=Mend(include=(box(400, 0, 800, 790),), exclude=(box(380, 0, 820, 790),)))
    alone = find_edge(picture, mend=Mend(exclude=(box(380, 0, 820, 790),)))
    assert np.array_equal(both.points_px, alone.points_px)
    assert np.ptp(alone.points_px[:, 0]) < 0.5 * np.ptp(edge.points_px[:, 0])


def test_a_moved_place_is_passed_through_and_taken_at_the_persons_word(picture, edge):
    place = edge.points_px[len(edge.points_px) // 3]
    goals = [place + (3.0, 14.0), place + (26.0, 10.0)]
    hold = [place, edge.points_px[np.hypot(*(edge.points_px - goals[1]).T).argmin()]]
    mended = find_edge(picture, mend=Mend(moved=tuple(np.array([a, b]) for a, b in zip(hold, goals, strict=True))))
    for goal in goals:
        assert nearest(mended.points_px, goal) < 1e-9
        assert mended.ok[np.hypot(*(mended.points_px - goal).T).argmin()]
    changed = np.hypot(*(mended.points_px - edge.points_px).T) > 0
    assert changed.sum() < 80 and mended.ok[changed].all()
    assert np.array_equal(mended.ok[~changed], edge.ok[~changed])


def test_a_place_that_is_confirmed_where_it_stands_counts_as_measured(picture, edge):
    unclear = int(np.flatnonzero(~edge.ok)[0])
    place = edge.points_px[unclear]
    mended = find_edge(picture, mend=Mend(moved=(np.array([place, place]),)))
    assert mended.ok[unclear] and mended.points_px == pytest.approx(edge.points_px)


def test_a_place_far_from_the_outline_moves_nothing_and_is_told(picture, edge):
    mended = find_edge(picture, mend=Mend(moved=(np.array([[600.0, 400.0], [600.0, 300.0]]),)))
    assert np.array_equal(mended.points_px, edge.points_px)
    assert [f.code for f in mended.findings] == ["mend-far"]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("include", [[0, 0], [1, 1]]),
        ("exclude", [[0, 0], [1, 1], [np.nan, 2]]),
        ("moved", [[0, 0], [1, 1], [2, 2]]),
        ("moved", [[0, 0]]),
        ("include", [1, 2, 3]),
        ("include", "here"),
    ],
)
def test_what_makes_no_mend_is_refused_with_its_place(field, value):
    with pytest.raises(BlankError) as told:
        Mend(**{field: (value,)})
    assert told.value.where == f"/mend/{field}/0" and told.value.hint
