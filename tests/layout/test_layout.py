"""Layouts against Snyder's worked examples, pyproj, and the laws that each keeps on any skin."""

from math import cos, degrees, pi, radians

import numpy as np
import pyproj
import pytest

from engine.blank import Cone, Cylinder, Ovoid, Skin, metric
from engine.kernel.errors import LayoutError
from engine.layout import Placement, Projection, lay_out, stretch
from tests.blank.skins import SKINS
from tests.blank.test_published import Spheroid


def sphere(R=1.0):
    return Spheroid(c=R, a=R, x_range_mm=(-R, R))


def at(skin: Skin, projection, x=0.0, angle=0.0):
    return lay_out(skin, Placement(x_mm=x, angle_deg=angle, width_mm=18.2, projection=projection))


SNYDER = [  # USGS Professional Paper 1395, appendix A: pages 266, 278, 365
    (Projection.CONFORMAL, -180, 35, -75, 1.8325957, 0.6528366, 1.0),
    (Projection.EQUAL_AREA, -75, 35, 80, 2.3428242, 0.6623090, cos(radians(30))),
    (Projection.TRUE_WIDTH, -90, -50, -75, 0.1682814, -0.8726646, 1.0),
]


@pytest.mark.parametrize(("projection", "lam0", "phi", "lam", "x", "y", "standard"), SNYDER)
def test_snyders_worked_examples(projection, lam0, phi, lam, x, y, standard):
    """Equal-area with a standard parallel is ours with both axes scaled: u by cos, v by 1/cos."""
    layout = at(sphere(), projection, 0.0, 0.0)
    turn = np.radians((lam - lam0 + 180) % 360 - 180)
    uv = layout.unwrap(np.array([np.sin(np.radians(phi))]), np.array([turn]))[0]
    assert uv[0] * standard == pytest.approx(x, abs=6e-8)
    assert uv[1] / standard == pytest.approx(y, abs=6e-8)


def test_snyders_worked_examples_on_clarkes_spheroid():
    """P7, P8, P9 (pages 267, 366, 281), Clarke 1866 in units of 1000 km; x = b' sin(beta), tan(beta) = (b/a) tan(phi).

    Equal-area with its standard parallel at 5 degrees is ours laid about that parallel.
    """
    a = 6.3782064
    b = a * np.sqrt(1 - 0.00676866)
    skin = Spheroid(c=b, a=a, x_range_mm=(-b, b))
    where = [
        (Projection.CONFORMAL, 0, 35, 105, 11688673.7, 4139145.6),
        (Projection.TRUE_WIDTH, 0, -50, 15, 1075471.5, -5540628.0),
        (Projection.EQUAL_AREA, 5, 5, -3, -332699.8, 554248.5),
    ]
    for projection, standard, phi, lam, u, v in where:
        x0, x = (b * np.sin(np.arctan(b / a * np.tan(radians(p)))) for p in (standard, phi))
        layout = at(skin, projection, x0)
        equator = layout.unwrap(np.zeros(1), np.zeros(1))[0, 1]
        uv = layout.unwrap(np.array([x]), np.array([radians(lam)]))[0]
        assert (uv[0] * 1e6, (uv[1] - equator) * 1e6) == pytest.approx((u, v), abs=0.15)


def test_snyders_orthographic_example():
    """P5, page 311: the view square to (40, -100) of the point (30, -110)."""
    layout = at(sphere(), Projection.FROM_VIEW, np.sin(radians(40)), -100.0)
    x, theta = np.array([np.sin(radians(30))]), np.array([radians(-110)])
    assert layout.unwrap(x, theta)[0] == pytest.approx([-0.1503837, -0.1651911], abs=6e-8)
    back = layout.wrap(layout.unwrap(x, theta))
    assert (back[0][0], back[1][0]) == pytest.approx((x[0], theta[0]), abs=1e-9)


NAMES = {
    Projection.EQUIDISTANT: "eqc",
    Projection.CONFORMAL: "merc",
    Projection.EQUAL_AREA: "cea",
    Projection.TRUE_WIDTH: "sinu",
}


