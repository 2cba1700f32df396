"""The uphill law, held against a dense look at every piece; and that nothing is lost or cut twice."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.blank import Cylinder
from engine.kernel.tolerance import Tolerance
from engine.toolpath import Laid, climb
from tests.blank.skins import SKINS
from tests.toolpath.analytic import GENTLE, ROUGH, Formula

TOLERANCE = Tolerance()


def laid_of(*lines, reversible=True):
    """Laid strokes of the given (k, 2) lines of x mm and theta rad, at a depth that tells places apart."""
    points = np.concatenate([np.asarray(one, float) for one in lines])
    return Laid(
        x_mm=points[:, 0],
        theta_rad=points[:, 1],
        depth_mm=0.1 + 1e-3 * np.arange(len(points)),
        offsets=np.cumsum([0] + [len(one) for one in lines]),
        reversible=np.full(len(lines), reversible),
    )


def seen(laid, skin, stroke, parts=200):
    """(r, length so far) at `parts` places in every move of a stroke."""
    at = slice(laid.offsets[stroke], laid.offsets[stroke + 1])
    x, theta = laid.x_mm[at], laid.theta_rad[at]
    t = np.linspace(0, len(x) - 1, parts * (len(x) - 1) + 1)
    x, theta = np.interp(t, np.arange(len(x)), x), np.interp(t, np.arange(len(theta)), theta)
    r = skin.radius(x, theta)
    way = np.sqrt(np.diff(x) ** 2 + np.diff(r) ** 2 + (r[1:] * np.diff(theta)) ** 2)
    return r, np.concatenate([[0.0], np.cumsum(way)])


def downhill_share(laid, skin, level):
    """Share of all the length that lies further below the highest skin reached than `level`."""
    low = total = 0.0
    for stroke in range(len(laid)):
        r, way = seen(laid, skin, stroke)
        below = np.maximum.accumulate(r) - r > level
        low, total = low + (np.diff(way) * below[1:]).sum(), total + way[-1]
    return low / total


def length(laid, skin):
    return sum(seen(laid, skin, stroke)[1][-1] for stroke in range(len(laid)))


ALONG = [[3.0, 0.2], [11.0, 1.0], [14.0, 0.4]]
AROUND = np.stack([np.full(41, 8.0), np.linspace(1, 1 + 2 * np.pi, 41)], 1)
RING = np.stack([8 + 3 * np.cos(np.linspace(0, 2 * np.pi, 41)), 0.3 * np.sin(np.linspace(0, 2 * np.pi, 41))], 1)


@pytest.mark.parametrize("skin", [GENTLE, ROUGH], ids=["gentle", "rough"])
def test_every_piece_climbs_and_nothing_is_lost(skin):
    laid = laid_of(ALONG, AROUND, RING)
    pieces = climb(laid, skin, tolerance=TOLERANCE)
    assert downhill_share(laid, skin, TOLERANCE.level_mm) > 0.2
    assert downhill_share(pieces, skin, TOLERANCE.level_mm) < 1e-3
    assert length(pieces, skin) == pytest.approx(length(laid, skin), rel=1e-4)
    assert not pieces.reversible.any()


@given(
    st.floats(0.0, 2.0),
    st.floats(0.0, 0.012),
    st.floats(0.3, 3.0),
    st.lists(st.tuples(st.floats(1.0, 29.0), st.floats(-3.0, 3.0)), min_size=2, max_size=6),
)
@settings(derandomize=True, deadline=None, max_examples=40)
def test_less_than_a_thousandth_runs_downhill_on_any_noisy_skin(hill, noise, pitch, points):
    skin = Formula(
        lambda x, t: 15 + hill * np.sin(x / 5 + 2 * np.cos(t)) + noise * np.sin(6 * x / pitch) * np.cos(20 * t),
        (0.0, 30.0),
    )
    line = np.array(points)
    line[1:] += np.arange(1, len(line))[:, None] * 1e-3  # no two points alike
    line[:, 0] = np.clip(line[:, 0], 0.5, 29.5)
    laid = laid_of(line)
    pieces = climb(laid, skin, tolerance=TOLERANCE)
    assert downhill_share(pieces, skin, TOLERANCE.level_mm) < 1e-3
    assert length(pieces, skin) == pytest.approx(length(laid, skin), rel=1e-3, abs=1e-6)


def test_level_strokes_stay_whole_and_reversible():
    cylinder = Cylinder(diameter_mm=30, length_mm=40)
    laid = laid_of(ALONG, AROUND, RING)
    pieces = climb(laid, cylinder, tolerance=TOLERANCE)
    np.testing.assert_array_equal(pieces.offsets, laid.offsets)
    np.testing.assert_array_equal(pieces.x_mm, laid.x_mm)
    np.testing.assert_array_equal(pieces.theta_rad, laid.theta_rad)
    assert pieces.reversible.all()


def test_noise_below_the_level_is_no_hill_and_more_is():
    def noisy(height):
        return Formula(lambda x, t: 15 + 0.5 * height * np.sin(3 * x) + 0 * t, (0.0, 40.0), is_round=True)

    laid = laid_of([[2.0, 0.0], [38.0, 0.0]])
    assert len(climb(laid, noisy(0.018), tolerance=TOLERANCE)) == 1
    assert len(climb(laid, noisy(0.03), tolerance=TOLERANCE)) == 35  # crests and hollows between 2 and 38 mm: 34


def test_a_stroke_that_may_not_be_turned_stays_so_where_it_is_level():
    cylinder = Cylinder(diameter_mm=30, length_mm=40)
    assert not climb(laid_of(ALONG, reversible=False), cylinder, tolerance=TOLERANCE).reversible.any()


def test_a_falling_stroke_is_cut_from_its_other_end():
    cone = SKINS["cone"]  # narrower as x grows
    laid = laid_of([[10.0, 0.0], [20.0, 0.1], [40.0, 0.2]])
    pieces = climb(laid, cone, tolerance=TOLERANCE)
    np.testing.assert_array_equal(pieces.x_mm, [40.0, 20.0, 10.0])
    np.testing.assert_array_equal(pieces.depth_mm, laid.depth_mm[::-1])
    assert not pieces.reversible.any()


@pytest.mark.parametrize("start", [0, 7, 23])
def test_a_ring_over_one_hill_is_two_pieces_wherever_it_was_closed(start):
    """Around an off-centre blank r has one crest and one hollow."""
    skin = Formula(lambda x, t: 15 + 0.5 * np.cos(t - 0.3) + 0 * x, (0.0, 20.0))
    angle = 2 * np.pi * (np.arange(41) + start) / 40
    pieces = climb(laid_of(np.stack([np.full(41, 8.0), angle], 1)), skin, tolerance=TOLERANCE)
    assert len(pieces) == 2
    assert downhill_share(pieces, skin, TOLERANCE.level_mm) == 0.0
    assert length(pieces, skin) == pytest.approx(2 * np.pi * 15, rel=1e-3)
    crest = pieces.theta_rad[pieces.offsets[1:] - 1]
    np.testing.assert_allclose(np.cos(crest - 0.3), 1.0, atol=1e-3)
    rise, fall = np.diff(pieces.theta_rad[:22]), np.diff(pieces.theta_rad[22:])
    assert (rise > 0).all() and (fall < 0).all() and max(rise.max(), -fall.min()) < 2 * np.pi / 40 + 1e-9


def test_points_and_empty_input():
    dot = climb(laid_of([[5.0, 0.0]], [[6.0, 0.0], [9.0, 0.0]]), SKINS["cone"], tolerance=TOLERANCE)
    assert len(dot) == 2 and dot.x_mm[0] == 5.0
    none = laid_of(np.zeros((0, 2)))
    assert climb(none, GENTLE, tolerance=TOLERANCE) is none
