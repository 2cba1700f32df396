"""How sure a skin is place by place: through the table, the skin, the proof, and the heights that rapids keep."""

import numpy as np
import pytest

from engine.blank import Cylinder, Sampled, Spread, read_grid, sample, sigma_at, write_grid
from engine.kernel.errors import BlankError

RNG = np.random.default_rng(7)
X = np.linspace(3.0, 63.0, 7)
RADIUS = 20 + RNG.normal(0, 0.3, (7, 12))
SIGMA = RNG.uniform(0.01, 0.4, (7, 12))


def test_a_table_gives_back_what_was_written():
    skin = read_grid(write_grid(X, RADIUS, SIGMA))
    theta = np.arange(12) * (2 * np.pi / 12)
    assert skin.radius(X[:, None], theta) == pytest.approx(RADIUS, abs=1e-5)
    assert sigma_at(skin, X[:, None], theta) == pytest.approx(SIGMA, abs=1e-5)
    assert skin.sigma_mm == pytest.approx(np.sqrt((SIGMA**2).mean()), abs=1e-5)


def test_between_places_sigma_is_straight_and_closes_round_the_blank():
    spread = Spread(x0_mm=0.0, x1_mm=6.0, sigma_mm=np.arange(28.0).reshape(7, 4))
    x, quarter = np.array([2.0, 2.5, 6.0, -9.0, 99.0]), np.pi / 2
    assert spread.at(x, np.zeros(5)) == pytest.approx([8.0, 10.0, 24.0, 0.0, 24.0])
    assert spread.at(np.zeros(3), np.array([0.5, 3.5, -0.5]) * quarter) == pytest.approx([0.5, 1.5, 1.5])
    assert spread.at(x, x + 2 * np.pi) == pytest.approx(spread.at(x, x))


def test_a_number_stated_for_the_whole_skin_counts_everywhere():
    skin = read_grid(write_grid(X, RADIUS, SIGMA), sigma_mm=0.2)
    assert sigma_at(skin, X, np.zeros(7)) == pytest.approx(np.full(7, 0.2)) and skin.spread is None


def test_a_table_without_sigmas_takes_the_one_for_what_is_not_stated():
    plain = b"\n".join(line.rsplit(b",", 1)[0] for line in write_grid(X, RADIUS, SIGMA).splitlines())
    assert sigma_at(read_grid(plain, unstated_mm=0.05), X, np.zeros(7)) == pytest.approx(np.full(7, 0.05))


@pytest.mark.parametrize("wrong", [b"-0.1", b"nan", b"inf", b"x", b""])
def test_a_broken_sigma_is_refused_with_its_row(wrong):
    lines = write_grid(X, RADIUS, SIGMA).splitlines()
    lines[5] = lines[5].rsplit(b",", 1)[0] + b"," + wrong
    with pytest.raises(BlankError, match="row 6"):
        read_grid(b"\n".join(lines))


def test_uneven_stations_keep_each_its_own_sigma_at_the_ends_and_never_fall_below_the_least():
    x = np.array([0.0, 5.0, 12.0, 30.0, 37.0, 60.0])
    sigma = RNG.uniform(0.02, 0.3, (6, 12))
    skin = read_grid(write_grid(x, RADIUS[:6], sigma))
    theta = np.arange(12) * (2 * np.pi / 12)
    assert sigma_at(skin, np.array([0.0, 60.0])[:, None], theta) == pytest.approx(sigma[[0, -1]], abs=1e-5)
    told = sigma_at(skin, np.linspace(0, 60, 200)[:, None], theta)
    assert sigma.min() - 1e-5 <= told.min() and told.max() <= sigma.max() + 1e-5


def test_a_part_of_a_skin_and_its_mean_know_as_much_as_the_whole():
    skin = read_grid(write_grid(X, RADIUS, SIGMA))
    x, theta = RNG.uniform(20, 40, 50), RNG.uniform(0, 7, 50)
    for other in (sample(skin, 15.0, 45.0), skin.averaged()):
        assert isinstance(other, Sampled)
        assert sigma_at(other, x, theta) == pytest.approx(sigma_at(skin, x, theta))


def test_a_turned_shape_is_as_sure_everywhere():
    assert (
        sigma_at(Cylinder(diameter_mm=40, length_mm=90, sigma_mm=0.07), X[:, None], np.zeros(3)).tolist()
        == [[0.07] * 3] * 7
    )
