"""What a leaning, curved skin does to a groove: curvatures in closed form, touches and widths in space."""

import math

import numpy as np
import pytest

from engine.blank import Cone, Cylinder, Ovoid
from engine.kernel.values import Form, Tool
from engine.layout import Placement, lay_out
from engine.marking.curved import mean_bend, set_aside, sunk_for
from engine.marking.groove import depth_of, width_of
from engine.marking.rows import meridians, rings
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, middle
from tests.marking.tone_art import picture

BALL = Tool(form=Form.BALL, diameter_mm=3.0)
GREY = picture(np.full((20, 20), 0.5), 10.0).darkness
SPHERE = Ovoid(length_mm=50, breadth_mm=50, shift_mm=0, quarter_diameter_mm=math.sqrt(3) * 25)  # a ball float


def across(layout, lines):
    rows = lines(GREY, layout, pitch_mm=0.5, step_mm=0.1).whole()
    return rows, rows.bend


@pytest.mark.parametrize("lines", [rings, meridians])
def test_a_sphere_curves_alike_every_way(lines):
    layout = lay_out(SPHERE, Placement(x_mm=17, angle_deg=30))
    assert across(layout, lines)[1] == pytest.approx(1 / 25, rel=2e-4)
    assert mean_bend(layout, np.array([12.0, 30.0]), np.array([0.3, 2.0])) == pytest.approx(1 / 25, rel=2e-4)


def test_a_cylinder_curves_around_and_not_along():
    layout = lay_out(Cylinder(diameter_mm=40, length_mm=90), Placement(x_mm=45))
    assert np.abs(across(layout, rings)[1]).max() < 1e-9
    assert across(layout, meridians)[1] == pytest.approx(1 / 20, rel=1e-4)
    assert mean_bend(layout, np.array([20.0]), np.array([1.0])) == pytest.approx(1 / 40, rel=1e-4)


def test_a_cone_curves_less_by_the_cosine_of_its_slope():
    """Normal curvature of a parallel: cos of the half angle over its radius (do Carmo, 3-3, surfaces of revolution)."""
    skin = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60)
    layout = lay_out(skin, Placement(x_mm=30))
    rows, bend = across(layout, meridians)
    x, theta = layout.wrap(rows.uv_mm)
    assert bend == pytest.approx(math.cos(math.atan(10 / 60)) / skin.radius(x, theta), rel=1e-3)


def test_the_mean_curvature_of_a_gourd_is_that_of_its_level_function():
    """Half the divergence of the unit normal, by differences of the field r - R(x, theta) in space."""
    layout, h = middle(BUMPY), 2e-3

    def normal(p):
        r, theta = math.hypot(p[1], p[2]), math.atan2(p[2], p[1])
        a, b = (float(v[0]) for v in BUMPY.slopes(np.array([p[0]]), np.array([theta])))
        out, round_it = np.array([0, p[1], p[2]]) / r, np.array([0, -p[2], p[1]]) / r
        n = out - a * np.array([1.0, 0, 0]) - b / r * round_it
        return n / np.linalg.norm(n)

    for x, theta in ((40.0, 0.3), (61.0, 2.0), (90.0, 4.4)):
        r = float(BUMPY.radius(np.array([x]), np.array([theta]))[0])
        p = np.array([x, r * math.cos(theta), r * math.sin(theta)])
        spread = sum((normal(p + h * e)[k] - normal(p - h * e)[k]) / (2 * h) for k, e in enumerate(np.eye(3)))
        got = mean_bend(layout, np.array([x]), np.array([theta]))[0]
        assert got == pytest.approx(0.5 * spread, abs=5e-4)


@pytest.mark.parametrize("radius", [10.0, 25.0, -25.0], ids=["thin", "thick", "hollow"])
@pytest.mark.parametrize("width", [0.3, 0.8])
def test_a_groove_in_a_round_skin_is_deeper_by_what_falls_away_beside_it(radius, width):
    """Two circles that meet half a width to each side of the deepest place: sagittas of both, exact."""
    half, ball = 0.5 * width, 1.5
    exact = ball - math.sqrt(ball**2 - half**2) + radius - math.copysign(math.sqrt(radius**2 - half**2), radius)
    flat = ball - math.sqrt(ball**2 - half**2)
    assert flat + sunk_for(width, np.array([1 / radius]))[0] == pytest.approx(exact, abs=2e-5)


@pytest.mark.parametrize("tool", [Tool(tip_mm=0.0), Tool(angle_deg=150), Tool(form=Form.BALL, diameter_mm=3)], ids=str)
@pytest.mark.parametrize("bend", [0.0, 0.05, 1.0, -0.04])
def test_a_groove_is_as_wide_as_the_depth_it_asks_for_opens(tool, bend):
    """Bends of flat and thick skins, of one thinner than the tool, and of a hollow: there and back, at every width."""
    width = np.linspace(0.2, 1.4, 25)
    lean, rise = np.full(25, 0.97), np.full(25, 0.1)
    depth = depth_of(tool, width, lean, rise) + sunk_for(width, np.full(25, bend))
    assert width_of(tool, depth, lean, rise, bend) == pytest.approx(width, rel=1e-9)


@pytest.mark.parametrize("name", ["cone", "ovoid", "grid"])
def test_a_ball_that_is_set_aside_touches_where_it_should(name):
    """In space: no place of the skin about it is nearer to the ball's middle than the place that it is to cut."""
    layout, depth = middle(SKINS[name]), 0.1
    uv = np.random.default_rng(6).uniform(-6, 6, (12, 2))
    axis_x, axis_theta = layout.wrap(set_aside(BALL, uv, np.full(len(uv), depth), layout))
    net = np.stack(np.meshgrid(np.linspace(-0.8, 0.8, 81), np.linspace(-0.8, 0.8, 81)), axis=-1).reshape(-1, 2)
    moved = []
    for k in range(len(uv)):
        near_x, near_theta = layout.wrap(uv[k] + net)
        r = layout.skin.radius(near_x, near_theta)
        # the ball comes in radially until its lowest place stands `depth` under the skin
        aside, turn = near_x - axis_x[k], near_theta - axis_theta[k]
        flat = aside**2 + (r * np.sin(turn)) ** 2
        out = r * np.cos(turn) + np.sqrt(np.maximum((1.5 - depth) ** 2 - flat, 0.0))
        moved.append(np.linalg.norm(net[int(out.argmax())]))
    assert max(moved) < 0.06  # two of the net's steps and a little, where it would be up to half a millimetre
    assert np.array_equal(set_aside(Tool(), uv, np.full(len(uv), depth), layout), uv)
