"""A knob or a hollow that several readings tell of is told, not known, and as unsure as it is high."""

import numpy as np
import pytest

from engine.measure import Readings
from engine.measure.surface import fit_readings
from tests.measure.surface.skins import SKINS, grid, off_truth, readings_of

CODES = {"standing-out", "hollow-left-out"}


def knobbed(side, angle=60.0, height=8.0):
    """A round skin with a knob, or a hollow, of a few mm at x 55."""

    def skin(x, theta):
        around = np.angle(np.exp(1j * (theta - np.radians(angle)))) * 25 / 4
        return 25 + side * height * np.exp(-(around**2) - ((x - 55) / 6) ** 2)

    return skin


@pytest.mark.parametrize(("side", "code"), [(1, "standing-out"), (-1, "hollow-left-out")])
@pytest.mark.parametrize("angle", [0.0, 62.0])
def test_neighbours_left_out_on_one_side_are_told_and_as_unsure_as_the_highest_of_them(side, code, angle):
    skin = knobbed(side, angle)
    readings, _ = readings_of(skin, *grid(8, 112, 20, 24), np.random.default_rng(1))
    got = fit_readings(readings)
    (told,) = (f for f in got.findings if f.code in CODES)
    assert told.code == code and told.severity.value == "warning"
    assert abs(told.where.x_mm - 55) < 3
    assert abs(np.angle(np.exp(1j * np.radians(told.where.angle_deg - angle)), deg=True)) < 8
    greatest = np.abs(got.residual_mm[~got.used]).max()
    assert f"{greatest:.2f} mm" in told.message and "probe there" in told.advice
    error = np.abs(off_truth(got, skin))
    deep = error > 0.5
    assert deep.any() and not got.known[deep].any()
    assert (got.sigma_mm[deep] >= greatest - 0.02).all()
    far = np.abs(got.x_mm - 55) > 25
    assert got.known[far].all() and got.sigma_mm[far].max() < 0.05


def test_where_no_reading_stands_beside_a_knob_it_is_unsure_out_to_the_next():
    """Five stations not read beside the knob: the nearest reading of that gap is the knob's own."""
    skin = knobbed(1)
    x, theta = grid(8, 112, 20, 24)
    seen = ~((x > 65) & (x < 95) & (np.abs(theta - np.radians(60)) < 0.6))
    readings, _ = readings_of(skin, x[seen], theta[seen], np.random.default_rng(1))
    got = fit_readings(readings)
    near = int(np.abs(got.x_mm - 72.5).argmin()), int(np.abs(got.theta_rad - np.radians(60)).argmin())
    assert got.sigma_mm[near] > 1 and not got.known[near]


@pytest.mark.parametrize("name", SKINS)
def test_single_wild_readings_are_no_feature(name):
    skin, lo, hi = SKINS[name]
    x, theta = grid(lo, hi, 20, 24)
    readings, _ = readings_of(skin, x, theta, np.random.default_rng(4))
    radius = readings.radius_mm.copy()
    radius[[100, 205, 310]] += 2.0
    radius[[101, 400]] -= 2.0  # a neighbour of the first on the other side is no feature with it
    wild = Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=0 * x)
    got = fit_readings(wild)
    assert not got.used[[100, 101, 205, 310, 400]].any()
    assert got.known.all() and got.sigma_mm.max() < 0.5 and not CODES & {f.code for f in got.findings}


def test_of_many_features_the_highest_are_named_and_the_rest_counted():
    x, theta = grid(8, 112, 20, 24)
    readings, _ = readings_of(lambda x, theta: 25 + 0 * x, x, theta, np.random.default_rng(4))
    radius = readings.radius_mm.copy()
    for k in range(7):
        first = 24 * (2 * k + 3) + 3 * k
        radius[first : first + 2] += 1.0 + k
    got = fit_readings(Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=0 * x))
    (told,) = (f for f in got.findings if f.code in CODES)
    assert "and 2 more places" in told.message and told.message.count("(2 readings)") == 5
    assert told.where.x_mm == pytest.approx(x[24 * 15]) and told.where.angle_deg == pytest.approx(18.5 * 15)
