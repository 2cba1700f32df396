"""Skins as pieces of paper: true where they say so, by closed forms and by lengths in space."""

import numpy as np
import pytest

from engine.blank import Cone, Cylinder, Ovoid
from engine.paper.flat import EDGE_MM, flats_of
from tests.blank.skins import SKINS, in_space

UNROLL = [Cylinder(diameter_mm=40, length_mm=90), Cone(diameter_mm=60, end_diameter_mm=36, length_mm=80)]
BALL = Ovoid(length_mm=50, breadth_mm=50, shift_mm=0, quarter_diameter_mm=50 * np.sqrt(3) / 2)


def length(points):
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


@pytest.mark.parametrize("skin", UNROLL, ids=lambda s: type(s).__name__)
@pytest.mark.parametrize("seam", [np.pi, 0.4])
def test_a_sleeve_keeps_every_length(skin, seam):
    """Short ways in any direction: a chord of 0.01 mm on a radius of 18 is short by 1e-10 of it."""
    (sleeve,) = flats_of(skin, seam)
    rng = np.random.default_rng(1)
    x = rng.uniform(1, skin.x_range_mm[1] - 1, 200)
    theta = rng.uniform(*sleeve.theta_rad, 200)
    step = 0.01 * rng.normal(size=(2, 200))
    there, then = in_space(skin, x, theta), in_space(skin, x + step[0], theta + step[1] / 20)
    paper, after = sleeve.on_paper(x, theta), sleeve.on_paper(x + step[0], theta + step[1] / 20)
    assert np.linalg.norm(after - paper, axis=1) == pytest.approx(np.linalg.norm(then - there, axis=1), rel=1e-5)
    assert sleeve.theta_rad == pytest.approx((seam, seam + 2 * np.pi))
    assert sleeve.edge_mm == pytest.approx(0.0, abs=1e-6)


def test_a_cylinders_sleeve_is_its_girth_by_its_length():
    (sleeve,) = flats_of(UNROLL[0], np.pi)
    left, bottom, right, top = sleeve.box
    assert (right - left, top - bottom) == pytest.approx((np.pi * 40, 90.0))


@pytest.mark.parametrize("name", ["ball", *sorted(set(SKINS) - {"cylinder", "cone"})])
def test_gores_go_once_round_and_are_true_on_parallels_and_their_middle(name):
    skin = BALL if name == "ball" else SKINS[name]
    gores = flats_of(skin, np.pi)
    ends = [gore.theta_rad for gore in gores]
    assert ends[0][0] == pytest.approx(np.pi) and ends[-1][1] == pytest.approx(3 * np.pi)
    assert [high for _, high in ends[:-1]] == pytest.approx([low for low, _ in ends[1:]])
    low, high = skin.x_range_mm
    for gore in gores[:: max(1, len(gores) // 3)]:
        first, last = gore.theta_rad
        middle = 0.5 * (first + last)
        up = np.linspace(low + 0.05 * (high - low), high - 0.05 * (high - low), 2001)
        along = np.full(2001, middle)
        assert length(gore.on_paper(up, along)) == pytest.approx(length(in_space(skin, up, along)), abs=0.02)
        for x in np.linspace(low, high, 7)[1:-1]:
            across = np.linspace(first, last, 2001)
            row = np.full(2001, x)
            assert length(gore.on_paper(row, across)) == pytest.approx(length(in_space(skin, row, across)), abs=2e-3)
            assert np.ptp(gore.on_paper(row, across)[:, 1]) < 1e-9  # a parallel is straight across the strip
        assert gore.edge_mm <= EDGE_MM
        edge = np.full(2001, last)
        longer = length(gore.on_paper(up, edge)) - length(in_space(skin, up, edge))
        assert -0.01 < longer <= gore.edge_mm + 0.02


def test_a_balls_gore_is_as_wide_as_its_parallel():
    """Closed form: at latitude p a gore of n is 2 pi R cos p / n wide, R p above its middle."""
    gores = flats_of(BALL, np.pi)
    gore, n = gores[0], len(gores)
    middle = 0.5 * sum(BALL.x_range_mm)
    for p in np.radians([0.0, 30.0, 60.0]):
        x = np.full(2, middle + 25 * np.sin(p))
        left, right = gore.on_paper(x, np.array(gore.theta_rad))
        assert right[0] - left[0] == pytest.approx(2 * np.pi * 25 * np.cos(p) / n, abs=1e-3)
        assert right[1] == pytest.approx(25 * p, abs=5e-3)
