"""Tissot's ellipse against PROJ's own factors, and against small circles of the sheet measured in space."""

import numpy as np
import pyproj
import pytest

from engine.blank import Cylinder
from engine.layout import Placement, Projection, area_stretch, distortion, lay_out, stretch
from tests.blank.skins import SKINS
from tests.blank.test_published import Spheroid

R = 30.0


@pytest.mark.parametrize(
    ("projection", "name"),
    [(Projection.TRUE_WIDTH, "sinu"), (Projection.EQUAL_AREA, "cea"), (Projection.FROM_VIEW, "ortho")],
)
def test_the_half_axes_are_those_of_proj(projection, name):
    """PROJ draws a circle of the globe on the map, we one of the sheet on the skin: each axis is one over the other's.
    Its factors are numerical derivatives, good to some 1e-5."""
    layout = lay_out(Spheroid(c=R, a=R, x_range_mm=(-R, R)), Placement(x_mm=0.0, projection=projection))
    lon, lat = np.array([-50.0, -20, 10, 35, 60]), np.array([40.0, -30, 20, 55, -15])
    uv = layout.unwrap(R * np.sin(np.radians(lat)), np.radians(lon))
    f = pyproj.Proj(f"+proj={name} +R={R}").get_factors(lon, lat)
    found = distortion(layout, uv)
    assert found.greatest == pytest.approx(1 / f.tissot_semiminor, rel=3e-5)
    assert found.least == pytest.approx(1 / f.tissot_semimajor, rel=3e-5)
    assert found.area == pytest.approx(1 / f.areal_scale, rel=3e-5)
    assert area_stretch(layout, uv) == pytest.approx(1 / f.areal_scale, rel=3e-5)


def test_snyders_worked_example_of_an_ellipse():
    """P3 (page 365): sinusoidal, phi -50, lambda 15: a 1.1052899443, b 0.9047399781 on the map."""
    layout = lay_out(Spheroid(c=1.0, a=1.0, x_range_mm=(-1, 1)), Placement(x_mm=0.0, projection=Projection.TRUE_WIDTH))
    uv = layout.unwrap(np.array([np.sin(np.radians(-50))]), np.radians(np.array([15.0])))
    found = distortion(layout, uv)
    assert (1 / found.least[0], 1 / found.greatest[0]) == pytest.approx((1.1052899443, 0.9047399781), abs=1e-9)


CASES = [(n, p) for n in ("ovoid", "grid") for p in Projection if p is not Projection.DEVELOPED]


@pytest.mark.parametrize(("name", "projection"), CASES)
def test_a_small_circle_of_the_sheet_becomes_that_ellipse_in_space(name, projection):
    """Its farthest and nearest points from the middle, by lengths in space alone, and the way to the farthest."""
    skin = SKINS[name]
    low, high = skin.x_range_mm
    layout = lay_out(skin, Placement(x_mm=low + 0.45 * (high - low), angle_deg=30, width_mm=20, projection=projection))
    places = np.random.default_rng(3).uniform(-8, 8, (6, 2))
    found = distortion(layout, places)
    assert np.allclose(stretch(layout, places), (found.least, found.greatest), rtol=1e-9)
    assert np.allclose(area_stretch(layout, places), found.area, rtol=1e-9)
    t = np.linspace(0, np.pi, 721)[:-1]
    step = 1e-3

    def spot(uv):
        x, theta = layout.wrap(uv)
        r = skin.radius(x, theta)
        return np.stack([x, r * np.cos(theta), r * np.sin(theta)], axis=1)

    for k, place in enumerate(places):
        way = np.stack([np.cos(t), np.sin(t)], axis=1)
        chord = (spot(place + step * way) - spot(place - step * way)) / (2 * step)
        far = np.linalg.norm(chord, axis=1)
        assert (far.max(), far.min()) == pytest.approx((found.greatest[k], found.least[k]), rel=2e-5)
        if far.max() / far.min() < 1.002:
            continue
        best = int(far.argmax())
        aside = abs(np.angle(np.exp(2j * (t[best] - found.sheet_rad[k])))) / 2
        assert aside < np.radians(0.6)
        x, theta = (float(v[0]) for v in layout.wrap(place[None, :]))
        h = 1e-4
        right, along = (
            [*(float(skin.radius(np.array([a]), np.array([b]))[0]) * np.array([np.cos(b), np.sin(b)]))]
            for a, b in ((x, theta + h), (x, theta - h))
        )
        e_right = np.array([0.0, right[0] - along[0], right[1] - along[1]])
        e_right /= np.linalg.norm(e_right)
        seen = chord[best] / far[best]
        turn = np.arccos(np.clip(abs(seen @ e_right), 0, 1))
        assert turn == pytest.approx(min(found.skin_rad[k], np.pi - found.skin_rad[k]), abs=np.radians(0.6))
        above = np.sign(chord[best][0]) * np.sign(seen @ e_right)  # to the upper right or the upper left
        if min(turn, np.pi / 2 - turn) > np.radians(2):
            assert above == (1 if found.skin_rad[k] < np.pi / 2 else -1)


def test_a_flat_pattern_is_not_distorted():
    layout = lay_out(Cylinder(diameter_mm=40, length_mm=90), Placement(x_mm=45.0, projection=Projection.DEVELOPED))
    found = distortion(layout, np.random.default_rng(1).uniform(-20, 20, (50, 2)))
    assert np.abs(np.stack([found.greatest, found.least]) - 1).max() < 1e-12
