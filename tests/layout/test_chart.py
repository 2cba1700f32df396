"""Sheets fitted to the art: the exact angle-true map of a ball's cap, developable skins, and what every fit keeps."""

from dataclasses import dataclass
from itertools import pairwise
from math import degrees, pi, radians

import numpy as np
import pyproj
import pytest

from engine.artwork import Drawing
from engine.blank import Cone, Cylinder, Ovoid
from engine.kernel.errors import LayoutError
from engine.kernel.ragged import Ragged
from engine.layout import Fit, Placement, Projection, lay_out, stretch
from engine.layout.chart.surface import Surface
from tests.blank.skins import SKINS, in_space
from tests.blank.test_published import Spheroid

R = 25.0
BALL = Spheroid(c=R, a=R, x_range_mm=(-R, R))


def disc(radius, n=181):
    t = np.linspace(0, 2 * pi, n)
    ring = radius * np.stack([np.cos(t), np.sin(t)], axis=1)
    ring[-1] = ring[0]
    return Drawing(width_mm=2 * radius, height_mm=2 * radius, rings=Ragged.of([ring]))


def box(width, height, turn_deg=0.0):
    """A rectangle of art as placed: its marks are turned, its size is that before the turn."""
    c, s = np.cos(radians(turn_deg)), np.sin(radians(turn_deg))
    flat = 0.5 * np.array([[-width, -height], [width, -height], [width, height], [-width, height], [-width, -height]])
    return Drawing(width_mm=width, height_mm=height, rings=Ragged.of([flat @ np.array([[c, s], [-s, c]])]))


def fit(skin, drawing, x_mm, *, angle_deg=170.0, turn_deg=0.0, keeps=Fit.CONFORMAL):
    where = Placement(x_mm=x_mm, angle_deg=angle_deg, turn_deg=turn_deg, projection=Projection.FITTED, fit=keeps)
    return lay_out(skin, where, drawing)


def spots(drawing, turn_deg=0.0, n=400):
    """Even places over the art's extent, as turned."""
    c, s = np.cos(radians(turn_deg)), np.sin(radians(turn_deg))
    flat = np.random.default_rng(4).uniform(-0.5, 0.5, (n, 2)) * [drawing.width_mm, drawing.height_mm]
    return flat @ np.array([[c, s], [-s, c]])


def middle(skin):
    low, high = skin.x_range_mm
    return low + 0.5 * (high - low)


@dataclass(frozen=True)
class HeldAside:
    """A true bar whose axis runs beside the axis of rotation: r(x, theta) in closed form; a developable skin."""

    radius_mm: float = 20.0
    aside_mm: float = 3.0
    x_range_mm: tuple = (0.0, 90.0)
    sigma_mm: float = 0.0
    is_round: bool = False

    def radius(self, x, theta):
        _, t = np.broadcast_arrays(x, theta)
        return self.aside_mm * np.cos(t) + np.sqrt(self.radius_mm**2 - (self.aside_mm * np.sin(t)) ** 2)

    def slopes(self, x, theta):
        _, t = np.broadcast_arrays(x, theta)
        a = self.aside_mm
        root = np.sqrt(self.radius_mm**2 - (a * np.sin(t)) ** 2)
        return np.zeros(t.shape), -a * np.sin(t) - a**2 * np.sin(t) * np.cos(t) / root


@dataclass(frozen=True)
class BallAside:
    """A ball whose middle lies beside the axis of rotation: the same curvature everywhere, no skin of revolution."""

    aside_mm: float = 4.0
    x_range_mm: tuple = (-20.0, 20.0)
    sigma_mm: float = 0.0
    is_round: bool = False

    def radius(self, x, theta):
        x, t = np.broadcast_arrays(x, theta)
        return self.aside_mm * np.cos(t) + np.sqrt(R**2 - x**2 - (self.aside_mm * np.sin(t)) ** 2)

    def slopes(self, x, theta):
        x, t = np.broadcast_arrays(x, theta)
        a = self.aside_mm
        root = np.sqrt(R**2 - x**2 - (a * np.sin(t)) ** 2)
        return -x / root, -a * np.sin(t) - a**2 * np.sin(t) * np.cos(t) / root


