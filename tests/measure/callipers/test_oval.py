"""Calliper stations, round and oval: the handbook ellipse, what lies between stations, and what is refused."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from engine.kernel.errors import BlankError
from engine.measure.callipers import ellipse_radius, stations_skin

# An ellipse of half-axes 30 and 22 about its centre, r at each angle (worked out with scipy).
ELLIPSE = {0: 30, 15: 29.1719519966, 30: 27.2179412618, 45: 25.0894354019, 60: 23.3930797653, 90: 22}


def test_an_oval_section_is_the_ellipse_of_the_table():
    got = stations_skin([0, 10, 20, 40], [60] * 4, [44] * 4, 0.02)
    for degrees, radius in ELLIPSE.items():
        assert got.radius_mm[:, degrees // 3] == pytest.approx(radius, abs=1e-9)
        assert ellipse_radius(30.0, 22.0, np.radians(degrees)) == pytest.approx(radius, abs=1e-9)


def test_round_and_oval_stations_mix_and_the_profile_keeps_to_its_readings():
    x, d, across = [0.0, 10, 30, 50], [20.0, 40, 44, 20], [np.nan, 30, 40, np.nan]
    got = stations_skin(x, d, across, 0.02)
    assert got.radius_mm[0] == pytest.approx(10) and got.radius_mm[-1] == pytest.approx(10)
    assert got.radius_mm[:, 0] == pytest.approx(PchipInterpolator(x, np.array(d) / 2)(got.x_mm), abs=1e-12)
    assert got.radius_mm[:, 30] == pytest.approx(PchipInterpolator(x, [10, 15, 20, 10])(got.x_mm), abs=1e-12)
    assert list(got.readings.radius_mm) == [10, 20, 15, 22, 20, 10]
    assert list(np.degrees(got.readings.theta_rad)) == [0, 0, 90, 0, 90, 0]


def test_the_error_of_a_reading_is_halved_on_a_radius_and_stated():
    got = stations_skin([0, 10, 20, 30], [40] * 4, [np.nan] * 4, 0.05)
    assert got.sigma_mm == pytest.approx(0.025)
    oval = stations_skin([0, 10, 20, 30], [60] * 4, [44] * 4, 0.05)
    assert oval.sigma_mm[:, [0, 30]] == pytest.approx(0.025) and (oval.sigma_mm < 0.0251).all()
    step = 1e-6
    by_a = ellipse_radius(30 + step, 22.0, 0.7) - ellipse_radius(30.0, 22.0, 0.7)
    by_b = ellipse_radius(30.0, 22 + step, 0.7) - ellipse_radius(30.0, 22.0, 0.7)
    near = int(np.abs(oval.theta_rad - 0.7).argmin())
    assert oval.sigma_mm[0, near] == pytest.approx(0.025 * np.hypot(by_a, by_b) / step, rel=0.02)


def gourd(x):
    s = x / 120
    return 24 + 9 * np.cos(2 * np.pi * (s - 0.62)) - 5 * np.exp(-(((s - 0.15) / 0.12) ** 2))


def vase(x):
    return 10 + 18 / (1 + np.exp(-(x - 60) / 8))


@pytest.mark.parametrize("count", [9, 17])
@pytest.mark.parametrize("profile", [gourd, vase])
def test_between_stations_the_error_says_what_the_curve_misses(profile, count):
    """Turned bodies read without error: rms of error over sigma at the middles of the gaps."""
    x = np.linspace(0, 120, count)
    got = stations_skin(x, 2 * profile(x), np.full(count, np.nan), 0.0, step_mm=0.5)
    middle = np.abs((got.x_mm / (120 / (count - 1))) % 1 - 0.5) < 0.1
    off = (got.radius_mm[:, 0] - profile(got.x_mm))[middle]
    said = got.sigma_mm[middle, 0]
    assert 0.2 < np.sqrt((off**2).mean() / (said**2).mean()) < 1.3
    assert got.sigma_mm[0] == pytest.approx(0) and got.residual_mm[0] == 0 and got.residual_mm[-1] == 0
    left_out = PchipInterpolator(np.delete(x, 2), np.delete(profile(x), 2))(x[2])
    assert got.residual_mm[2] == pytest.approx(profile(x[2]) - left_out, abs=1e-12)
    assert f"{np.sqrt((got.residual_mm[1:-1] ** 2).mean()):.4f} mm RMS" in dict(got.how)["error between stations"]


def test_three_stations_say_that_nothing_is_known_between_them():
    got = stations_skin([0, 20, 40], [30, 34, 30], [np.nan] * 3, 0.02)
    assert [f.code for f in got.findings] == ["between-stations-unknown"]
    assert dict(got.how)["error between stations"].startswith("not known")


@pytest.mark.parametrize(
    ("x", "d", "across", "sigma", "where"),
    [
        ([0], [20], [np.nan], 0.02, "/stations"),
        ([0, np.inf], [20, 20], [np.nan] * 2, 0.02, "/stations/1/x_mm"),
        ([0, 10, 10], [20, 20, 20], [np.nan] * 3, 0.02, "/stations/2/x_mm"),
        ([0, 10], [20, 0], [np.nan] * 2, 0.02, "/stations/1/diameter_mm"),
        ([0, 10], [20, np.nan], [np.nan] * 2, 0.02, "/stations/1/diameter_mm"),
        ([0, 10], [20, 20], [-3, np.nan], 0.02, "/stations/0/across_mm"),
        ([0, 10], [20, 20], [20, np.inf], 0.02, "/stations/1/across_mm"),
        ([0, 10], [20, 20], [20, 20], np.nan, "/reading_sigma_mm"),
    ],
)
def test_impossible_readings_are_refused_where_they_stand(x, d, across, sigma, where):
    with pytest.raises(BlankError) as caught:
        stations_skin(x, d, across, sigma)
    assert caught.value.where == where and caught.value.hint


@pytest.mark.parametrize("factor", [10.0, 0.1])
@pytest.mark.parametrize("row", range(5))
def test_a_slipped_decimal_is_told_by_its_row(row, factor):
    x, d = [0.0, 20, 40, 60, 80], np.array([40.0, 46, 50, 44, 30])
    across = np.array([np.nan, np.nan, 48, 43, np.nan])
    d[row] *= factor
    got = stations_skin(x, d, across, 0.02)
    told = [f for f in got.findings if f.code == "slipped-decimal"]
    assert [f.where.pointer for f in told] == [f"/stations/{row}/diameter_mm"]
    assert f"row {row + 1} (x {x[row]:g})" in told[0].message
    thin_end = row in (0, 4) and factor < 1  # which may be a pole
    assert told[0].severity.value == ("note" if thin_end else "warning")


def test_thin_ends_and_necks_are_no_slips_and_a_slip_across_has_its_own_field():
    x, none = [0.0, 1, 10, 30, 50, 60], [np.nan] * 6
    assert not stations_skin(x, [4, 14, 40, 50, 12, 40], none, 0.02).findings
    across = [np.nan, np.nan, 38, 480, 12, np.nan]
    (told,) = stations_skin(x, [4, 14, 40, 50, 12, 40], across, 0.02).findings
    assert told.where.pointer == "/stations/3/across_mm"
