"""Shapes against published and independently computed values (mpmath, 25 digits and more)."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipeinc

from engine.blank import Cone, Cylinder, Meridian, Ovoid, Sampled, metric, sample
from engine.kernel.errors import BlankError

EGGS = [  # L, B, w, D; radius at x/L -0.45 -0.40 -0.25 0 0.125 0.25 0.375 0.45; volume; true maximum x, y; meridian
    (
        *(56, 43.5, 1.9, 36),
        [10.1085755941, 13.8259662027, 19.5426471705, 21.6763483246, 20.5491321460, 18, 13.4725546125, 8.7748749075],
        *(55171.2432, -2.323183, 21.752556, 78.39087),
    ),
    (
        *(57, 44, 2, 36.5),
        [10.2414732324, 13.9975730472, 19.7599009082, 21.9297699427, 20.8104870797, 18.25, 13.6752491620, 8.9126099313],
        *(57543.5432, -2.283771, 22.001113, 79.62161),
    ),
    (
        *(100, 70, 10, 50),
        [18.7370135231, 25.2707394399, 33.8221269059, 33.5700881316, 30.0968395400, 25, 17.8056916292, 11.2765163442],
        *(244163.922, -14.016327, 35.144249, 134.0796),
    ),
]


@pytest.mark.parametrize("row", EGGS, ids=["hen", "duck", "pointed"])
def test_the_universal_egg_formula(row):
    """Narushin, Romanov, Griffin 2021, eq. (5): radii as computed for the reference sheet."""
    L, B, w, D, radii, volume, x_max, y_max, arc = row
    egg = Ovoid(length_mm=L, breadth_mm=B, shift_mm=w, quarter_diameter_mm=D)
    at = (np.array([-0.45, -0.40, -0.25, 0, 0.125, 0.25, 0.375, 0.45]) + 0.5) * L
    assert np.allclose(egg.radius(at, np.zeros(8)), radii, rtol=0, atol=1e-9)
    assert quad(lambda x: np.pi * float(egg.radius(np.array(x), np.array(0.0))) ** 2, 0, L, limit=200)[
        0
    ] == pytest.approx(volume, rel=1e-8)
    x = np.linspace(0, L, 200001)
    r = egg.radius(x, np.zeros(1))
    assert x[r.argmax()] - L / 2 == pytest.approx(x_max, abs=1e-3)
    assert r.max() == pytest.approx(y_max, abs=1e-6)
    assert egg.radius(np.array([L / 2 - w]), np.zeros(1))[0] == pytest.approx(B / 2, abs=1e-12)
    m = Meridian(egg, L / 2)
    caps = egg.radius(m.x[[0, -1]], np.zeros(1)).sum()  # the maps stop just short of the poles, where arc is radius
    assert m.arc(m.x[-1:])[0] - m.arc(m.x[:1])[0] + caps == pytest.approx(arc, abs=2e-3)


def test_volume_and_surface_from_two_readings():
    """Narushin, Poultry Science 84 (2005) 482-484: within 3 % for hen-like eggs."""
    for L, B, V in ((56, 43.5, 55886.4684), (57, 44, 58100.3280)):
        egg = Ovoid(length_mm=L, breadth_mm=B, shift_mm=2, quarter_diameter_mm=36.3)
        x = np.linspace(0, L, 20001)
        assert np.trapezoid(np.pi * egg.radius(x, np.zeros(1)) ** 2, x) == pytest.approx(V, rel=0.03)


@dataclass(frozen=True)
class Spheroid:
    """Long semi-axis c along x, 30; equatorial 22."""

    c: float = 30.0
    a: float = 22.0
    x_range_mm: tuple = (-30.0, 30.0)
    sigma_mm: float = 0.0
    is_round: bool = True

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return self.a * np.sqrt(np.maximum(1 - (x / self.c) ** 2, 0))

    def slopes(self, x_mm, theta_rad):
        r = np.maximum(self.radius(x_mm, theta_rad), 1e-9)
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return -(self.a**2) * x / self.c**2 / r, np.zeros(x.shape)


PROLATE = [  # x, arc s, psi, area of band 0..x
    (5, 5.0126313631, 0.22891731346, 689.66851725548),
    (10, 10.1057738257, 0.46839446743, 1370.3758626549),
    (15, 15.3881537115, 0.73322430913, 2032.7955585669),
    (20, 21.0568469581, 1.05228422711, 2666.7901325883),
    (25, 27.6283015406, 1.51247925144, 3260.7582792908),
    (28, 32.8547042006, 2.03831127755, 3592.1825181708),
]


@pytest.mark.parametrize(("x", "s", "psi", "area"), PROLATE)
def test_a_prolate_spheroids_meridian(x, s, psi, area):
    """By mpmath quadrature; s also by scipy's elliptic integral of the second kind."""
    m = Meridian(Spheroid(), 0.0)
    at = np.array([float(x)])
    assert s == pytest.approx(30 * ellipeinc(np.arcsin(x / 30), 1 - 22**2 / 30**2), rel=1e-9)
    assert m.arc(at)[0] == pytest.approx(s, rel=2e-8)
    assert m.isometric(at)[0] == pytest.approx(psi, rel=2e-8)
    assert 2 * np.pi * m.band(at)[0] == pytest.approx(area, rel=2e-8)
    for forward, back in ((m.arc, m.arc_inverse), (m.isometric, m.isometric_inverse), (m.band, m.band_inverse)):
        assert back(forward(at))[0] == pytest.approx(x, abs=1e-9)


