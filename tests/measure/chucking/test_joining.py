"""A base shape corrected by a few points: against bodies whose tilt, runout and shape are known."""

from dataclasses import dataclass

import numpy as np
import pytest

from engine.blank import Cylinder, Stations
from engine.kernel.errors import BlankError
from engine.measure import Readings, even_angles
from engine.measure.chucking import Motion, corrected, moved_skin
from tests.measure.chucking.bodies import readings_of

PROFILE = Stations(x_mm=np.array([0.0, 20, 45, 70, 100]), diameter_mm=np.array([40.0, 52, 58, 50, 36]))
CHUCKED = Motion(tilt_y_rad=0.008, tilt_z_rad=-0.012, offset_y_mm=0.7, offset_z_mm=-0.4, pivot_mm=50.0)
SIX = (np.array([15.0, 15, 15, 85, 85, 85]), np.tile([0.3, 2.4, 4.5], 2))
MANY = (np.repeat([12.0, 35, 60, 88], 9), np.tile(even_angles(9), 4))


@dataclass(frozen=True)
class Oval:
    """A profile with one percent more radius and an oval of 0.8 mm."""

    skin: Stations = PROFILE
    sigma_mm: float = 0.0
    is_round: bool = False

    @property
    def x_range_mm(self):
        return self.skin.x_range_mm

    def radius(self, x_mm, theta_rad):
        return 1.01 * self.skin.radius(x_mm, theta_rad) + 0.8 * np.cos(2 * np.asarray(theta_rad) - 0.5)

    def slopes(self, x_mm, theta_rad):
        per_x, _ = self.skin.slopes(x_mm, theta_rad)
        return 1.01 * per_x, -1.6 * np.sin(2 * np.asarray(theta_rad) - 0.5) + np.zeros_like(per_x)


def fitted(made):
    return dict(made.how)["fitted"]


def errors_of(made, body, motion=CHUCKED):
    truth, known = moved_skin(body, motion, made.x_mm, made.theta_rad)
    both = known & made.known
    assert both.mean() > 0.9
    return (made.radius_mm - truth)[both], made.sigma_mm[both]


def test_six_points_give_tilt_and_runout():
    made = corrected(PROFILE, readings_of(PROFILE, CHUCKED, *SIX, sigma_mm=0.001))
    error, _ = errors_of(made, PROFILE)
    assert np.abs(error).max() < 1e-3
    assert fitted(made) == "tilt and runout" and not made.findings
    assert made.residual_mm == pytest.approx(np.zeros(6), abs=1e-4) and made.used.all()


def test_its_sigma_foretells_its_error():
    worst = []
    for seed in range(10):
        rng = np.random.default_rng(seed)
        made = corrected(PROFILE, readings_of(PROFILE, CHUCKED, *MANY, noise_mm=0.05, rng=rng), angles=8)
        error, sigma = errors_of(made, PROFILE)
        worst.append(((error / sigma) ** 2).mean())
    assert 0.7 < np.sqrt(np.mean(worst)) < 1.4


def test_a_bar_off_its_axis_has_the_section_of_a_circle_off_centre():
    """r = e cos t + sqrt(R2 - e2 sin2 t), trigonometry; 26 and 24 at R 25, e 1."""
    bar, off = Cylinder(diameter_mm=50, length_mm=100), Motion(offset_y_mm=1.0)
    made = corrected(bar, readings_of(bar, off, *SIX, sigma_mm=0.001), angles=8)
    expected = [26.0, 25.6971047804, 24.9799919936, 24.2828912180, 24.0]
    assert made.radius_mm[50, :5] == pytest.approx(expected, abs=1e-3)
    size, towards = made.runout
    assert size[50] == pytest.approx(1.0, abs=1e-3) and towards[50] == pytest.approx(0.0, abs=1e-3)


