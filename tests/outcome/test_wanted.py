"""The wanted field against closed forms, on the skin and across the seam."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.blank import Cylinder, Ovoid, metric
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.outcome.art_raster import CELL_MM, Patch
from engine.outcome.wanted import lay_wanted
from tests.blank.skins import SKINS, in_space
from tests.marking.test_marking import ring


def patch(
    skin,
    angle=0.0,
    *,
    rings=(),
    lines=(),
    filled=True,
    ring_band=False,
    band_mm=0.3,
    x_mm=None,
    depth=0.2,
    projection=Projection.EQUIDISTANT,
):
    x_mm = sum(skin.x_range_mm) / 2 if x_mm is None else x_mm
    layout = lay_out(skin, Placement(x_mm=x_mm, angle_deg=angle, projection=projection))
    drawing = Drawing(width_mm=20, height_mm=20, rings=Ragged.of(list(rings)), lines=Ragged.of(list(lines)))
    x, theta = layout.wrap(np.concatenate([*rings, *lines]))
    return Patch(
        drawing=drawing,
        layout=layout,
        filled=filled,
        ring_band=ring_band,
        band_mm=band_mm,
        depth_mm=depth,
        x_mm=(x.min(), x.max()),
        theta_rad=(theta.min(), theta.max()),
    )


def area(field, skin):
    x, t = np.meshgrid(field.x_mm, field.theta_rad, indexing="ij")
    E, F, G = metric(skin.radius(x, t), *skin.slopes(x, t))
    cell = np.sqrt(E * G - F * F) * (field.x_mm[1] - field.x_mm[0]) * (field.theta_rad[1] - field.theta_rad[0])
    return float(cell[field.depth_mm > 0].sum())


def laid(*patches):
    return lay_wanted(patches, [(240, 80)] * len(patches))


def test_a_ring_shaped_region_has_its_own_area():
    skin = Cylinder(diameter_mm=50, length_mm=80)
    field = laid(patch(skin, rings=[ring(400, 8.0), ring(200, 3.0, turn=-1)]))
    assert area(field, skin) == pytest.approx(np.pi * (64 - 9), rel=5e-3)
    assert set(np.unique(field.depth_mm)) == {0.0, 0.2}


def test_a_line_is_a_band_of_the_tools_width():
    skin = Cylinder(diameter_mm=50, length_mm=80)
    line = np.array([[-8.0, -3.0], [8.0, 5.0]])
    field = laid(patch(skin, lines=[line], band_mm=0.8))
    length = np.hypot(16, 8)
    assert area(field, skin) == pytest.approx(length * 0.8 + np.pi * 0.16, rel=0.01)


@pytest.mark.parametrize("width", [0.2, 0.33, 0.8])
@pytest.mark.parametrize("end", [(16.0, 0.0), (0.0, 15.0), (7.0, 11.0)])
def test_a_band_is_no_wider_than_the_tool(width, end):
    """Closed form; the raster's and the field's cells, 0.05 mm each, leave a hundredth."""
    skin = Cylinder(diameter_mm=50, length_mm=80)
    start = np.array([-8.013, -7.031])
    field = laid(patch(skin, lines=[np.stack([start, start + end])], band_mm=width))
    told = (area(field, skin) - np.pi * width**2 / 4) / np.hypot(*end)
    assert told == pytest.approx(width, abs=0.026 if 0.0 in end else 0.01)


def lost_mm(field, layout, uv):
    """How far on the skin the worst of the sheet's places is from a cell that is wanted."""
    i, j = np.nonzero(field.depth_mm)
    wanted = in_space(layout.skin, field.x_mm[i], field.theta_rad[j])
    return cKDTree(wanted).query(in_space(layout.skin, *layout.wrap(uv)))[0].max()


@pytest.mark.parametrize("v", [-6.0, -6.01, -6.02, -6.03, 5.99])
@pytest.mark.parametrize("projection", [Projection.FROM_VIEW, Projection.EQUIDISTANT])
def test_a_line_finer_than_a_cell_is_not_lost_on_a_slope(v, projection):
    egg = Ovoid(length_mm=56, breadth_mm=42, shift_mm=0, quarter_diameter_mm=33)
    line = np.array([[-5.0, v], [5.0, v + 0.004]])
    fine = patch(egg, lines=[line], band_mm=0.04, x_mm=44.0, projection=projection)
    assert lost_mm(laid(fine), fine.layout, np.linspace(*line, 400)) <= 0.08


@pytest.mark.parametrize("turn", [0.0, 0.7, 2.0])
def test_a_spike_of_a_region_is_not_lost(turn):
    """It is 0.04 mm wide, finer than a cell, for half of its length."""
    skin = Cylinder(diameter_mm=50, length_mm=80)
    c, s = np.cos(turn), np.sin(turn)
    spike = np.array([[-4.0, -3.0], [-3.0, -3.0], [-3.96, 3.0], [-4.0, -3.0]]) @ np.array([[c, s], [-s, c]])
    art = patch(skin, rings=[ring(200, 1.5), spike], band_mm=0.1)
    assert lost_mm(laid(art), art.layout, np.linspace(spike[1], spike[2], 400)) <= 0.08


