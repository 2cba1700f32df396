"""What readings cannot show is in the error: lobes between the angles, bends between the stations.

Skins that few angles a turn cannot tell from one another get one error, so for these the law is that none is far surer
than it may be, and that all of them together are as sure as they say.
"""

import numpy as np
import pytest

from engine.measure.surface import fill_grid, fit_readings
from tests.measure.surface.skins import bottle, grid, off_truth, readings_of


def lobed(lobes, height):
    """Lobes that fade to the ends and run a little askew, with an overtone of a tenth, on a blank held off its axis."""

    def skin(x, theta):
        swell = np.sin(np.pi * x / 120)
        turn = lobes * (0.5 * theta + 0.15 + 0.003 * x)
        wave = np.cos(2 * turn) + 0.1 * np.cos(4 * turn + 1)
        return 25 + 4 * swell + height * swell**2 * wave + 0.5 * np.cos(theta - 0.7)

    return skin


def smooth(x, theta):
    """A gourd's profile without lobes, a little oval, off its axis and askew."""
    s = x / 120
    profile = 24 + 9 * np.cos(2 * np.pi * (s - 0.62)) - 5 * np.exp(-(((s - 0.15) / 0.12) ** 2))
    return profile + 0.5 * np.cos(theta - 0.7) + 0.005 * x * np.cos(theta + 1) + 0.15 * np.cos(2 * theta + 0.4)


def oval(x, theta):
    a, b = 26 + 3 * np.sin(x / 40), 23 + 2 * np.sin(x / 40)
    return a * b / np.hypot(b * np.cos(theta), a * np.sin(theta)) + 0.3 * np.cos(theta)


def turned(x, theta):
    return 25 + 3 * np.sin(x / 30) + 0 * theta


LOBED = {f"{k} lobes of {height} mm": lobed(k, height) for k in (3, 4, 5, 6) for height in (0.3, 1.5)}
SKINS = LOBED | {"smooth": smooth, "oval": oval, "turned": turned}


def error_over_sigma(skin, stations, angles, *, noise=0.02, seed=1):
    readings, _ = readings_of(skin, *grid(4, 116, stations, angles), np.random.default_rng(seed), noise=noise)
    got = fit_readings(readings)
    return float(np.sqrt(((off_truth(got, skin) / got.sigma_mm) ** 2).mean()))


@pytest.mark.parametrize("angles", [5, 6, 8, 12])
def test_lobes_that_the_angles_may_not_see_are_in_the_error(angles):
    ratios = {name: error_over_sigma(skin, 12, angles) for name, skin in SKINS.items()}
    assert max(ratios.values()) < 1.6, ratios
    assert 0.4 < np.sqrt(np.mean(np.square(list(ratios.values())))) < 1.6, ratios


def test_where_all_lobes_are_seen_each_skin_is_as_sure_as_it_says():
    noise = np.resize([0.001, 0.001, 0.02], len(SKINS))
    ratios = {name: error_over_sigma(SKINS[name], 20, 24, noise=n) for name, n in zip(SKINS, noise, strict=True)}
    assert max(ratios.values()) < 1.6 and min(ratios.values()) > 0.4, ratios


def test_lobes_that_are_seen_but_hardly_followed_are_in_the_error():
    """Five lobes at thirteen angles: a spline of so few pieces misses a part of each."""
    assert error_over_sigma(lobed(5, 1.5), 12, 13) < 1.2


def waved(x, theta):
    return 24 + 7 * np.sin(x / 25 - 0.6) + 1.3 * np.cos(2 * theta - 0.8) + 0.7 * np.cos(3 * theta + 0.04 * x)


@pytest.mark.parametrize(
    ("skin", "stations"),
    [(smooth, 4), (waved, 4), (waved, 5), (waved, 7), (smooth, 6), (bottle, 6), (oval, 6), (turned, 6)],
)
def test_bends_between_few_stations_are_in_the_error(skin, stations):
    assert 0.4 < error_over_sigma(skin, stations, 24) < 1.6


def test_what_was_not_seen_is_nothing_at_a_reading_and_most_half_way_to_the_next():
    readings, _ = readings_of(lobed(5, 1.5), *grid(4, 116, 12, 5), np.random.default_rng(1))
    sigma = fit_readings(readings).sigma_mm[56]
    assert sigma[0] < 0.2 and sigma[24] < 0.2 and sigma[12] > 0.5 and sigma[6] < sigma[12]


def test_a_grid_of_few_angles_says_at_its_readings_what_lies_between_them():
    angle = np.arange(8) * 45.0
    x = np.linspace(4, 116, 20)
    for skin, least in ((lobed(5, 1.5), 0.4), (turned, 0.0)):
        got = fill_grid(x, angle, skin(x[:, None], np.radians(angle)))
        assert least <= got.sigma_mm[10].min() and got.sigma_mm[10].max() < least + 0.5


def test_many_angles_leave_nothing_unseen_around():
    readings, _ = readings_of(lobed(5, 1.5), *grid(4, 116, 6, 120), np.random.default_rng(1), noise=0.0)
    assert fit_readings(readings).sigma_mm[0].max() < 0.05


@pytest.mark.parametrize("layout", ["strewn", "stations of their own angles", "lines of their own stations"])
def test_lobes_are_in_the_error_however_few_readings_lie(layout):
    rng, x, theta = np.random.default_rng(1), *grid(4, 116, 10, 6)
    if layout == "strewn":
        x, theta = rng.uniform(4, 116, 60), rng.uniform(0, 2 * np.pi, 60)
    elif layout == "lines of their own stations":
        x, theta = np.linspace(4, 112, 10)[:, None] + 0.7 * np.arange(8), np.arange(8) * np.pi / 4 + np.zeros((10, 1))
    else:
        theta = theta + 0.036 * x
    for skin in (lobed(3, 1.5), lobed(5, 0.3), lobed(5, 1.5), smooth):
        readings, _ = readings_of(skin, x.ravel(), theta.ravel(), np.random.default_rng(2))
        got = fit_readings(readings)
        assert np.sqrt(((off_truth(got, skin) / got.sigma_mm) ** 2).mean()) < 1.6
