"""Stations against those about them: a wrong row is named, turned work is not, and scatter is held in the error."""

import numpy as np
import pytest

from engine.measure.callipers import stations_skin
from engine.measure.callipers.neighbours import foretold, scatter, standing

X = np.linspace(0, 110, 12)


def bottle(x):
    return 2 * (20 + 18.35 * np.exp(-(((x - 70) / 26) ** 2)) - 3 * np.exp(-(((x - 22) / 16) ** 2)))


def measured(x, d, error_mm=0.05):
    return stations_skin(x, d, np.full(len(x), np.nan), error_mm)


def told(got, code="station-stands-out"):
    return [f for f in got.findings if f.code == code]


def test_a_cubic_is_foretold_at_any_spacing_and_its_error_is_that_of_five_readings():
    x = np.array([0.0, 3, 10, 14, 25, 27, 40])
    got, _ = foretold(x, 1e-3 * x**3 - 0.02 * x**2 + 40)
    assert got[2:-2] == pytest.approx((1e-3 * x**3 - 0.02 * x**2 + 40)[2:-2]) and np.isnan(got[[0, 1, -2, -1]]).all()
    _, wide = foretold(np.arange(5.0), np.ones(5))
    assert wide[2] ** 2 == pytest.approx(1 + 2 * (4 / 6) ** 2 + 2 * (1 / 6) ** 2)  # Lagrange's weights, even spacing


@pytest.mark.parametrize("row", range(2, 10))
def test_a_radius_typed_for_a_diameter_is_named_and_held_in_the_error(row):
    d = bottle(X)
    d[row] /= 2
    got = measured(X, d)
    (finding,) = told(got)
    assert finding.where.pointer == f"/stations/{row}/diameter_mm" and finding.where.x_mm == X[row]
    assert f"row {row + 1} (x {X[row]:g})" in finding.message and "a radius typed" in finding.message
    off = np.abs(got.radius_mm - bottle(got.x_mm)[:, None] / 2)
    assert (off < 2 * got.sigma_mm + 0.1).all() and off.max() > 8
    assert np.ptp(got.sigma_mm, axis=1) == pytest.approx(0, abs=1e-9)  # a circle errs alike all around
    assert not told(got, "readings-scatter")


def test_one_far_too_large_is_named_with_what_was_foretold():
    d = bottle(X)
    d[5] += 20
    (finding,) = told(measured(X, d))
    assert "80.0" in finding.message and "foretell 60" in finding.message and "32% more" in finding.message


@pytest.mark.parametrize("row", [3, 4, 5, 8])
def test_two_swapped_stations_are_one_finding(row):
    d = bottle(X)
    d[[row, row + 1]] = d[[row + 1, row]]
    got = measured(X, d)
    (finding,) = told(got)
    assert finding.where.pointer == f"/stations/{row}/diameter_mm" and f"swapped with row {row + 2}" in finding.message
    off = np.abs(got.radius_mm - bottle(got.x_mm)[:, None] / 2)
    assert (off < 2 * got.sigma_mm + 0.1).all()


def test_a_slipped_decimal_is_told_as_that_alone_and_an_oval_row_by_its_own_field():
    d = bottle(X)
    d[5] *= 10
    assert [f.code for f in measured(X, d).findings] == ["slipped-decimal"]
    across = bottle(X) * 0.9
    across[6] /= 2
    (finding,) = told(stations_skin(X, bottle(X), across, 0.05))
    assert finding.where.pointer == "/stations/6/across_mm"


@pytest.mark.parametrize(
    "d",
    [
        bottle(X),
        [60] * 6 + [30] * 6,  # a shoulder
        [60, 60, 60, 60, 30, 30, 60, 60, 60, 60, 60, 60],  # a groove of two stations
        [60, 60, 60, 60, 30, 34, 60, 60, 60, 60, 60, 60],
        [40, 40, 40, 60, 60, 40, 40, 40, 70, 70, 70, 70],  # a bead and a step
        [60, 60, 50, 50, 30, 30, 18, 18, 38, 38, 38, 38],  # steps down and up
        [40, 60] * 6,  # beads
        [2, 30, 42, 48, 50, 50, 50, 48, 42, 30, 14, 2],  # ends near the axis
    ],
)
def test_turned_work_is_not_told(d):
    assert not told(measured(X, np.array(d, np.float64)))


def test_hardly_a_turned_body_of_steps_is_told_to_stand_out_or_to_scatter():
    rng = np.random.default_rng(7)
    out = spread = 0
    for _ in range(200):
        wide = rng.integers(2, 6, 7)
        d = np.repeat(rng.uniform(15, 70, 7), wide) + rng.normal(0, 0.05, wide.sum())
        x = np.cumsum(rng.uniform(2, 9, len(d)))
        out += (~np.isnan(standing(x, d)[0])).any()
        spread += scatter(x, d) > 0.1
    assert out <= 2 and spread <= 4


@pytest.mark.parametrize("noise_mm", [0.2, 0.4])
def test_a_scatter_over_the_stated_error_is_told_and_held(noise_mm):
    x = np.linspace(0, 110, 56)
    rng = np.random.default_rng(5)
    square = []
    for _ in range(8):
        got = measured(x, bottle(x) + rng.normal(0, noise_mm, 56))
        (finding,) = told(got, "readings-scatter")
        assert finding.severity.value == "warning" and finding.where.pointer == "/reading_error_mm"
        off = got.radius_mm[:, 0] - bottle(got.x_mm) / 2
        square.append((off**2 / got.sigma_mm[:, 0] ** 2).mean())
    assert 0.6 < np.sqrt(np.mean(square)) < 1.4
    assert dict(got.how)["error of the readings"].startswith(f"{got.readings.sigma_mm[0]:.4f}")


@pytest.mark.parametrize("stated_mm", [0.05, 0.4])
def test_a_scatter_that_was_stated_is_not_told(stated_mm):
    x, rng = np.linspace(0, 110, 56), np.random.default_rng(5)
    for _ in range(8):
        got = measured(x, bottle(x) + rng.normal(0, stated_mm, 56), stated_mm)
        assert not got.findings and got.sigma_mm.min() >= 0.5 * stated_mm * 0.7
    assert scatter(x, bottle(x)) < 1e-3
