"""Where a blank stands after it was put back: against known motions of bodies given by formulas."""

import numpy as np
import pytest

from engine.blank import Cylinder, sample
from engine.kernel.errors import BlankError
from engine.measure import Readings
from engine.measure.chucking import Motion, register
from tests.measure.chucking.bodies import Gourd, Spheroid, readings_of

GOURD = Gourd()
STORED = sample(GOURD, *GOURD.x_range_mm, 1e-4)
# 0.8 mm, 7 degrees and 0.5 degrees of tilt, and an axis that misses the old one by 0.64 mm.
BACK = Motion(
    shift_mm=0.8,
    turn_rad=np.radians(7.0),
    tilt_y_rad=np.radians(0.3),
    tilt_z_rad=np.radians(-0.4),
    offset_y_mm=0.5,
    offset_z_mm=-0.4,
    pivot_mm=60.0,
)
LOBED = Gourd(lobes=((3, 1.2, 0.4, 0.0),), runout_mm=0.0)


def places(rng, stations=5, angles=8, low=12.0, high=108.0):
    x = np.repeat(np.linspace(low, high, stations), angles)
    around = np.arange(angles) * (2 * np.pi / angles)
    return x, (around + rng.uniform(0, 2 * np.pi, (stations, 1))).ravel()


def probed(body, motion, seed, **more):
    rng = np.random.default_rng(seed)
    return readings_of(body, motion, *places(rng), noise_mm=0.02, rng=rng, **more)


def error_of(found, motion):
    m = found.motion
    return np.array(
        [
            m.shift_mm - motion.shift_mm,
            (m.turn_rad - motion.turn_rad + np.pi) % (2 * np.pi) - np.pi,
            m.tilt_y_rad - motion.tilt_y_rad,
            m.tilt_z_rad - motion.tilt_z_rad,
            m.offset_y_mm - motion.offset_y_mm,
            m.offset_z_mm - motion.offset_z_mm,
        ]
    )


def codes(found):
    return {finding.code for finding in found.findings}


def test_put_back_otherwise_it_is_found_in_95_of_100_and_the_posterior_tells_the_spread():
    found = [register(STORED, probed(GOURD, BACK, seed)) for seed in range(100)]
    errors = np.array([error_of(one, BACK) for one in found])
    tilt_deg = np.degrees(np.hypot(errors[:, 2], errors[:, 3]))
    good = (np.abs(errors[:, 0]) <= 0.08) & (np.abs(np.degrees(errors[:, 1])) <= 0.2) & (tilt_deg <= 0.05)
    assert good.sum() >= 95 and all(one.turn_known and one.shift_known for one in found)
    sigma = np.array([np.sqrt(np.diag(one.covariance)) for one in found])
    ratio = np.sqrt(((errors / sigma) ** 2).mean(axis=0))
    assert ((ratio > 0.7) & (ratio < 1.4)).all(), ratio


@pytest.mark.parametrize("turn_deg", [-171.0, -93.0, 48.0, 139.0])
def test_any_turn_is_found_and_a_shift_of_several_mm(turn_deg):
    motion = Motion(shift_mm=-6.0, turn_rad=np.radians(turn_deg), tilt_z_rad=0.015, offset_y_mm=-1.0, pivot_mm=60.0)
    found = register(STORED, probed(GOURD, motion, 3))
    assert np.abs(error_of(found, motion)) == pytest.approx(np.zeros(6), abs=0.08)
    assert found.turns_deg == (pytest.approx(turn_deg, abs=0.2),) and not codes(found)


def test_noiseless_readings_give_the_motion_back():
    rng = np.random.default_rng(1)
    found = register(GOURD, readings_of(GOURD, BACK, *places(rng), sigma_mm=1e-4))
    assert error_of(found, BACK) == pytest.approx(np.zeros(6), abs=2e-5)  # what the priors pull at this sigma


def test_wild_points_are_left_out_and_told():
    readings = probed(GOURD, BACK, 5)
    radius = readings.radius_mm.copy()
    radius[[4, 23]] += [2.5, -0.4]
    found = register(
        STORED,
        Readings(x_mm=readings.x_mm, theta_rad=readings.theta_rad, radius_mm=radius, sigma_mm=readings.sigma_mm),
    )
    assert np.flatnonzero(~found.used).tolist() == [4, 23] and codes(found) == {"points-left-out"}
    assert np.abs(error_of(found, BACK))[:2] == pytest.approx([0, 0], abs=0.06)
    assert found.residual_mm[4] > 2.0 and found.rms_mm < 0.025


