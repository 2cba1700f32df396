"""The picture from a chosen eye: a ball against PROJ's near-sided perspective, a bar against plane geometry."""

from math import degrees, radians

import numpy as np
import pyproj
import pytest

from engine.blank import Cylinder
from engine.kernel.errors import LayoutError
from engine.layout import Eye, Placement, Projection, distortion, lay_out
from tests.blank.skins import SKINS
from tests.blank.test_published import Spheroid

R = 25.0
BALL = Spheroid(c=R, a=R, x_range_mm=(-R, R))
BAR = Cylinder(diameter_mm=40, length_mm=90)


def seen(skin, x_mm, angle_deg, eye):
    return lay_out(skin, Placement(x_mm=x_mm, angle_deg=angle_deg, projection=Projection.FROM_VIEW, eye=eye))


@pytest.mark.parametrize(("lat", "height"), [(0.0, 30.0), (25.0, 180.0), (-40.0, 900.0)])
def test_a_ball_seen_from_above_its_middle_is_projs_near_sided_perspective(lat, height):
    """Snyder 1987, chapter 23; `+proj=nsper` on the ball, the eye straight above the art's centre."""
    far = R + height
    eye = Eye(x_mm=far * np.sin(radians(lat)), angle_deg=30.0, distance_mm=far * np.cos(radians(lat)))
    layout = seen(BALL, R * np.sin(radians(lat)), 30.0, eye)
    proj = pyproj.Proj(f"+proj=nsper +h={height} +lat_0={lat} +lon_0=30 +R={R}")
    lon, phi = 30 + np.array([-30.0, -12, 0, 9, 28]), lat + np.array([14.0, -20, 0, 25, -9])
    x, theta = R * np.sin(np.radians(phi)), np.radians(lon)
    wanted = np.stack(proj(lon, phi), axis=1)
    assert np.allclose(layout.unwrap(x, theta), wanted, rtol=0, atol=1e-8)
    back = layout.wrap(wanted)
    assert np.allclose(back[0], x, rtol=0, atol=1e-8) and np.allclose(back[1], theta, rtol=0, atol=1e-9)
    factors = proj.get_factors(lon, phi)
    found = distortion(layout, wanted)
    assert found.area == pytest.approx(1 / factors.areal_scale, rel=1e-4)
    c = np.arccos(R / far)  # from the middle to where the sight grazes
    limb = R * (far / R - 1) * np.sin(c) / (far / R - np.cos(c))
    assert layout.holds(np.array([[0.0, 0.9 * limb]]))[0] and not layout.holds(np.array([[0.0, 1.01 * limb]]))[0]


def test_a_bar_seen_from_nearby_in_closed_form():
    """The ray from the eye through a place of the sheet, met with a circle by the quadratic; eye off in x and angle."""
    eye = Eye(x_mm=70.0, angle_deg=55.0, distance_mm=130.0)
    layout = seen(BAR, 40.0, 30.0, eye)
    place = np.array([[0.0, 0.0], [5.0, 8.0], [-4.0, -3.0], [4.0, -14.0]])
    x, theta = layout.wrap(place)
    at = np.array([70.0, 130 * np.cos(radians(55)), 130 * np.sin(radians(55))])
    centre = np.array([40.0, 20 * np.cos(radians(30)), 20 * np.sin(radians(30))])
    out = (at - centre) / np.linalg.norm(at - centre)
    up = np.array([1.0, 0, 0]) - out[0] * out
    up /= np.linalg.norm(up)
    foot = centre + place[:, :1] * np.cross(up, out) + place[:, 1:] * up
    way = foot - at
    a, b, c = (way[:, 1:] ** 2).sum(1), (way[:, 1:] @ at[1:]), at[1:] @ at[1:] - 400.0
    t = (-b - np.sqrt(b * b - a * c)) / a
    met = at + t[:, None] * way
    assert np.allclose(x, met[:, 0], rtol=0, atol=1e-9)
    assert np.allclose(theta, np.arctan2(met[:, 2], met[:, 1]), rtol=0, atol=1e-10)
    assert np.allclose(layout.unwrap(x, theta), place, rtol=0, atol=1e-9)


