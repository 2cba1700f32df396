"""From the ball's centre to the place that it touched, against skins that a ball can be laid on in closed form."""

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure import Readings
from engine.measure.probing import contacts, tip_corrected
from tests.measure.probing.balls import SKINS, Cone, OffCentre, Spheroid

X, THETA = (a.ravel() for a in np.meshgrid(np.linspace(12, 88, 9), np.linspace(-3, 7, 17), indexing="ij"))


def centres(skin, ball, x=X, theta=THETA):
    r = [skin.centre(a, b, ball) for a, b in zip(x, theta, strict=True)]
    return Readings(x_mm=x, theta_rad=theta, radius_mm=r, sigma_mm=np.full(len(x), 0.02))


def on_skin(touched, skin):
    return np.abs(touched.radius_mm - skin.radius_at(touched.x_mm, touched.theta_rad)).max()


@pytest.mark.parametrize("skin", SKINS, ids=repr)
@pytest.mark.parametrize("ball", [0.25, 1.0, 3.0])
def test_the_contact_lies_on_the_skin_a_balls_radius_from_the_centre(skin, ball):
    centre = centres(skin, ball)
    touched = tip_corrected(centre, skin.slopes, tip_radius_mm=ball)
    assert on_skin(touched, skin) < 1e-6
    assert on_skin(centre, skin) > 0.9 * ball  # uncorrected it is off by the ball's radius and more
    here, there = (
        np.stack([r.x_mm, r.radius_mm * np.cos(r.theta_rad), r.radius_mm * np.sin(r.theta_rad)])
        for r in (centre, touched)
    )
    assert np.linalg.norm(here - there, axis=0) == pytest.approx(ball, abs=1e-6)
    assert (touched.sigma_mm == 0.02).all() and np.abs(touched.theta_rad - THETA).max() < 0.3


@pytest.mark.parametrize("skin", SKINS[:4], ids=repr)
def test_one_step_along_the_normal_of_the_centres_own_surface_is_exact(skin):
    ball = 2.0
    offset = (
        Cone(skin.radius + ball * np.sqrt(1 + skin.slope**2), skin.slope)
        if isinstance(skin, Cone)
        else OffCentre(skin.radius + ball, skin.off, skin.towards)
    )
    assert on_skin(contacts(centres(skin, ball), offset.slopes, tip_radius_mm=ball), skin) < 1e-9


def test_taking_the_ball_off_along_the_radius_alone_is_seen_to_be_wrong():
    skin, ball = Cone(15.0, 0.3), 2.0
    centre = centres(skin, ball)
    assert centre.radius_mm - ball - skin.radius_at(X, THETA) == pytest.approx(2 * (np.sqrt(1.09) - 1))  # 0.088 mm


def test_a_ball_of_no_size_changes_nothing():
    centre = centres(Spheroid(60, 24, 50), 0.0)
    touched = tip_corrected(centre, Spheroid(60, 24, 50).slopes, tip_radius_mm=0.0)
    assert touched.radius_mm == pytest.approx(centre.radius_mm, abs=1e-12)
    assert touched.theta_rad == pytest.approx(centre.theta_rad, abs=1e-12)


def test_a_ball_that_does_not_fit_or_reaches_the_axis_is_refused():
    few = Readings(x_mm=[10.0], theta_rad=[0.0], radius_mm=[5.0], sigma_mm=[0.0])
    with pytest.raises(BlankError, match="beyond the axis"):
        contacts(few, lambda x, t: (np.zeros(1), np.zeros(1)), tip_radius_mm=12.0)
    with pytest.raises(BlankError, match="does not fit"):
        tip_corrected(few, lambda x, t: (40 * np.sin(40 * x), np.zeros(1)), tip_radius_mm=1.0)
    with pytest.raises(BlankError, match="no slope"):
        tip_corrected(few, lambda x, t: (np.full(1, np.nan), np.zeros(1)), tip_radius_mm=1.0)