def test_a_cones_slant_and_isometric_latitude():
    """Textbook formulas: slant 60.8276253030, psi = ln(r1/r2)/sin = 2.46634796694."""
    m = Meridian(Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60), 0.0)
    end = np.array([60.0])
    assert m.arc(end)[0] == pytest.approx(60.8276253030, rel=1e-10)
    assert m.isometric(end)[0] == pytest.approx(2.46634796694, rel=1e-9)
    assert 2 * np.pi * m.band(end)[0] == pytest.approx(9554.78103935807, rel=1e-10)


@dataclass(frozen=True)
class Lobed:
    x_range_mm: tuple = (0.0, 50.0)
    sigma_mm: float = 0.0
    is_round: bool = False

    def radius(self, x_mm, theta_rad):
        return np.broadcast_arrays(25 + np.cos(3 * np.asarray(theta_rad)), x_mm)[0]

    def slopes(self, x_mm, theta_rad):
        t = np.broadcast_arrays(-3 * np.sin(3 * np.asarray(theta_rad)), x_mm)[0]
        return np.zeros(t.shape), t


def test_a_three_lobed_section():
    """By mpmath: perimeter 157.6438255890, area pi (625 + 1/2)."""
    skin = sample(Lobed(), 0.0, 50.0)
    t = np.linspace(0, 2 * np.pi, 20001)
    r = skin.radius(np.full(t.size, 20.0), t)
    G = metric(r, *skin.slopes(np.full(t.size, 20.0), t))[2]
    assert np.trapezoid(np.sqrt(G), t) == pytest.approx(157.6438255890, abs=2e-5)
    assert np.trapezoid(r**2 / 2, t) == pytest.approx(1965.0662048204, abs=2e-4)
    assert skin.error_mm <= 1e-6


def test_what_is_no_egg_is_refused():
    for wrong in (
        {"quarter_diameter_mm": 200},
        {"shift_mm": 40},
        {"shift_mm": -29},
        {"breadth_mm": float("nan")},
        {"length_mm": float("inf")},
    ):
        with pytest.raises(BlankError):
            Ovoid(**({"length_mm": 57, "breadth_mm": 44, "shift_mm": 2, "quarter_diameter_mm": 36.5} | wrong))
    with pytest.raises(BlankError, match="off the blank"):
        Meridian(Cylinder(diameter_mm=10, length_mm=10), 11.0)
    with pytest.raises(BlankError, match="nothing to sample"):
        sample(Cylinder(diameter_mm=10, length_mm=10), 5.0, 5.0)


def test_a_round_skin_is_read_along_its_meridian_as_all_round():
    """The same coefficients, once known to be round and once not."""
    round_ = sample(Cone(diameter_mm=30, end_diameter_mm=60, length_mm=40), 0.0, 40.0)
    plain = Sampled(coefficients=round_.coefficients, frame=(*round_.frame[:3], 4 / (2 * np.pi), *round_.frame[4:]))
    x, t = np.linspace(0, 40, 301), np.linspace(-7, 7, 301)
    assert round_.frame[3] == 0.0
    assert round_.on_grid(x, t) == pytest.approx(plain.radius(x[:, None], t[None, :]), abs=1e-12)
    assert round_.radius(x, t) == pytest.approx(plain.radius(x, t), abs=1e-12)
    for a, b in zip(round_.slopes(x, t), plain.slopes(x, t), strict=True):
        assert a == pytest.approx(b, abs=1e-12)


def test_all_places_of_a_grid_at_once_are_those_one_by_one():
    skin = sample(Lobed(), 0.0, 50.0)
    x, t = np.linspace(-1, 51, 40), np.linspace(-9, 9, 200)
    assert skin.on_grid(x, t) == pytest.approx(skin.radius(x[:, None], t[None, :]), abs=1e-12)