def test_readings_without_a_sigma_are_judged_by_what_is_left_over():
    errors, sigma = [], []
    for seed in range(16):
        rng = np.random.default_rng(seed)
        readings = readings_of(GOURD, BACK, *places(rng), noise_mm=0.06, sigma_mm=0.0, rng=rng)
        found = register(STORED, readings)
        errors.append(error_of(found, BACK))
        sigma.append(np.sqrt(np.diag(found.covariance)))
    ratio = np.sqrt((np.array(errors) ** 2 / np.array(sigma) ** 2).mean(axis=0))
    assert ((ratio > 0.7) & (ratio < 1.4)).all(), ratio


class Misread:
    """The gourd as measured with a smooth error of 0.1 mm: waves drawn so that places within 15 mm err alike."""

    x_range_mm, sigma_mm, is_round = GOURD.x_range_mm, 0.1, False

    def __init__(self, seed, waves=40):
        rng = np.random.default_rng(seed)
        self.per_x = rng.normal(0.0, 1 / 15.0, waves)
        self.order = np.round(rng.normal(0.0, 27.0 / 15.0, waves))
        self.phase, self.size = rng.uniform(0, 2 * np.pi, waves), 0.1 * np.sqrt(2 / waves)

    def wave(self, x_mm, theta_rad):
        return self.per_x * np.asarray(x_mm)[..., None] + self.order * np.asarray(theta_rad)[..., None] + self.phase

    def radius(self, x_mm, theta_rad):
        return GOURD.radius(x_mm, theta_rad) + self.size * np.cos(self.wave(x_mm, theta_rad)).sum(axis=-1)

    def slopes(self, x_mm, theta_rad):
        per_x, per_theta = GOURD.slopes(x_mm, theta_rad)
        steep = -self.size * np.sin(self.wave(x_mm, theta_rad))
        return per_x + (steep * self.per_x).sum(axis=-1), per_theta + (steep * self.order).sum(axis=-1)


def test_a_stored_skin_that_errs_alike_nearby_makes_the_motion_as_unsure_as_it_is():
    ratio = []
    for seed in range(12):
        rng = np.random.default_rng(100 + seed)
        crowded = places(rng, stations=8, angles=20)  # neighbours within 15 mm, so that their errors do not average out
        readings = readings_of(GOURD, BACK, *crowded, noise_mm=0.02, rng=rng)
        found = register(Misread(seed), readings, turn_near_deg=5.0, turn_within_deg=10.0)
        ratio.append(error_of(found, BACK) / np.sqrt(np.diag(found.covariance)))
    assert 0.7 < np.sqrt((np.array(ratio) ** 2).mean()) < 1.3


@pytest.mark.parametrize("body", [Spheroid(a_mm=60, b_mm=25, centre_mm=60), Gourd(lobes=(), runout_mm=0.0)])
def test_a_round_skin_says_that_it_cannot_tell_the_turn(body):
    found = register(body, probed(body, BACK, 11))
    assert not found.turn_known and "turn-unknown" in codes(found) and found.turns_deg == ()
    assert found.motion.turn_rad == 0.0 and found.turn_sigma_deg > 50
    assert found.shift_known and found.motion.shift_mm == pytest.approx(0.8, abs=0.1)


def test_lobes_lower_than_the_noise_do_not_tell_the_turn_either():
    body = Gourd(lobes=((2, 0.004, 0.0, 0.0), (3, 0.004, 1.0, 0.0)), runout_mm=0.0)
    found = register(body, probed(body, BACK, 11))
    assert not found.turn_known and "turn-unknown" in codes(found)


def test_a_bar_tells_neither_shift_nor_turn():
    bar = Cylinder(diameter_mm=50, length_mm=120)
    motion = Motion(tilt_y_rad=0.005, offset_z_mm=0.3, pivot_mm=60.0)
    found = register(bar, probed(bar, motion, 2))
    assert {"turn-unknown", "shift-unknown"} == codes(found) and not found.shift_known
    assert error_of(found, motion)[2:] == pytest.approx(np.zeros(4), abs=0.02)