@pytest.mark.parametrize("name", ["cylinder", "cone", "grid"])
@pytest.mark.parametrize("angle", [0.0, 180.0, 1000.0])
def test_the_field_turns_with_the_art(name, angle):
    skin = SKINS[name]
    here = laid(patch(skin, angle, rings=[ring(300, 7.0)]))
    assert here.theta_rad[0] < np.radians(angle) < here.theta_rad[-1]
    u = skin.radius(np.array([sum(skin.x_range_mm) / 2]), np.radians([angle]))[0]
    assert area(here, skin) == pytest.approx(np.pi * 49, rel=0.15)
    assert np.ptp(here.theta_rad) * u < 30


def test_art_wider_than_a_turn_fills_the_whole_turn_once():
    skin = SKINS["cylinder"]
    band = np.array([[-70.0, -4], [70, -4], [70, 4], [-70, 4], [-70, -4]])
    field = laid(patch(skin, 20, rings=[band]))
    assert len(field.theta_rad) * (field.theta_rad[1] - field.theta_rad[0]) == pytest.approx(2 * np.pi)
    assert area(field, skin) == pytest.approx(2 * np.pi * 20 * 8, rel=0.02)


def test_pieces_all_round_share_one_field():
    skin = SKINS["cylinder"]
    four = [patch(skin, a, rings=[ring(200, 5.0)], depth=0.1 + a / 3600) for a in (0, 100, 190, 280)]
    field = laid(*four)
    assert area(field, skin) == pytest.approx(4 * np.pi * 25, rel=0.02)
    assert len(np.unique(field.depth_mm)) == 5


def test_where_pieces_lie_over_each_other_the_deeper_counts():
    skin = SKINS["cylinder"]
    field = laid(patch(skin, 0, rings=[ring(200, 5.0)], depth=0.1), patch(skin, 0, rings=[ring(200, 3.0)], depth=0.3))
    middle = field.depth_mm[len(field.x_mm) // 2, len(field.theta_rad) // 2]
    assert middle == 0.3
    assert (field.depth_mm == 0.1).any()


def test_cells_are_a_quarter_of_the_grace():
    skin = SKINS["cylinder"]
    field = laid(patch(skin, rings=[ring(200, 5.0)]))
    assert field.x_mm[1] - field.x_mm[0] <= CELL_MM + 1e-12


def test_the_field_says_which_pace_is_asked_where_and_only_where_they_differ():
    skin = Cylinder(diameter_mm=50, length_mm=80)
    wide, small = patch(skin, rings=[ring(300, 7.0)]), patch(skin, 60.0, rings=[ring(300, 3.0)])
    assert laid(wide, small).pace is None and laid(wide, small).paces == ()
    told = lay_wanted([wide, small, wide], [(240, 80), (60, 20), (240, 90)], rpms=[9000.0])
    assert told.paces == ((60, 20), (240, 80), (240, 90)) and told.rpms == (9000.0,) and told.tools is None
    assert (told.feed_mm_min, told.plunge_mm_min) == (240, 90)
    assert np.array_equal(told.pace > 0, told.depth_mm > 0)
    assert np.array_equal(told.depth_mm, laid(wide, small).depth_mm)
    assert set(np.unique(told.pace)) == {0, 1, 6}  # the wide one is asked at two paces
    right = told.theta_rad > np.radians(45)
    assert set(np.unique(told.pace[:, right])) == {0, 1}
    many = lay_wanted([wide] * 9, [(240 + k, 80) for k in range(9)])
    assert many.pace is None and many.feed_mm_min == 248


def test_the_field_says_which_tools_are_to_cut_where_and_only_where_they_differ():
    skin = Cylinder(diameter_mm=50, length_mm=80)
    wide, small = patch(skin, rings=[ring(300, 7.0)]), patch(skin, 60.0, rings=[ring(300, 3.0)], depth=0.3)
    pace = [(240, 80)] * 2
    assert lay_wanted([wide, small], pace, tools=[3, 3]).tools is None
    told = lay_wanted([wide, small], pace, tools=[1, 6])
    assert told.paces == () and set(np.unique(told.tools)) == {0, 1, 6}
    for number, one in enumerate((wide, small, small)):
        assert area(told.of_tool(number), skin) == pytest.approx(area(laid(one), skin), rel=1e-2)
    assert set(np.unique(told.of_tool(2).depth_mm)) == {0.0, 0.3}
    over = lay_wanted([wide, patch(skin, rings=[ring(300, 3.0)])], pace, tools=[1, 2])
    assert set(np.unique(over.tools)) == {0, 1, 3}  # where they lie over each other both are to
    both = lay_wanted([wide, small], [(240, 80), (60, 20)], tools=[1, 2])
    assert both.paces == ((60, 20), (240, 80)) and set(np.unique(both.pace * 4 + both.tools)) == {0, 9, 6}
    assert lay_wanted([wide, small], pace, tools=[1, 1 << 8]).tools is None  # more tools than a cell has bits