@pytest.mark.parametrize("projection", list(NAMES))
@pytest.mark.parametrize("shape", ["sphere", "oblate"])
def test_against_pyproj_on_spheres_and_spheroids(projection, shape):
    """pyproj takes geodetic latitude: x = b' sin(beta), tan(beta) = (b/a) tan(phi). Equidistant on a spheroid has no
    twin there (PROJ's eqc is spherical), so its height is held against the geodesic's own arc."""
    a, b = (30.0, 30.0) if shape == "sphere" else (30.0, 29.0)  # PROJ sums a short series
    layout = at(Spheroid(c=b, a=a, x_range_mm=(-b, b)), projection)
    phi = np.radians(np.array([-62.0, -30, -5, 12, 44, 58]))
    lam = np.radians(np.array([-100.0, -20, 40, 75, 90, 130]))
    x = b * np.sin(np.arctan(b / a * np.tan(phi)))
    uv = layout.unwrap(x, lam)
    if projection is Projection.EQUIDISTANT:
        geod = pyproj.Geod(a=a, b=b)
        s = [np.sign(p) * geod.inv(0, 0, 0, degrees(abs(p)))[2] for p in phi]
        wanted = np.stack([a * lam, s], axis=1)
    else:
        proj = pyproj.Proj(f"+proj={NAMES[projection]} +a={a} +b={b}")
        wanted = np.stack(proj(np.degrees(lam), np.degrees(phi)), axis=1)
    assert np.allclose(uv, wanted, rtol=0, atol=2e-6)
    least, greatest = stretch(layout, uv)
    if projection is Projection.CONFORMAL:
        assert np.allclose(least, greatest, rtol=1e-6)
    if projection is Projection.EQUAL_AREA:
        assert np.allclose(least * greatest, 1, rtol=1e-6)
    if shape == "sphere" and projection is not Projection.EQUIDISTANT:
        f = proj.get_factors(np.degrees(lam), np.degrees(phi))
        assert np.allclose(least, 1 / f.tissot_semimajor, rtol=2e-5)
        assert np.allclose(greatest, 1 / f.tissot_semiminor, rtol=2e-5)


EVERY = [
    (n, p) for n in sorted(SKINS) for p in Projection if p is not Projection.DEVELOPED or n in ("cylinder", "cone")
]


@pytest.mark.parametrize(("name", "projection"), EVERY)
def test_unwrapping_after_wrapping_and_the_jacobian(name, projection):
    skin = SKINS[name]
    low, high = skin.x_range_mm
    layout = at(skin, projection, low + 0.45 * (high - low), 170.0)
    uv = np.random.default_rng(1).uniform(-9, 9, (200, 2))
    x, theta = layout.wrap(uv)
    assert np.abs(layout.unwrap(x, theta) - uv).max() < 1e-9
    assert np.abs(theta - radians(170)).max() < pi
    assert layout.holds(uv).all()
    h = 1e-5
    J = layout.jacobian(uv)
    for k in range(2):
        step = np.zeros(2)
        step[k] = h
        (xa, ta), (xb, tb) = layout.wrap(uv + step), layout.wrap(uv - step)
        assert np.allclose(J[:, 0, k], (xa - xb) / (2 * h), atol=3e-5)
        assert np.allclose(J[:, 1, k], (ta - tb) / (2 * h), atol=3e-6)
    # lengths in space against the tensor
    p = np.stack([x, skin.radius(x, theta) * np.cos(theta), skin.radius(x, theta) * np.sin(theta)], 1)
    xa, ta = layout.wrap(uv + [1e-4, 0])
    q = np.stack([xa, skin.radius(xa, ta) * np.cos(ta), skin.radius(xa, ta) * np.sin(ta)], 1)
    assert np.allclose(np.linalg.norm(q - p, axis=1) / 1e-4, np.sqrt(layout.tensor(uv)[:, 0]), rtol=2e-3)


@pytest.mark.parametrize("cone", [(60, 40, 60), (30, 50, 80), (40, 40, 50)])
def test_developed_is_isometric(cone):
    skin = Cone(diameter_mm=cone[0], end_diameter_mm=cone[1], length_mm=cone[2])
    layout = at(skin, Projection.DEVELOPED, 25.0, -40.0)
    uv = np.random.default_rng(2).uniform(-20, 20, (500, 2))
    assert np.abs(layout.tensor(uv) - [1, 0, 1]).max() < 1e-12


