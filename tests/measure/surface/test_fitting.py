"""Scattered readings to a skin: how near the truth, how sure it says it is, and what it tells."""

import numpy as np
import pytest
from scipy.interpolate import RectBivariateSpline

from engine.kernel.errors import BlankError
from engine.measure import Readings
from engine.measure.spline import Smoothing
from engine.measure.surface import fit_readings
from tests.measure.surface.skins import SKINS, gourd, grid, off_truth, readings_of


@pytest.mark.parametrize("name", SKINS)
@pytest.mark.parametrize("seed", range(2))
def test_twenty_stations_by_twenty_four_angles_with_wild_points(name, seed):
    skin, lo, hi = SKINS[name]
    readings, wild = readings_of(skin, *grid(lo, hi, 20, 24), np.random.default_rng(seed), wild=5)
    got = fit_readings(readings)
    error = off_truth(got, skin)
    assert np.sqrt((error**2).mean()) <= 0.02
    assert not (wild & got.used).any()
    assert (~wild & ~got.used).sum() <= 0.01 * (~wild).sum()
    assert 0.7 <= np.sqrt(((error / got.sigma_mm) ** 2).mean()) <= 1.4
    assert got.known.all()
    (told,) = (f for f in got.findings if f.code == "outliers")
    assert f"{(~got.used).sum()} of 480 readings" in told.message
    assert got.residual_mm == pytest.approx(readings.radius_mm - at_readings(got, readings), abs=0.02)


def at_readings(got, readings):
    """The skin's radius by cubic interpolation of its grid, at each reading."""
    theta = np.concatenate([got.theta_rad - 2 * np.pi, got.theta_rad, got.theta_rad + 2 * np.pi])
    return RectBivariateSpline(got.x_mm, theta, np.tile(got.radius_mm, 3)).ev(readings.x_mm, readings.theta_rad)


def test_strewn_readings_with_one_in_ten_wild():
    rng = np.random.default_rng(3)
    x, theta = rng.uniform(4, 116, 900), rng.uniform(0, 2 * np.pi, 900)
    readings, wild = readings_of(gourd, x, theta, rng, wild=90)
    got = fit_readings(readings)
    inner = (got.x_mm > 8) & (got.x_mm < 112)
    assert np.sqrt((off_truth(got, gourd)[inner] ** 2).mean()) <= 0.02
    assert (wild & got.used).sum() <= 1 and (~wild & ~got.used).sum() <= 8
    assert any(f.code == "outliers" for f in got.findings)


def test_in_a_gap_the_skin_is_less_sure_and_marked():
    x, theta = grid(4, 116, 20, 24)
    seen = ~((x > 40) & (x < 80) & (theta > 1) & (theta < 3))
    readings, _ = readings_of(gourd, x[seen], theta[seen], np.random.default_rng(5))
    got = fit_readings(readings)
    middle = int(np.abs(got.x_mm - 60).argmin()), int(np.abs(got.theta_rad - 2).argmin())
    assert not got.known[middle] and got.known[:10].all()
    error = off_truth(got, gourd)
    gap = ~got.known
    assert got.sigma_mm[middle] > 1.3 * got.sigma_mm[got.known].mean()
    assert np.sqrt(((error / got.sigma_mm)[gap] ** 2).mean()) < 2.0
    (told,) = (f for f in got.findings if f.code == "gaps")
    assert 40 < told.where.x_mm < 80 and 57 < told.where.angle_deg < 172
    assert told.severity.value == "warning" and f"known to {got.sigma_mm[gap].max():.2f} mm" in told.message


def test_past_the_last_readings_the_skin_is_no_surer_than_a_share_of_the_distance():
    readings, _ = readings_of(gourd, *grid(20, 100, 20, 24), np.random.default_rng(5))
    got = fit_readings(readings, (4.0, 100.0))
    assert not got.known[0].any() and (got.sigma_mm[0] >= 0.05 * 16 - 1e-9).all()
    assert got.sigma_mm[got.known].max() < 0.5


@pytest.mark.parametrize(("angles", "told"), [(5, True), (11, True), (12, False), (24, False)])
def test_few_angles_a_turn_are_told(angles, told):
    readings, _ = readings_of(lambda x, theta: 25 + 0 * x, *grid(4, 116, 20, angles), np.random.default_rng(5))
    found = [f for f in fit_readings(readings).findings if f.code == "few-angles"]
    assert bool(found) is told
    assert not told or f"more than {angles // 2} a turn" in found[0].message


