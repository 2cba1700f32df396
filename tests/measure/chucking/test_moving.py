"""Moved skins against closed forms, independent bisection, and the law that moving back undoes."""

import numpy as np
import pytest

from engine.blank import Cone, Cylinder
from engine.measure import even_angles
from engine.measure.chucking import Motion, Moved, moved_place, moved_skin
from tests.measure.chucking.bodies import Gourd, Spheroid, readings_of

MOTION = Motion(
    shift_mm=0.8, turn_rad=0.4, tilt_y_rad=0.02, tilt_z_rad=-0.03, offset_y_mm=0.6, offset_z_mm=-0.3, pivot_mm=40
)


def test_a_cylinder_off_centre_has_the_published_radii():
    """Circle R 25 chucked 1 mm off centre; values computed from r = e cos t + sqrt(R2 - e2 sin2 t), trigonometry."""
    angles = np.radians([0.0, 45, 90, 135, 180])
    bar = Cylinder(diameter_mm=50, length_mm=60)
    radius, known = moved_skin(bar, Motion(offset_y_mm=1.0), np.array([10.0, 50.0]), angles)
    assert known.all()
    expected = [26.0, 25.6971047804, 24.9799919936, 24.2828912180, 24.0]
    assert radius == pytest.approx(np.array([expected, expected]), abs=1e-9)


def test_a_tilted_cylinder_has_its_elliptic_section():
    """A plane at the angle t to a bar's own cross-section cuts an ellipse R / cos t by R (analytic geometry)."""
    tilt = np.radians(5.0)
    bar = Cylinder(diameter_mm=40, length_mm=100)
    theta = even_angles(72)
    section, known = moved_skin(bar, Motion(tilt_z_rad=tilt, pivot_mm=50), np.array([50.0]), theta)
    a, b = 20 / np.cos(tilt), 20.0  # a tilt about z leans the axis in the plane of x and y
    assert known.all()
    assert section[0] == pytest.approx(a * b / np.hypot(b * np.cos(theta), a * np.sin(theta)), abs=1e-10)


def test_a_sphere_shifted_along_its_axis_is_the_same_sphere_further_on():
    ball = Spheroid(a_mm=25, b_mm=25, centre_mm=25)
    x = np.linspace(4.0, 48.0, 12)
    radius, known = moved_skin(ball, Motion(shift_mm=1.5, turn_rad=1.0), x, even_angles(16))
    assert known.all()
    assert radius == pytest.approx(np.sqrt(25**2 - (x - 26.5) ** 2)[:, None] * np.ones(16), abs=1e-9)


def test_a_sphere_turned_about_its_centre_stays_itself():
    ball = Spheroid(a_mm=25, b_mm=25, centre_mm=25)
    x = np.linspace(4.0, 46.0, 12)
    radius, known = moved_skin(ball, Motion(tilt_y_rad=0.3, tilt_z_rad=-0.2, pivot_mm=25), x, even_angles(16))
    assert known.all()
    assert radius == pytest.approx(np.sqrt(25**2 - (x - 25) ** 2)[:, None] * np.ones(16), abs=1e-9)


@pytest.mark.parametrize("body", [Spheroid(), Cone(diameter_mm=60, end_diameter_mm=36, length_mm=80), Gourd()])
def test_moving_and_moving_back_is_no_motion(body):
    x0, x1 = body.x_range_mm
    x = np.linspace(x0 + 8, x1 - 8, 7)
    again, known = moved_skin(Moved(skin=body, motion=MOTION), MOTION.inverse(), x, even_angles(12))
    assert known.all()
    assert again == pytest.approx(body.radius(x[:, None], even_angles(12)), abs=1e-9)


def test_a_moved_gourd_is_what_bisection_along_the_ray_finds():
    x, theta = np.linspace(15, 105, 13), even_angles(40)
    radius, known = moved_skin(Gourd(), MOTION, x, theta)
    probed = readings_of(Gourd(), MOTION, np.repeat(x, 40), np.tile(theta, 13))
    assert known.all()
    assert radius.ravel() == pytest.approx(probed.radius_mm, abs=1e-9)


