"""The finding of lines that will look bent: when, how loud, where, and what it advises."""

from types import SimpleNamespace

import numpy as np
import pytest

from engine.artwork import Drawing
from engine.blank import Cone, Cylinder
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.outcome.bent import looks_bent
from engine.outcome.preview import Placed

BAR = Cylinder(diameter_mm=40, length_mm=90)
CONE = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60)


def placed(skin, lines, x_mm=45.0, projection=Projection.EQUIDISTANT):
    where = Placement(x_mm=x_mm, angle_deg=30, projection=projection)
    drawing = Drawing(width_mm=60, height_mm=60, lines=Ragged.of([np.array(line, float) for line in lines]))
    item = SimpleNamespace(placement=where, index=2)
    return Placed(item=item, drawing=drawing, layout=lay_out(skin, where, drawing), radius_mm=20.0)


def test_lines_along_and_square_to_a_bars_axis_are_not_told():
    assert looks_bent(placed(BAR, [[[-18, 0], [18, 0]], [[5, -30], [5, 30]]])) == []
    assert looks_bent(placed(BAR, [])) == []


def test_a_small_bow_is_a_note_with_its_place_and_the_projection_that_cures_it():
    """On the cone the level line bows 25 (1 - cos 0.48) sin(9.46 deg) = 0.464 mm of 23.09: 2.0 %."""
    (told,) = looks_bent(placed(CONE, [[[-12, 0], [12, 0]], [[0, -20], [0, 20]]], x_mm=30.0))
    assert told.severity is Severity.NOTE and told.code == "looks-bent"
    assert "a straight line of the art" in told.message
    assert "it is 23.1 mm long and bows 0.46 mm (2.0%), when the art's centre is looked at" in told.message
    assert told.where.pointer == "/artwork/2/placement/projection"
    assert (told.where.x_mm, told.where.angle_deg) == pytest.approx((30, 30), abs=1e-6)
    assert "from-view" in told.advice


def test_a_great_bow_is_a_warning_and_the_worst_for_its_length_is_named():
    """60 mm round the cone bow 25 (1 - cos 1.2) sin(9.46 deg) = 2.62 mm of 46.6: 5.6 %."""
    (told,) = looks_bent(placed(CONE, [[[-12, 3], [12, 3]], [[-30, 0], [30, 0]]], x_mm=30.0))
    assert told.severity is Severity.WARNING
    assert "2 straight lines of the art" in told.message and "46.6 mm long and bows 2.62 mm (5.6%)" in told.message
    assert "no eye sees all of the art at once" in told.advice


def test_a_line_out_of_sight_is_looked_at_straight_on():
    (told,) = looks_bent(placed(CONE, [[[30, 0], [94, 0]]], x_mm=30.0))
    assert "when it is looked at straight on" in told.message and 50 < told.where.angle_deg - 30 < 230


def test_art_laid_from_view_tells_nothing():
    skin, slanting = CONE, [[[-12, 4], [12, 0]]]
    assert looks_bent(placed(skin, slanting, x_mm=30.0, projection=Projection.TRUE_WIDTH)) != []
    assert looks_bent(placed(skin, slanting, x_mm=30.0, projection=Projection.FROM_VIEW)) == []