def test_the_unrolled_frustum():
    """Plane geometry by hand: r 30 to 20 over 60: outer radius 182.4829; a quarter turn is 14.7959088575 deg."""
    layout = at(Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60), Projection.DEVELOPED, 0.0)
    uv = layout.unwrap(np.array([0.0]), np.array([pi / 2]))[0]
    turn = radians(14.7959088575)
    assert uv == pytest.approx([182.482875908947 * np.sin(turn), 182.482875908947 * (1 - np.cos(turn))], abs=1e-8)


def test_up_is_x_and_right_is_theta_for_every_projection():
    for projection in Projection:
        layout = at(Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60), projection, 30.0, 0.0)
        x, theta = layout.wrap(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
        assert (x[0], theta[0]) == pytest.approx((30, 0), abs=1e-9)
        assert theta[1] > theta[0]
        assert x[2] > x[0]
        E, _, G = (float(v[0]) for v in metric(layout.skin.radius(x, theta), *layout.skin.slopes(x, theta)))
        assert (x[2] - x[0]) * np.sqrt(E) == pytest.approx(1, rel=0.05)
        assert (theta[1] - theta[0]) * np.sqrt(G) == pytest.approx(1, rel=0.05)


def test_the_eye_sees_right_up_to_the_horizon():
    """On a bar of radius 20 every place within GRAZING of the limb is seen, and the bar's own sine is its picture."""
    layout = at(Cylinder(diameter_mm=40, length_mm=90), Projection.FROM_VIEW, 45.0, 30.0)
    turn = np.linspace(-1.5, 1.5, 301)
    uv = np.stack([20 * np.sin(turn), np.zeros(301)], 1)
    assert layout.holds(uv).all()
    assert np.allclose(layout.wrap(uv)[1] - radians(30), turn, rtol=0, atol=1e-9)
    assert not layout.holds(np.array([[19.99, 0.0], [20.5, 0], [0, 46], [-20.5, 3]])).any()


def test_of_two_places_behind_each_other_the_eye_sees_the_nearer():
    """A lobed bar seen on a shoulder: no place of the skin between the one found and the eye."""
    skin = SKINS["grid"]
    layout = at(skin, Projection.FROM_VIEW, 65.0, 20.0)
    x, theta = layout.wrap(np.random.default_rng(5).uniform(-15, 15, (50, 2)))
    r = skin.radius(x, theta)
    p = np.stack([x, r * np.cos(theta), r * np.sin(theta)], 1)
    for out in np.linspace(0.02, 80, 400):
        q = p + out * layout.out
        assert (np.hypot(q[:, 1], q[:, 2]) > skin.radius(q[:, 0], np.arctan2(q[:, 2], q[:, 1]))).all()


def test_what_cannot_be_laid_is_refused_in_words():
    bar = Cylinder(diameter_mm=40, length_mm=90)
    with pytest.raises(LayoutError, match=r"5\.00 mm off the end"):
        at(bar, Projection.EQUIDISTANT, 80.0).wrap(np.array([[0.0, 15.0], [0, 0]]))
    with pytest.raises(LayoutError, match="off the blank"):
        at(bar, Projection.EQUIDISTANT, 95.0)
    with pytest.raises(LayoutError, match="no flat pattern"):
        at(SKINS["ovoid"], Projection.DEVELOPED, 20.0)
    with pytest.raises(LayoutError, match="beyond what the eye sees"):
        at(bar, Projection.FROM_VIEW, 45.0).wrap(np.array([[25.0, 0.0], [0, 0]]))


def test_from_a_view_nothing_is_met_beside_a_pole():
    egg = Ovoid(length_mm=56, breadth_mm=42, shift_mm=0, quarter_diameter_mm=33)
    layout = at(egg, Projection.FROM_VIEW, 50.0, 20.0)
    far = np.stack([np.linspace(-40, 40, 81), np.linspace(40, -40, 81)], axis=1)
    held = layout.holds(far)
    assert not held[0] and not held[-1] and held[40]