def test_slopes_of_a_moved_skin_are_those_of_its_radii():
    moved = Moved(skin=Gourd(), motion=MOTION)
    x, theta, h = np.linspace(20, 100, 9)[:, None], even_angles(20), 1e-5
    per_x, per_theta = moved.slopes(x, theta)
    assert per_x == pytest.approx((moved.radius(x + h, theta) - moved.radius(x - h, theta)) / (2 * h), abs=1e-6)
    assert per_theta == pytest.approx((moved.radius(x, theta + h) - moved.radius(x, theta - h)) / (2 * h), abs=1e-5)
    assert moved.x_range_mm == pytest.approx((5.8, 115.8), abs=0.1)
    assert not moved.is_round and Moved(skin=Spheroid(), motion=Motion(shift_mm=2)).is_round


def test_beyond_the_old_stations_a_place_is_not_known_and_runs_on_without_a_jump():
    x = np.arange(-6.0, 20.0, 0.25)
    radius, known = moved_skin(Gourd(), MOTION, x, even_angles(32))
    assert not known[:30].any() and known[-20:].all()
    steps = np.abs(np.diff(radius, n=2, axis=0))
    assert steps.max() < 0.03 and radius.min() > 0  # 0.25 mm steps: a kink of the end's slope of 0.3 would show as 0.07


def test_where_a_ray_passes_beside_the_body_it_takes_the_nearest_station():
    rod = Spheroid(a_mm=20, b_mm=2, centre_mm=20)
    aside = Motion(offset_y_mm=3.0)
    radius, known = moved_skin(rod, aside, np.array([2.0, 20.0]), np.array([0.0, np.pi / 2, np.pi]))
    assert known.tolist() == [[True, False, False], [True, False, False]]
    assert radius[1, 0] == pytest.approx(5.0) and (radius > 0).all()  # the far side of the rod is met last: outermost


def test_a_spot_keeps_its_place_on_the_blank():
    body, moved = Gourd(), Moved(skin=Gourd(), motion=MOTION)
    x, angle = moved_place(body, MOTION, 60.0, 123.0)
    r = float(moved.radius(np.array([x]), np.radians([angle]))[0])
    spot = MOTION.back(np.array([x, r * np.cos(np.radians(angle)), r * np.sin(np.radians(angle))]))
    assert spot[0] == pytest.approx(60.0, abs=1e-9)
    assert np.degrees(np.arctan2(spot[2], spot[1])) == pytest.approx(123.0, abs=1e-9)
    assert moved_place(body, Motion(shift_mm=2, turn_rad=np.radians(300)), 60.0, 90.0) == pytest.approx((62.0, 30.0))


def test_close_to_its_poles_a_tilted_spheroid_is_met_where_the_quadric_says():
    """A line meets a quadric where a quadratic is zero (analytic geometry): the greater root, where there is one."""
    body = Spheroid()
    motion = Motion(tilt_y_rad=0.1, tilt_z_rad=-0.06, offset_y_mm=0.8, offset_z_mm=-0.5, pivot_mm=30)
    x, theta = np.concatenate([np.linspace(0.2, 3, 15), np.linspace(57, 59.8, 15)]), even_angles(48)
    radius, known = moved_skin(body, motion, x, theta)
    ahead = np.stack([np.zeros(48), np.cos(theta), np.sin(theta)], axis=1) @ motion.rotation
    start = motion.back(np.stack([x, 0 * x, 0 * x], axis=1)) - [30.0, 0, 0]
    metric = np.array([30.0**-2, 22.0**-2, 22.0**-2])
    a, b = (ahead**2 * metric).sum(axis=1), (start * metric) @ ahead.T
    c = (start**2 * metric).sum(axis=1) - 1.0
    root = b**2 - a * c[:, None]
    expected = (-b + np.sqrt(np.maximum(root, 0.0))) / a
    clear = (root > 1e-5) & (expected > 0.05)
    assert known[clear].all() and not known[(root < 0) | (expected < 0)].any() and 0.3 < clear.mean() < 0.95
    assert radius[clear] == pytest.approx(expected[clear], abs=1e-8)
