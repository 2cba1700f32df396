"""How high the tip runs over the skin, for the tool's whole form."""

import math

import numpy as np
import pytest

from engine.blank import Cone, Cylinder, Ovoid, sample
from engine.kernel.values import Form, Tool
from engine.machine import Profile
from engine.proof.clearance import heights
from engine.proof.replay import replay
from engine.proof.rs274_reader import read

BALL = Tool(form=Form.BALL, diameter_mm=3.0)


class Bump:
    """A bar with one round ridge across it, between x 19 and 21, 1 mm high."""

    x_range_mm = (0.0, 40.0)
    sigma_mm = 0.0
    is_round = True

    def radius(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return 10.0 + np.clip(1.0 - (x - 20.0) ** 2, 0.0, None)

    def slopes(self, x_mm, theta_rad):
        x, _ = np.broadcast_arrays(x_mm, theta_rad)
        return np.where(np.abs(x - 20.0) < 1, -2.0 * (x - 20.0), 0.0), np.zeros(x.shape)


def looked(skin, tool, body, enough=3.0):
    text = f"G21 G90 G94\n{body}\nM2\n".encode()
    told = replay(read(text), Profile(), zero_r_mm=0.0)
    return heights(told, skin, tool, enough_mm=enough)


@pytest.mark.parametrize("x", [0.0, 5.0, 10.0, 15.0])
def test_a_ball_touches_a_sphere_where_the_offset_sphere_says(x):
    class Sphere:
        x_range_mm, sigma_mm, is_round = (-22.0, 22.0), 0.0, True

        def radius(self, x_mm, theta_rad):
            return np.sqrt(625.0 - np.broadcast_arrays(x_mm, theta_rad)[0] ** 2)

        def slopes(self, x_mm, theta_rad):
            at, _ = np.broadcast_arrays(x_mm, theta_rad)
            return -at / np.sqrt(625.0 - at**2), np.zeros(at.shape)

    tool = Tool(form=Form.BALL, diameter_mm=2.0)
    touch = math.sqrt(26.0**2 - x**2) - 1.0
    high = looked(Sphere(), tool, f"G0 X{x} A0 Z30\nG0 Z{touch + 1:.6f}")
    assert high.least_mm[1] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("turned", [False, True])
def test_the_flat_of_a_cone_touches_up_the_slope(turned):
    skin = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=20)
    if turned:  # the same, evaluated as a skin that is not known to be round
        skin = sample(skin, 0.0, 20.0)
    high = looked(skin, Tool(tip_mm=0.4), "G0 X10 A30 Z40\nG0 Z26")
    assert high.least_mm[1] == pytest.approx(1.0 - 0.2 * 0.5, abs=0.01)


def test_a_sideways_move_is_looked_at_all_along():
    high = looked(Bump(), Tool(), "G0 X10 A0 Z12\nG0 X30\nG0 A400")
    assert high.least_mm[1] == pytest.approx(1.0, abs=0.03)
    assert high.share[1] == pytest.approx(0.5, abs=0.03)
    assert high.least_mm[2] == pytest.approx(2.0, abs=0.01)
    assert not len(high.near_theta_rad)


def test_the_whole_form_counts_not_the_tip_alone():
    beside = looked(Bump(), BALL, "G0 X18.2 A0 Z14\nG0 Z12").least_mm[1]
    alone = looked(Bump(), Tool(angle_deg=10, tip_mm=0.0), "G0 X18.2 A0 Z14\nG0 Z12").least_mm[1]
    x = np.linspace(17.0, 23.0, 200_001)
    rise = 1.5 - np.sqrt(np.maximum(1.5**2 - (x - 18.2) ** 2, 0.0))
    touch = np.where(np.abs(x - 18.2) <= 1.5, Bump().radius(x, 0.0) - rise, -np.inf).max()
    assert beside == pytest.approx(12.0 - touch, abs=0.02)
    assert alone == pytest.approx(2.0, abs=0.02)


def test_places_near_the_skin_are_told_for_the_carving():
    high = looked(Cylinder(diameter_mm=20, length_mm=40), Tool(), "G0 X5 A170 Z14\nG1 Z9.9 F1\nG1 A190 F1\nG0 Z14")
    assert high.near_x_mm == (5.0, 5.0)
    assert np.degrees(high.near_theta_rad.min()) == pytest.approx(170, abs=0.5)
    assert np.degrees(high.near_theta_rad.max()) == pytest.approx(190, abs=0.5)
    assert high.sunk_mm == pytest.approx(0.1, abs=1e-3)
    ridge = looked(Bump(), Tool(form=Form.FLAT, diameter_mm=4.0), "G0 X17 A0 Z14\nG0 Z10")
    assert ridge.sunk_mm == pytest.approx(Bump().radius(19.5, 0.0) - 10.0, abs=0.5)


def test_a_blank_with_poles_has_heights_beyond_its_ends():
    egg = Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5)
    high = looked(egg, Tool(), "G0 X-5 A0 Z30\nG0 X70\nG0 Z1", enough=100.0)
    assert np.isfinite(high.least_mm[1:]).all()
    assert high.least_mm[1] == pytest.approx(8.0, abs=0.1)
