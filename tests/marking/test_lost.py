"""What a tool cannot reach is told by its corner's angle, at every scale alike, and a smooth outline is never told."""

import numpy as np
import pytest
import shapely

from engine.layout import Placement, lay_out
from engine.marking.ground import Ground
from engine.marking.lost import lost
from engine.marking.offset import offset
from tests.blank.skins import SKINS

RADII = (0.02, 0.165, 0.5)


def told(shape, by_mm, skin="cylinder"):
    regions = np.array([shape])
    layout = lay_out(SKINS[skin], Placement(x_mm=40))
    ground = Ground.under(layout, shapely.get_coordinates(regions), 2 * by_mm)
    return lost(regions, offset(regions, -by_mm, ground), -by_mm, layout, ground)


@pytest.mark.parametrize("radius", RADII)
@pytest.mark.parametrize(("angle", "count"), [(20, 1), (29, 1), (32, 0), (60, 0)])
def test_corners_sharper_than_thirty_degrees_are_told(angle, count, radius):
    """A disc leaves (cot a - pi/2 + a) r^2 in a corner of 2 a (plane geometry): 2.42 r^2 at 30 degrees."""
    rise = np.tan(np.radians(angle / 2))
    wedge = shapely.Polygon([(0, 0), (40 * radius, -40 * radius * rise), (40 * radius, 40 * radius * rise)])
    blunt = wedge.difference(shapely.box(36 * radius, -99, 99, 99))
    assert len(told(blunt, radius)) == count


@pytest.mark.parametrize("skin", ["cylinder", "stations"])
@pytest.mark.parametrize("radius", RADII)
def test_a_smooth_outline_is_not_told(skin, radius):
    """Chords on both sides leave a rim all along the outline, many corners' worth of area: it is none of the art."""
    t = np.linspace(0, 2 * np.pi, 3001)
    wavy = 8 + 0.4 * np.sin(9 * t)
    assert not told(shapely.Polygon(np.stack([wavy * np.cos(t), wavy * np.sin(t)], 1)), radius, skin)