def test_turning_the_blank_turns_the_skin():
    readings, _ = readings_of(gourd, *grid(4, 116, 12, 24), np.random.default_rng(6))
    turn = 2 * np.pi / 6  # a whole number of readings and of splines
    turned = Readings(
        x_mm=readings.x_mm,
        theta_rad=readings.theta_rad + turn,
        radius_mm=readings.radius_mm,
        sigma_mm=readings.sigma_mm,
    )
    a, b = fit_readings(readings, angles=120, step_mm=5.0), fit_readings(turned, angles=120, step_mm=5.0)
    assert np.roll(a.radius_mm, 20, axis=1) == pytest.approx(b.radius_mm, abs=1e-5)


def test_given_smoothing_and_range_are_kept():
    readings, _ = readings_of(gourd, *grid(4, 116, 12, 24), np.random.default_rng(6))
    stiff = fit_readings(readings, (10.0, 100.0), smoothing=Smoothing(along=1e4, around=1e4), step_mm=2.0, angles=180)
    assert stiff.x_mm[0] == 10 and stiff.x_mm[-1] == 100 and stiff.radius_mm.shape == (46, 180)
    harmonics = np.abs(np.fft.rfft(stiff.radius_mm, axis=1))[:, 5] * 2 / 180
    assert harmonics.max() < 0.1  # lobes of 1.2 mm pressed flat
    assert dict(stiff.how)["smoothing"].startswith("given; ")


def test_stated_noise_counts_and_too_small_a_one_is_told():
    rng = np.random.default_rng(8)
    x, theta = grid(4, 116, 12, 24)
    honest = fit_readings(readings_of(gourd, x, theta, rng, noise=0.05, stated=0.05)[0])
    boast = fit_readings(readings_of(gourd, x, theta, rng, noise=0.05, stated=0.005)[0])
    assert not honest.findings
    assert [f.code for f in boast.findings] == ["noisier-than-stated"]
    assert boast.sigma_mm.mean() == pytest.approx(honest.sigma_mm.mean(), rel=0.5)


def test_readings_that_state_less_error_count_more():
    x, theta = grid(0, 60, 8, 16)
    radius = np.full(len(x), 20.0)
    shift = np.arange(len(x)) % 2 == 0  # every other reading is 1 mm out and says so
    sigma = np.where(shift, 1.0, 0.01)
    got = fit_readings(Readings(x_mm=x, theta_rad=theta, radius_mm=radius + shift, sigma_mm=sigma))
    assert got.radius_mm == pytest.approx(20.0, abs=0.05)


@pytest.mark.parametrize(
    ("m", "n", "words"),
    [(2, 12, "at 2 stations and 12 angles"), (8, 3, "8 stations and 3 angles"), (4, 4, "16 readings")],
)
def test_too_few_are_refused_with_how_many_are_needed(m, n, words):
    readings, _ = readings_of(gourd, *grid(4, 116, m, n), np.random.default_rng(1))
    with pytest.raises(BlankError, match=words) as caught:
        fit_readings(readings)
    assert "at least 20 readings" in caught.value.hint


def test_one_side_only_is_refused():
    x, theta = grid(4, 116, 12, 24)
    front = theta < 2.5
    readings, _ = readings_of(gourd, x[front], theta[front], np.random.default_rng(1))
    with pytest.raises(BlankError, match="nothing was read"):
        fit_readings(readings)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"x_range_mm": (50.0, 50.0)}, "/x_range_mm"),
        ({"angles": 7}, "/angles"),
        ({"x_range_mm": (4.0, 400.0)}, "/x_range_mm"),
    ],
)
def test_what_cannot_be_given_is_refused(change, where):
    readings, _ = readings_of(SKINS["egg"][0], *grid(6, 50, 12, 24), np.random.default_rng(1))
    with pytest.raises(BlankError) as caught:
        fit_readings(readings, **change)
    assert caught.value.where == where


def test_a_radius_below_the_axis_and_no_readings_are_refused():
    x, theta = grid(4, 116, 12, 24)
    radius = gourd(x, theta)
    radius[17] = -1.0
    with pytest.raises(BlankError) as caught:
        fit_readings(Readings(x_mm=x, theta_rad=theta, radius_mm=radius, sigma_mm=0 * x))
    assert caught.value.where == "/readings/17/radius_mm"
    with pytest.raises(BlankError, match="0 readings"):
        fit_readings(Readings(x_mm=[], theta_rad=[], radius_mm=[], sigma_mm=[]))
