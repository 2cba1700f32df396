"""A measurement carried over to where its blank stands: values, sigma and what is known go along."""

from dataclasses import replace

import numpy as np
import pytest

from engine.measure import Measured, even_angles
from engine.measure.chucking import Motion, carried, moved_skin, register
from tests.measure.chucking.bodies import Gourd, readings_of

X = np.linspace(5.0, 115.0, 111)
MOTION = Motion(shift_mm=2.0, turn_rad=np.pi / 2, tilt_y_rad=0.01, offset_z_mm=0.4, pivot_mm=60.0)


def measured(body=None, sigma=0.02, n=90):
    radius = (body or Gourd()).radius(X[:, None], even_angles(n))
    return Measured(x_mm=X, radius_mm=radius, sigma_mm=np.full(radius.shape, sigma), known=np.ones(radius.shape, bool))


def test_left_where_it_is_nothing_changes():
    before = measured()
    after = carried(before, Motion())
    assert after.radius_mm == pytest.approx(before.radius_mm, abs=1e-9)
    assert after.sigma_mm == pytest.approx(before.sigma_mm, abs=1e-12) and after.known.all()


def test_it_stands_where_the_blank_does():
    after = carried(measured(), MOTION)
    truth, known = moved_skin(Gourd(), MOTION, after.x_mm, after.theta_rad)
    assert (after.known == known).mean() > 0.995 and not after.known[0].any()
    assert after.radius_mm[after.known & known] == pytest.approx(truth[after.known & known], abs=1e-3)


def test_sigma_and_gaps_go_along_with_the_spots():
    before = measured()
    sigma, known = before.sigma_mm.copy(), before.known.copy()
    sigma[50:61, 10:20], known[50:61, 10:20] = 0.5, False
    before = Measured(x_mm=X, radius_mm=before.radius_mm, sigma_mm=sigma, known=known)
    after = carried(before, Motion(shift_mm=4.0, turn_rad=np.radians(40.0)))  # ten places of 4 degrees on
    assert after.sigma_mm[54:65, 20:30] == pytest.approx(np.full((11, 10), 0.5))
    assert not after.known[54:65, 20:30].any()
    assert after.known[4:53].all() and after.known[66:].all()
    assert after.sigma_mm[40] == pytest.approx(np.full(90, 0.02))


def test_past_the_old_ends_the_doubt_grows():
    after = carried(measured(), Motion(shift_mm=10.0))
    assert not after.known[:10].any() and after.known[10:].all()
    assert after.sigma_mm[0].min() >= 0.3 * 9.9


def test_the_doubt_of_the_motion_is_what_small_motions_make_of_the_radius():
    names = ("shift_mm", "turn_rad", "tilt_y_rad", "tilt_z_rad", "offset_y_mm", "offset_z_mm")
    steps = np.array([0.05, 0.002, 0.001, 0.0005, 0.03, 0.06])
    x, theta = X[20:90:14], even_angles(10)
    variance = np.zeros((len(x), 10))
    for name, step in zip(names, steps.tolist(), strict=True):
        more, less = (replace(MOTION, **{name: getattr(MOTION, name) + side * step}) for side in (1, -1))
        variance += (0.5 * (moved_skin(Gourd(), more, x, theta)[0] - moved_skin(Gourd(), less, x, theta)[0])) ** 2
    told = carried(measured(sigma=0.0), MOTION, covariance=np.diag(steps**2), x_mm=x, angles=10).sigma_mm
    assert told == pytest.approx(np.sqrt(variance), rel=0.02, abs=1e-3)


def test_registered_and_carried_it_is_the_true_skin_within_its_sigma():
    rng = np.random.default_rng(8)
    motion = Motion(shift_mm=0.8, turn_rad=np.radians(7), tilt_y_rad=0.005, tilt_z_rad=-0.007, offset_y_mm=0.5)
    x, theta = np.repeat(np.linspace(12, 108, 5), 8), rng.uniform(0, 2 * np.pi, 40)
    stored = measured(sigma=0.005)
    found = register(stored.skin(), readings_of(Gourd(), motion, x, theta, noise_mm=0.02, rng=rng))
    now = carried(stored, found.motion, covariance=found.covariance)
    truth, known = moved_skin(Gourd(), motion, now.x_mm, now.theta_rad)
    both = known & now.known
    error = (now.radius_mm - truth)[both]
    assert np.sqrt((error**2).mean()) < 0.015 and both.mean() > 0.97
    assert np.sqrt(((error / now.sigma_mm[both]) ** 2).mean()) < 1.4
