"""The tool's widths against the reference rows; what a path and a wanted field refuse."""

import math

import numpy as np
import pytest

from engine.kernel.errors import ProgramError
from engine.kernel.values import Form, Kind, Path, Tool, Wanted


@pytest.mark.parametrize(
    ("angle", "depth", "tip", "width"),
    [(60, 0.3, 0, 0.3464101615), (90, 0.5, 0, 1.0), (30, 0.2, 0.1, 0.2071796770), (45, 0.25, 0.05, 0.2571067812)],
)
def test_a_cones_groove(angle, depth, tip, width):
    """A wedge with a flat tip: w = f + 2 d tan(angle / 2)."""
    tool = Tool(angle_deg=angle, tip_mm=tip)
    assert tool.width_mm(depth) == pytest.approx(width, abs=5e-11)
    assert tool.flat_mm == tip / 2 and tool.round_mm == 0
    assert tool.flank == pytest.approx(depth / ((width - tip) / 2), rel=1e-9)


@pytest.mark.parametrize(
    ("diameter", "depth", "width"), [(6, 0.1, 1.536), (6, 0.5, 3.317), (3, 0.1, 1.077), (1, 0.1, 0.600)]
)
def test_a_balls_groove(diameter, depth, width):
    """A table printed in a cutting-tool maker's catalogue (2021): D_eff = 2 sqrt(ap (D - ap))."""
    tool = Tool(form=Form.BALL, diameter_mm=diameter)
    assert tool.width_mm(depth) == pytest.approx(width, abs=5e-4)
    assert (tool.flat_mm, tool.round_mm) == (0, diameter / 2)


@pytest.mark.parametrize("form", list(Form))
def test_no_groove_is_wider_than_the_tool(form):
    tool = Tool(form=form, diameter_mm=3)
    widths = [tool.width_mm(depth) for depth in (0.01, 0.5, 1.5, 3, 50)]
    assert widths == sorted(widths) and widths[-1] == 3 == 2 * tool.outer_mm


def test_a_flat_end_is_all_flat():
    tool = Tool(form=Form.FLAT, diameter_mm=2)
    assert (tool.width_mm(0.1), tool.flat_mm, tool.round_mm, tool.flank) == (2, 1, 0, math.inf)


GOOD = {
    "x_mm": [0.0, 0, 1, 1],
    "theta_rad": [0.0, 0, 0, 1],
    "r_mm": [25.0, 20, 20, 25],
    "kind": [Kind.TRAVEL, Kind.PLUNGE, Kind.CUT, Kind.LIFT],
    "stroke": [1, 1, 1, 0],
    "feed_mm_min": [0.0, 60, 200, 60],
}


def test_a_path_freezes_what_it_holds():
    source = {name: np.array(column, float) for name, column in GOOD.items()}
    path = Path(**source)
    source["r_mm"][:] = -1
    assert len(path) == 4 and path.r_mm.min() == 20
    assert path.kind.dtype == np.uint8 and path.stroke.dtype == np.int64
    for name in GOOD:
        with pytest.raises(ValueError, match="read-only"):
            getattr(path, name)[0] = 1


@pytest.mark.parametrize(
    ("name", "column", "says"),
    [
        ("x_mm", [], "empty"),
        ("r_mm", [25.0, 20, 20], "shape"),
        ("x_mm", [[0.0, 0, 1, 1]], "shape"),
        ("theta_rad", [0.0, 0, np.nan, 1], "row 2"),
        ("feed_mm_min", [0.0, 60, np.inf, 1], "row 2"),
        ("r_mm", [25.0, 20, -1e-9, 25], "beyond the axis"),
        ("kind", [3, 1, 4, 2], "unknown kind"),
        ("kind", [0, 1, 0, 2], "first row"),
        ("feed_mm_min", [0.0, 60, 0, 60], "row 2"),
        ("feed_mm_min", [0.0, -60, 1, 60], "row 1"),
        ("stroke", [2, 2, 1, 0], "fall"),
        ("stroke", [-1, 1, 1, 0], "fall"),
    ],
)
def test_a_path_refuses(name, column, says):
    with pytest.raises(ProgramError, match=says):
        Path(**GOOD | {name: column})


def test_no_stroke_may_stand_between_strokes_only_where_none_is_led_to():
    assert Path(**GOOD | {"stroke": [0, 1, 1, 0]}).stroke.max() == 1


@pytest.mark.parametrize("shape", [(2, 2), (3, 3), (6,), (2, 3, 1)])
def test_a_wanted_field_fits_its_cells(shape):
    with pytest.raises(ValueError, match="does not fit 2 by 3 cells"):
        Wanted(
            x_mm=[0, 1], theta_rad=[0, 1, 2], depth_mm=np.zeros(shape), feed_mm_min=1, plunge_mm_min=1
        )  # fmt: skip


def test_a_wanted_field_holds_its_own_copy():
    depth = np.zeros((2, 3))
    field = Wanted(x_mm=[0, 1], theta_rad=[0, 1, 2], depth_mm=depth, feed_mm_min=1, plunge_mm_min=1)
    depth[:] = 1
    assert field.depth_mm.max() == 0 and not field.depth_mm.flags.writeable


def test_a_path_has_one_tool_unless_it_says_otherwise():
    path = Path(**GOOD)
    assert path.tool.tolist() == [0] * len(path) and path.stints == ((0, len(path)),)
    turned = Path(**GOOD | {"kind": [3, 0, 3, 3], "tool": [1, 1, 1, 2]})
    assert turned.stints == ((0, 3), (3, 4))


@pytest.mark.parametrize(
    ("tool", "says"), [([0, 1, 1, 0], "fall"), ([-1, 0, 0, 0], "fall"), ([0, 1, 1, 1], "travel first"), ([0], "shape")]
)
def test_a_tool_comes_once_and_travels_first(tool, says):
    with pytest.raises(ProgramError, match=says):
        Path(**GOOD | {"tool": tool})


def test_a_wanted_field_says_what_each_tool_is_to_cut():
    depth = np.array([[0.1, 0.2, 0.0], [0.0, 0.3, 0.4]])
    kept = {"x_mm": [0, 1], "theta_rad": [0, 1, 2], "depth_mm": depth, "feed_mm_min": 1, "plunge_mm_min": 1}
    whole = Wanted(**kept, rpms=(9000.0, 8000.0))
    assert whole.of_tool(1) is whole and [whole.rpm(k) for k in range(3)] == [9000, 8000, 0]
    parted = Wanted(**kept, tools=[[1, 3, 0], [0, 2, 1]])
    assert parted.of_tool(0).depth_mm.tolist() == [[0.1, 0.2, 0.0], [0.0, 0.0, 0.4]]
    assert parted.of_tool(1).depth_mm.tolist() == [[0.0, 0.2, 0.0], [0.0, 0.3, 0.0]]
    with pytest.raises(ValueError, match="does not fit the depths"):
        Wanted(**kept, tools=[[1, 1]])