@pytest.mark.parametrize("x0", [0.0, 9.0])
def test_round_art_on_a_ball_lies_as_the_exact_angle_true_map_has_it(x0):
    """Stereographic (Snyder 1987, chapter 21) by PROJ; the scale there is that of pyproj's own factors."""
    layout = fit(BALL, disc(14.0), x0, angle_deg=20.0)
    stere = pyproj.Proj(f"+proj=stere +lat_0={degrees(np.arcsin(x0 / R))} +lon_0=20 +R={R}")
    t = np.linspace(0, 2 * pi, 60)
    for radius in (3.0, 8.0, 14.0):
        uv = radius * np.stack([np.cos(t), np.sin(t)], axis=1)
        x, theta = layout.wrap(uv)
        lon, lat = np.degrees(theta), np.degrees(np.arcsin(x / R))
        assert np.abs(np.stack(stere(lon, lat), axis=1) - uv).max() < 1e-3
        exact = 1.0 / np.array([stere.get_factors(a, b).meridional_scale for a, b in zip(lon, lat, strict=True)])
        for found in stretch(layout, uv):
            assert np.abs(found / exact - 1).max() < 1e-4  # the bar is 1 %


DEVELOPABLE = {
    "bar": Cylinder(diameter_mm=40, length_mm=90),
    "cone": Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60),
    "steep cone": Cone(diameter_mm=36, end_diameter_mm=60, length_mm=40),
    "bar held aside": HeldAside(),
}


@pytest.mark.parametrize("keeps", list(Fit))
@pytest.mark.parametrize("name", list(DEVELOPABLE))
def test_a_developable_skin_is_laid_without_any_stretch(name, keeps):
    skin, art = DEVELOPABLE[name], box(30, 22, 25)
    layout = fit(skin, art, middle(skin), turn_deg=25, keeps=keeps)
    assert np.abs(layout.tensor(spots(art, 25)) - [1, 0, 1]).max() < 1e-6


@pytest.mark.parametrize("name", sorted(SKINS))
def test_angles_are_true_in_space_and_the_scale_at_the_centre_is_1(name):
    """Chords of 0.02 mm on the sheet, right and up, measured in space by neither metric nor Jacobian."""
    skin, art = SKINS[name], box(26, 20, 35)
    layout = fit(skin, art, middle(skin), turn_deg=35)
    uv, h = np.concatenate([np.zeros((1, 2)), 0.98 * spots(art, 35)]), 0.01
    ways = [
        in_space(skin, *layout.wrap(uv + step)) - in_space(skin, *layout.wrap(uv - step))
        for step in (np.array([h, 0]), np.array([0, h]))
    ]
    right, up = (np.linalg.norm(w, axis=1) / (2 * h) for w in ways)
    assert np.abs(up / right - 1).max() < 5e-4
    assert np.abs((ways[0] * ways[1]).sum(axis=1) / (4 * h * h) / right / up).max() < 5e-4
    assert right[0] == pytest.approx(1, abs=2e-4)
    x, theta = layout.wrap(np.array([[0.0, 0.0], [0.0, 0.01]]))
    assert (x[0], theta[0]) == pytest.approx((middle(skin), radians(170)), abs=1e-12)
    assert x[1] > x[0] and theta[1] == pytest.approx(theta[0], abs=2e-6)


@pytest.mark.parametrize("turn", [0.0, 40.0])
def test_the_scale_is_even_along_the_arts_rim_and_changes_less_than_by_any_meridian(turn):
    """Chebyshev's rule, by its own test; the rival is the best of the projections that keep angles."""
    skin, art = SKINS["ovoid"], box(34, 9, turn)
    layout = fit(skin, art, 24.0, turn_deg=turn)
    rim = art.rings.points
    rim = np.concatenate([np.linspace(a, b, 40) for a, b in pairwise(rim)])
    least, greatest = stretch(layout, 0.999 * rim)
    assert greatest.max() / least.min() < 1.004
    rival = stretch(lay_out(skin, Placement(x_mm=24.0, projection=Projection.CONFORMAL)), spots(art, turn))
    least, greatest = stretch(layout, spots(art, turn))
    assert greatest.max() / least.min() < 1.02
    if turn:
        assert np.log(greatest.max() / least.min()) < 0.3 * np.log(rival[1].max() / rival[0].min())


def strain(layout, uv):
    least, greatest = stretch(layout, uv)
    return float(((least - 1) ** 2 + (greatest - 1) ** 2).mean())


@pytest.mark.parametrize("name", ["ovoid", "grid"])
def test_the_rigid_fit_strains_less_than_the_angle_true_one_and_than_the_named_ones(name):
    skin, art = SKINS[name], box(30, 30)
    uv = spots(art)
    rigid, angle_true = (strain(fit(skin, art, middle(skin), keeps=k), uv) for k in (Fit.RIGID, Fit.CONFORMAL))
    named = [
        strain(lay_out(skin, Placement(x_mm=middle(skin), angle_deg=170, projection=p)), uv)
        for p in (Projection.EQUIDISTANT, Projection.CONFORMAL, Projection.EQUAL_AREA, Projection.TRUE_WIDTH)
    ]
    assert rigid < 0.3 * angle_true
    assert rigid < 0.8 * min(named)