def test_lobes_of_one_symmetry_leave_as_many_turns():
    motion = Motion(shift_mm=0.5, turn_rad=np.radians(20.0), pivot_mm=60.0)
    found = register(LOBED, probed(LOBED, motion, 4))
    assert not found.turn_known and "turn-ambiguous" in codes(found)
    assert sorted(found.turns_deg) == pytest.approx([-100.0, 20.0, 140.0], abs=0.3)


def test_a_mark_chooses_among_turns_that_fit_alike():
    motion = Motion(shift_mm=0.5, turn_rad=np.radians(140.0), pivot_mm=60.0)
    found = register(LOBED, probed(LOBED, motion, 4), turn_near_deg=150.0, turn_within_deg=10.0)
    assert found.turn_known and found.turns_deg == (pytest.approx(140.0, abs=0.3),)


def test_points_at_one_station_do_not_tell_the_tilt():
    rng = np.random.default_rng(0)
    x, theta = places(rng, stations=1, angles=24, low=60.0, high=60.0)
    found = register(STORED, readings_of(GOURD, BACK, x, theta, noise_mm=0.02, rng=rng))
    assert "tilt-unknown" in codes(found) and found.tilt_sigma_deg > 0.2


def test_points_past_the_stored_stations_are_left_out():
    rng = np.random.default_rng(0)
    short = sample(GOURD, 5.0, 106.5, 1e-4)  # the last ring lies 0.7 mm past it, where the continued end still fits
    found = register(short, readings_of(GOURD, BACK, *places(rng), noise_mm=0.02, rng=rng))
    assert "points-beyond" in codes(found) and int((~found.used).sum()) == 8
    assert error_of(found, BACK)[:2] == pytest.approx([0, 0], abs=0.08)


def test_another_blank_is_said_not_to_fit():
    other = Gourd(lobes=((2, 2.5, 2.0, 0.0), (4, 1.5, 0.0, 0.01)))
    assert "does-not-fit" in codes(register(STORED, probed(other, BACK, 1)))


def swapped(readings):
    """The same blank seen end for end: x from the other end, angles the other way."""
    return Readings(
        x_mm=GOURD.x_range_mm[0] + GOURD.x_range_mm[1] - readings.x_mm,
        theta_rad=-readings.theta_rad,
        radius_mm=readings.radius_mm,
        sigma_mm=readings.sigma_mm,
    )


def test_readings_without_a_sigma_that_miss_by_more_than_a_probe_errs_do_not_fit():
    rng = np.random.default_rng(1)
    right = register(STORED, readings_of(GOURD, BACK, *places(rng), noise_mm=0.02, sigma_mm=0.0, rng=rng))
    assert "does-not-fit" not in codes(right)
    rough = register(STORED, readings_of(GOURD, BACK, *places(rng), noise_mm=0.15, sigma_mm=0.0, rng=rng))
    (told,) = (one for one in rough.findings if one.code == "does-not-fit")
    assert 0.06 < rough.rms_mm < 0.2 and "end for end" in told.advice


def test_a_blank_put_back_end_for_end_is_said_not_to_fit():
    rng = np.random.default_rng(1)
    there = readings_of(GOURD, Motion(), *places(rng), noise_mm=0.02, sigma_mm=0.0, rng=rng)
    assert "does-not-fit" in codes(register(STORED, swapped(there)))


def test_too_few_points_are_refused_with_how_many_are_needed():
    readings = probed(GOURD, BACK, 1)
    few = Readings(**{n: getattr(readings, n)[:11] for n in ("x_mm", "theta_rad", "radius_mm", "sigma_mm")})
    with pytest.raises(BlankError, match="11 points") as refused:
        register(STORED, few)
    assert "at least 12" in refused.value.hint


def test_points_that_all_miss_the_stored_stations_are_refused():
    rng = np.random.default_rng(0)
    readings = readings_of(GOURD, Motion(), *places(rng, low=70.0, high=108.0), noise_mm=0.02, rng=rng)
    with pytest.raises(BlankError, match="lie on the stored skin"):
        register(sample(GOURD, 5.0, 40.0, 1e-4), readings)