def test_from_far_away_the_eye_looks_square_to_the_axis_from_its_angle():
    """A bar: u = radius x the difference of two sines, whatever station the eye is said to be at."""
    turn = np.radians(np.linspace(-40, 60, 11))
    for station in (0.0, 77.0):
        layout = seen(BAR, 40.0, 25.0, Eye(x_mm=station, angle_deg=10.0))
        uv = layout.unwrap(40 + np.linspace(-5, 5, 11), np.radians(10) + turn)
        wanted = 20 * (np.sin(turn) - np.sin(radians(15)))
        assert np.allclose(uv, np.stack([wanted, np.linspace(-5, 5, 11)], 1), rtol=0, atol=1e-9)


def test_an_eye_very_far_off_sees_as_one_far_away():
    uv = np.random.default_rng(2).uniform(-8, 8, (40, 2))
    near, far = (seen(SKINS["grid"], 60.0, 20.0, Eye(x_mm=60.0, angle_deg=5.0, distance_mm=d)) for d in (1e7, None))
    assert np.allclose(near.wrap(uv)[0], far.wrap(uv)[0], rtol=0, atol=1e-4)
    assert np.allclose(near.wrap(uv)[1], far.wrap(uv)[1], rtol=0, atol=1e-5)


@pytest.mark.parametrize("name", ["cone", "ovoid", "grid"])
def test_the_way_back_and_the_jacobian_from_nearby(name):
    skin = SKINS[name]
    low, high = skin.x_range_mm
    layout = seen(skin, low + 0.45 * (high - low), 170.0, Eye(x_mm=high + 40, angle_deg=150.0, distance_mm=120.0))
    uv = np.random.default_rng(1).uniform(-6, 6, (60, 2))
    assert np.abs(layout.unwrap(*layout.wrap(uv)) - uv).max() < 1e-9
    h = 1e-5
    for k, step in enumerate(np.eye(2) * h):
        ahead, behind = layout.wrap(uv + step), layout.wrap(uv - step)
        for row in (0, 1):
            assert np.allclose(layout.jacobian(uv)[:, row, k], (ahead[row] - behind[row]) / (2 * h), atol=3e-5)


def test_places_the_eye_cannot_see_or_stand_at_are_refused():
    with pytest.raises(LayoutError, match="no further out than the blank"):
        seen(BAR, 45.0, 0.0, Eye(x_mm=45.0, angle_deg=0.0, distance_mm=20.1))
    for behind in (180.0, 89.0):  # from the far side, and where it would only graze
        with pytest.raises(LayoutError, match="does not see"):
            seen(BAR, 45.0, 0.0, Eye(x_mm=45.0, angle_deg=behind))
    near = seen(BAR, 45.0, 0.0, Eye(x_mm=45.0, angle_deg=0.0, distance_mm=60.0))
    half = degrees(np.arccos(20 / 60))  # the limb, where the sight grazes the bar
    turn = np.radians([0.93 * half, 1.5 * half])
    assert near.holds(near.unwrap(np.full(2, 45.0), turn)).tolist() == [True, True]
    back = near.wrap(near.unwrap(np.full(2, 45.0), turn))[1]
    assert back[0] == pytest.approx(turn[0], abs=1e-9) and back[1] < radians(half)  # hidden: the nearer place is met
    long = Cylinder(diameter_mm=40, length_mm=300)
    slanting = seen(long, 10.0, 0.0, Eye(x_mm=80.0, angle_deg=0.0, distance_mm=60.0))
    assert not slanting.holds(np.array([[0.0, -200.0]]))[0]  # the bar lies that way only behind the eye
    for wrong in ({"x_mm": np.nan, "angle_deg": 0.0}, {"x_mm": 0.0, "angle_deg": 0.0, "distance_mm": -1.0}):
        with pytest.raises(LayoutError, match="placement/eye/"):
            Eye(**wrong)