def test_the_sheet_has_no_kink():
    """Slopes of places 0.001 mm apart, along lines through many cells of the net, differ as a smooth sheet's do."""
    layout = fit(SKINS["grid"], box(30, 30), 60.0)
    for across in (np.array([1.0, 0.0]), np.array([0.6, 0.8])):
        way = np.linspace(-14, 14, 28_001)[:, None] * across
        slopes = layout.jacobian(way).reshape(-1, 4)
        assert np.abs(np.diff(slopes, axis=0)).max() < 0.001 * 0.05
        assert np.abs(np.diff(slopes, n=2, axis=0)).max() < 1e-6 * 0.05


def test_the_way_back_of_a_place_beside_the_sheet_lies_beside_it():
    layout = fit(SKINS["grid"], box(20, 20), 60.0)
    x, theta = (v.ravel() for v in np.meshgrid(np.linspace(6, 124, 60), np.linspace(-1, 2 * pi, 90)))
    uv = layout.unwrap(x, theta)
    held = layout.holds(uv)
    assert np.isfinite(uv).all() and 20 < held.sum() < len(held) / 4
    back = layout.wrap(uv[held])
    assert np.abs(back[0] - x[held]).max() < 1e-9 and np.abs(back[1] - theta[held]).max() < 1e-10
    r = SKINS["grid"].radius(x, theta)
    aside = np.hypot(x - 60, r * (theta - radians(170)))
    assert not held[aside > 20].any() and held[aside < 8].all()


def test_the_same_fit_comes_out_to_the_last_bit():
    one, other = (fit(SKINS["grid"], box(22, 18), 60.0) for _ in range(2))
    assert one.coefficients.tobytes() == other.coefficients.tobytes()


def test_an_empty_margin_that_does_not_fit_is_left_out():
    """White paper around the art that would run over an egg's end does not keep its marks from being laid."""
    marks = box(6, 6)
    wide = Drawing(width_mm=60, height_mm=70, rings=marks.rings)
    layout = fit(SKINS["ovoid"], wide, 44.0)
    assert layout.holds(marks.rings.points).all() and not layout.holds(np.array([[0.0, 20.0]]))[0]


def test_what_no_sheet_can_be_fitted_to_is_refused():
    egg = Ovoid(length_mm=56, breadth_mm=42, shift_mm=0, quarter_diameter_mm=33)
    with pytest.raises(LayoutError, match="runs over the end of the blank"):
        fit(egg, box(26, 26), 51.0)
    with pytest.raises(LayoutError, match="more than once round"):
        fit(Cylinder(diameter_mm=20, length_mm=90), box(64, 10), 45.0)
    with pytest.raises(LayoutError, match="nothing to fit a sheet to"):
        lay_out(egg, Placement(x_mm=28.0, projection=Projection.FITTED))
    with pytest.raises(LayoutError, match="off the end of the blank"):
        fit(Cylinder(diameter_mm=20, length_mm=90), box(10, 10), 88.0).wrap(np.array([[0.0, 4.0]]))
    with pytest.raises(LayoutError, match=r"2 points lie up to .* mm beside the sheet"):
        fit(egg, box(10, 10), 28.0).wrap(np.array([[0.0, 0.0], [0.0, 9.0], [8.0, 0.0]]))


def test_gauss_curvature_in_closed_form():
    """A ball's is 1 / R^2; a spheroid's the fourth power of the distance to the tangent plane over (a^2 c)^2."""
    x, theta = np.array([-20.0, 0.0, 13.0]), np.array([0.0, 1.0, 4.0])
    assert Surface(skin=BALL).curvature(x, theta) == pytest.approx(1 / R**2, rel=1e-6)
    a, c = 22.0, 30.0
    skin = Spheroid(c=c, a=a, x_range_mm=(-c, c))
    x = np.array([0.0, 10.0, -25.0])
    support = x**2 / c**4 + (1 - x**2 / c**2) / a**2
    assert Surface(skin=skin).curvature(x, theta) == pytest.approx(1 / (a**4 * c**2 * support**2), rel=1e-6)
    assert Surface(skin=BallAside()).curvature(x / 2, theta) == pytest.approx(1 / R**2, rel=1e-6)
    assert np.abs(Surface(skin=HeldAside()).curvature(x + 30, theta)).max() < 1e-9
