"""Material, widths and wall against closed forms: within a cell, and truer with finer cells."""

import numpy as np
import pytest

from engine.blank import Cylinder, sample
from engine.kernel.values import Form, Kind, Tool
from engine.machine import Profile
from engine.proof.carve_field import Window, carve_window
from engine.proof.made import made_of
from engine.proof.replay import replay
from engine.proof.rs274_reader import read

R = 12.0
SKIN = sample(Cylinder(diameter_mm=2 * R, length_mm=40), 5.0, 35.0)


def figures(tool, body, cell=0.02, wall=None):
    told = replay(read(f"G21 G90 G94\nS9000 M3\n{body}\nM2\n".encode()), Profile(), zero_r_mm=0.0)
    window = Window(x_mm=(17.0, 23.0), theta_rad=(-0.5, 0.9), radius_mm=R, cell_mm=cell, whole=False, note="")
    live = told.known
    carved, _ = carve_window(SKIN, window, [(tool, np.concatenate([told.start[live], told.end[live]], axis=1))])
    return made_of(told, told.known & (told.kind == Kind.CUT), carved, SKIN, deepest_mm=0.3, wall_mm=wall)


AROUND = "G0 X20 A0 Z14\nG1 Z11.7 F60\nG1 A40 F60\nG0 Z14"
ALONG = "G0 X18 A10 Z14\nG1 Z11.7 F60\nG1 X22 F60\nG0 Z14"


def test_a_flat_end_around_takes_off_a_ring_of_its_own_width():
    made = figures(Tool(form=Form.FLAT, diameter_mm=1.0), AROUND)
    ring = 1.0 * 0.5 * (R**2 - 11.7**2) * np.radians(40)
    ends = np.pi * 0.5**2 * 0.3  # half a disc at either end
    assert made.removed_mm3 == pytest.approx(ring + ends, rel=0.02)  # one cell of the 50 across
    assert made.line_mm[1] == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0])
def test_a_cone_around_opens_a_groove_of_its_own_width(angle):
    tool = Tool(tip_mm=0.1, angle_deg=angle)
    assert figures(tool, AROUND).line_mm[1] == pytest.approx(0.1 + 2 * 0.3 * np.tan(np.radians(angle / 2)), abs=0.03)


def test_a_ball_around_opens_its_chord():
    made = figures(Tool(form=Form.BALL, diameter_mm=2.0), AROUND)
    assert made.line_mm[1] == pytest.approx(2 * np.sqrt(0.3 * (2.0 - 0.3)), abs=0.03)


def test_a_cone_along_opens_the_wider_groove_of_a_round_bar():  # where the flank meets the circle
    tool = Tool(tip_mm=0.0, angle_deg=90.0)
    made = figures(tool, ALONG)
    half = np.roots([2.0, 2 * 11.7, 11.7**2 - R**2]).max()  # y = z - 11.7 on y2 + z2 = R2
    assert made.line_mm[1] == pytest.approx(2 * R * np.arcsin(half / R), abs=0.03)


def test_finer_cells_are_truer_and_neighbours_that_meet_are_one_line():
    tool = Tool(form=Form.FLAT, diameter_mm=1.0)
    true = 1.0 * 0.5 * (R**2 - 11.7**2) * np.radians(40) + np.pi * 0.5**2 * 0.3
    off = [abs(figures(tool, AROUND, cell).removed_mm3 - true) for cell in (0.1, 0.02)]
    assert off[1] < 0.3 * off[0]
    beside = AROUND + "\nG0 X20.8 A0\nG1 Z11.7 F60\nG1 A40 F60\nG0 Z14"
    assert figures(tool, beside).line_mm[1] == pytest.approx(1.8, abs=0.03)


def test_the_wall_is_what_the_deepest_cut_leaves():
    made = figures(Tool(), AROUND, wall=0.36)
    assert made.wall_left_mm == pytest.approx(0.06)
    assert figures(Tool(), "G0 Z20").line_mm is None
