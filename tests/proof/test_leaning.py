"""What the form of a tool opens beside its tip on a lean, against the plane cut point by point."""

import numpy as np
import pytest

from engine.blank import Cone, sample
from engine.kernel.values import Form, Tool, Wanted
from engine.proof.leaning import lean_reach, opened_by_form

TOOLS = {
    "cone 60": Tool(),
    "cone 90 to a point": Tool(angle_deg=90, tip_mm=0.0),
    "cone 120": Tool(angle_deg=120, tip_mm=0.4),
    "ball": Tool(form=Form.BALL, diameter_mm=3.0),
    "flat": Tool(form=Form.FLAT, diameter_mm=1.0),
}
CONE = sample(Cone(diameter_mm=20, end_diameter_mm=100, length_mm=60), 0.0, 60.0)  # leans 33.7 degrees


def furthest(tool, depth, lean):
    """Brute force: lateral places of the tool, the plane over each, the tip as high as the depth along the normal."""
    a = np.linspace(0.0, tool.outer_mm, 400_001)
    if tool.form is Form.BALL:
        rise = tool.round_mm - np.sqrt(np.maximum(tool.round_mm**2 - a**2, 0.0))
    elif tool.form is Form.FLAT:
        rise = np.zeros(len(a))
    else:
        rise = np.maximum(a - tool.flat_mm, 0.0) * tool.flank
    over = a * np.tan(lean) - rise
    opened = over > over.max() - depth / np.cos(lean)
    return a[opened].max() / np.cos(lean)


@pytest.mark.parametrize("name", TOOLS)
@pytest.mark.parametrize("lean_deg", [0.0, 20.0, 33.0, 44.0, 55.0])
def test_the_reach_is_that_of_the_plane_cut(name, lean_deg):
    tool, lean = TOOLS[name], np.radians(lean_deg)
    told = lean_reach(tool, np.array([0.05, 0.2]), np.full(2, np.cos(lean)))
    assert told == pytest.approx([furthest(tool, d, lean) for d in (0.05, 0.2)], rel=2e-4, abs=1e-5)


def test_on_a_level_skin_it_is_half_the_tools_width():
    for tool in TOOLS.values():
        assert lean_reach(tool, np.array([0.2]), np.ones(1)) == pytest.approx(0.5 * tool.width_mm(0.2))


def test_only_what_is_near_and_no_deeper_than_asked_is_explained():
    depth = np.zeros((200, 200))
    depth[90:110, 90:110] = 0.2
    r = 10 + 40 * 30 / 60
    field = Wanted(
        x_mm=25 + 0.05 * np.arange(200),
        theta_rad=0.05 / r * np.arange(200),
        depth_mm=depth,
        feed_mm_min=100.0,
        plunge_mm_min=30.0,
    )
    tool = TOOLS["cone 90 to a point"]
    reach = lean_reach(tool, np.array([0.2]), np.array([np.cos(np.arctan(2 / 3))]))[0]
    along = np.array([0.1, reach + 0.1, reach + 0.5, 0.1, 0.1])
    x = field.x_mm[109] + along * np.cos(np.arctan(2 / 3))
    made = np.array([0.1, 0.1, 0.1, 0.204, 0.22])
    told = opened_by_form((x, np.full(5, field.theta_rad[100])), made, field, CONE, tool, 0.005)
    assert told.tolist() == [True, True, False, True, False]