def test_size_and_an_oval_are_added_where_left_out_points_ask_for_them():
    rng = np.random.default_rng(0)
    made = corrected(PROFILE, readings_of(Oval(), CHUCKED, *MANY, noise_mm=0.02, rng=rng))
    assert fitted(made) == "tilt, runout, size and an oval"
    error, _ = errors_of(made, Oval())
    assert np.sqrt((error**2).mean()) < 0.015
    assert "left" in dict(made.how)["chosen by"] and float(dict(made.how)["size"].split()[0]) == pytest.approx(
        1, abs=0.1
    )


def test_nothing_is_added_that_left_out_points_do_not_ask_for():
    plain = 0
    for seed in range(10):
        rng = np.random.default_rng(seed)
        made = corrected(PROFILE, readings_of(PROFILE, CHUCKED, *MANY, noise_mm=0.05, rng=rng), angles=8)
        plain += fitted(made) == "tilt and runout"
    assert plain >= 8


def test_six_points_never_carry_more_than_tilt_and_runout_and_their_doubt_says_so():
    made = corrected(PROFILE, readings_of(Oval(), CHUCKED, *SIX, sigma_mm=0.01))
    assert fitted(made) == "tilt and runout"
    error, sigma = errors_of(made, Oval())
    assert np.sqrt((error**2).mean()) < 3 * np.sqrt((sigma**2).mean())
    assert [finding.code for finding in made.findings] == ["base-does-not-fit", "tilt-unknown"]


def test_the_bases_own_error_stays_in_the_sigma():
    rough = Stations(x_mm=PROFILE.x_mm, diameter_mm=PROFILE.diameter_mm, sigma_mm=0.2)
    made = corrected(rough, readings_of(PROFILE, CHUCKED, *MANY, sigma_mm=0.01))
    assert made.sigma_mm.min() >= 0.2


def test_a_wild_point_is_left_out():
    readings = readings_of(PROFILE, CHUCKED, *MANY, noise_mm=0.02, rng=np.random.default_rng(4))
    radius = readings.radius_mm.copy()
    radius[7] += 1.5
    wild = Readings(x_mm=readings.x_mm, theta_rad=readings.theta_rad, radius_mm=radius, sigma_mm=readings.sigma_mm)
    made = corrected(PROFILE, wild)
    assert np.flatnonzero(~made.used).tolist() == [7]
    assert [finding.code for finding in made.findings] == ["points-left-out"]
    error, _ = errors_of(made, PROFILE)
    assert np.abs(error).max() < 0.05


def test_too_few_points_are_refused():
    readings = readings_of(PROFILE, CHUCKED, SIX[0][:5], SIX[1][:5], sigma_mm=0.01)
    with pytest.raises(BlankError, match="5 points"):
        corrected(PROFILE, readings)


def test_points_that_lie_beside_the_base_are_refused():
    readings = readings_of(PROFILE, Motion(), SIX[0] + 200.0, SIX[1], sigma_mm=0.01)
    with pytest.raises(BlankError, match="lie on the base shape"):
        corrected(PROFILE, readings)


def test_points_at_one_station_do_not_tell_the_tilt():
    made = corrected(PROFILE, readings_of(PROFILE, CHUCKED, np.full(8, 50.0), even_angles(8), sigma_mm=0.01), angles=24)
    assert "tilt-unknown" in [finding.code for finding in made.findings]
    assert made.sigma_mm[5].max() > 5 * made.sigma_mm[50].max()


@pytest.mark.parametrize(("at", "told"), [(6.0, True), (50.0, True), (None, False)])
def test_points_near_one_another_along_do_not_tell_the_tilt_even_where_the_steep_skin_seems_to(at, told):
    x = np.linspace(12.0, 88.0, 8) if at is None else at + np.linspace(0.0, 9.0, 8)
    made = corrected(PROFILE, readings_of(PROFILE, CHUCKED, x, even_angles(8) * 3, sigma_mm=0.001), angles=8)
    assert ("tilt-unknown" in [finding.code for finding in made.findings]) is told
