"""What every skin promises, run over one of each kind."""

import numpy as np
import pytest

from engine.blank import metric, tilt_cos
from tests.blank.skins import SKINS


@pytest.fixture(params=sorted(SKINS))
def skin(request):
    return SKINS[request.param]


def places(skin, n=400, pole=0.03):
    rng = np.random.default_rng(7)
    low, high = skin.x_range_mm
    return low + (high - low) * rng.uniform(pole, 1 - pole, n), rng.uniform(-10, 10, n)


def test_periodic(skin):
    x, t = places(skin)
    assert np.allclose(skin.radius(x, t), skin.radius(x, t + 2 * np.pi), rtol=0, atol=1e-9)
    assert np.allclose(skin.slopes(x, t)[1], skin.slopes(x, t - 4 * np.pi)[1], rtol=0, atol=1e-8)


def test_positive_inside_and_finite_everywhere(skin):
    x, t = places(skin, pole=0.0)
    assert (skin.radius(x, t) > 0).all()
    low, high = skin.x_range_mm
    beyond = np.array([low - 50, low, high, high + 50])
    assert np.isfinite(skin.radius(beyond, np.zeros(4))).all()
    assert np.isfinite(skin.slopes(beyond, np.zeros(4))).all()


def test_slopes_are_those_of_the_radius(skin):
    x, t = places(skin)
    h = 1e-5
    r_x, r_t = skin.slopes(x, t)
    assert np.allclose((skin.radius(x + h, t) - skin.radius(x - h, t)) / (2 * h), r_x, atol=2e-5, rtol=1e-6)
    assert np.allclose((skin.radius(x, t + h) - skin.radius(x, t - h)) / (2 * h), r_t, atol=2e-5, rtol=1e-6)


def test_places_broadcast(skin):
    x, t = places(skin, 5)
    grid = skin.radius(x[:, None], t[None, :])
    assert grid.shape == (5, 5)
    assert grid[2, 3] == pytest.approx(skin.radius(x[2:3], t[3:4])[0], abs=1e-12)
    assert skin.slopes(x[:, None], t[None, :])[0].shape == (5, 5)


def test_round_means_the_same_all_round(skin):
    x, t = places(skin)
    turned = np.abs(skin.radius(x, t) - skin.radius(x, t + 1.0)).max()
    assert (turned < 1e-9) == skin.is_round


def test_metric_and_tilt_against_finite_differences_in_space(skin):
    x, t = places(skin, 100)
    h = 1e-5

    def p(a, b):
        r = skin.radius(a, b)
        return np.stack([a, r * np.cos(b), r * np.sin(b)], axis=1)

    px, pt = (p(x + h, t) - p(x - h, t)) / (2 * h), (p(x, t + h) - p(x, t - h)) / (2 * h)
    E, F, G = metric(skin.radius(x, t), *skin.slopes(x, t))
    for found, wanted in ((E, (px * px).sum(1)), (F, (px * pt).sum(1)), (G, (pt * pt).sum(1))):
        assert np.allclose(found, wanted, rtol=1e-4, atol=1e-4)
    normal = np.cross(px, pt)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    radial = np.stack([np.zeros(100), np.cos(t), np.sin(t)], axis=1)
    assert np.allclose(np.abs((normal * radial).sum(1)), tilt_cos(skin.radius(x, t), *skin.slopes(x, t)), atol=1e-5)


def test_a_skin_never_changes(skin):
    with pytest.raises((AttributeError, TypeError)):  # frozen with slots raises either
        skin.x_range_mm = (0.0, 1.0)
