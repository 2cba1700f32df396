"""The outline, on the line and beside it."""

import numpy as np
import pytest
import shapely
from pydantic import TypeAdapter

from engine.artwork import Drawing
from engine.job.marking import MarkingDocument
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.values import Form, Tool
from engine.marking import Outline
from tests.blank.skins import SKINS
from tests.marking.contract import apart, art, middle, ring

DOCUMENT = TypeAdapter(MarkingDocument)


def test_the_side_is_half_the_tools_width_at_depth_away():
    """A cone of 60 degrees with a tip of 0.1 at 0.2 mm: 0.1 + 0.4 tan 30 = 0.330940 mm (worked by hand)."""
    made = {
        side: DOCUMENT.validate_python({"style": "outline", "side": side}).value(Tool(), 0.2)
        for side in ("on", "inside", "outside")
    }
    assert made == {
        "on": Outline(),
        "inside": Outline(shift_mm=-0.16547),
        "outside": Outline(shift_mm=0.16547),
    }
    flat = Tool(form=Form.FLAT, diameter_mm=1.0)
    assert DOCUMENT.validate_python({"style": "outline", "side": "inside"}).value(flat, 0.1) == Outline(shift_mm=-0.5)


@pytest.mark.parametrize("name", sorted(SKINS))
@pytest.mark.parametrize("shift", [-0.4, 0.4])
def test_beside_the_line_the_drawn_shape_has_its_true_size_on_the_skin(shift, name):
    layout = middle(SKINS[name])
    drawing = Drawing(width_mm=20, height_mm=28, rings=art(0.8).rings)
    strokes = Outline(shift_mm=shift).mark(drawing, layout).strokes
    assert abs(apart(layout, strokes.line, drawing.rings) - 0.4).max() < 0.004
    assert np.array_equal(*(strokes.line.points[k] for k in (strokes.line.offsets[:-1], strokes.line.offsets[1:] - 1)))


def test_outside_of_a_hole_is_inside_its_region():
    drawing = Drawing(width_mm=20, height_mm=28, rings=Ragged.of([ring(90, 6.0), ring(60, 2.5, turn=-1)]))
    layout = middle(SKINS["cylinder"])
    for shift, radii in ((0.5, (2.0, 6.5)), (-0.5, (3.0, 5.5))):
        line = Outline(shift_mm=shift).mark(drawing, layout).strokes.line
        assert sorted(np.hypot(*line[k].T).mean() for k in range(2)) == pytest.approx(radii, abs=0.005)


def test_lines_stay_where_they_are():
    drawing = Drawing(width_mm=20, height_mm=28, lines=art().lines)
    strokes = Outline(shift_mm=-0.5).mark(drawing, middle(SKINS["cylinder"])).strokes
    assert np.array_equal(strokes.line.points, art().lines.points)


def test_what_is_too_narrow_is_told_with_its_place():
    """A disc of 0.3 mm beside a large one inside; a gap of 0.4 mm between two boxes outside."""
    layout = middle(SKINS["cylinder"])
    dots = Drawing(width_mm=20, height_mm=20, rings=Ragged.of([ring(60, 5.0), ring(30, 0.15, (0.0, 9.0))]))
    told = Outline(shift_mm=-0.2).mark(dots, layout).findings
    assert [f.code for f in told] == ["too-narrow"]
    assert told[0].where.x_mm == pytest.approx(45 + 9, abs=0.05) and told[0].where.angle_deg == pytest.approx(175)
    assert "1 parts of the art are narrower than the 0.4 mm" in told[0].message
    box = np.array([[0.2, -3.0], [4, -3], [4, 3], [0.2, 3], [0.2, -3]])
    gap = Drawing(width_mm=20, height_mm=20, rings=Ragged.of([box, box * [-1, 1]]))
    assert [f.code for f in Outline(shift_mm=0.5).mark(gap, layout).findings] == ["too-narrow"]
    assert Outline(shift_mm=0.15).mark(gap, layout).findings == ()
    assert [f.code for f in Outline(shift_mm=-4).mark(gap, layout).findings] == ["no-strokes"]


def test_plain_corners_are_not_told():
    star = Drawing(width_mm=20, height_mm=28, rings=art().rings)
    for shift in (-0.2, 0.2):
        assert Outline(shift_mm=shift).mark(star, middle(SKINS["cylinder"])).findings == ()


def test_a_shift_that_is_no_number_is_refused():
    with pytest.raises(MarkingError) as caught:
        Outline(shift_mm=np.nan)
    assert caught.value.where == "marking"


def test_corners_are_round_outside():
    box = Ragged.of([np.array([[-3.0, -3], [3, -3], [3, 3], [-3, 3], [-3, -3]])])
    line = Outline(shift_mm=1.0).mark(Drawing(width_mm=6, height_mm=6, rings=box), middle(SKINS["cylinder"])).strokes
    assert shapely.Polygon(line.line.points).area == pytest.approx(36 + 24 + np.pi, abs=0.01)
