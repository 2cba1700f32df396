"""What is asked of art that is toned, in relief, or as deep as it is wide, against closed forms."""

import numpy as np
import pytest

from engine.artwork import Darkness, Drawing
from engine.blank import Cylinder
from engine.kernel.ragged import Ragged
from engine.kernel.values import Ask
from engine.layout import Placement, lay_out
from engine.marking import Depth
from engine.outcome.art_raster import CELL_MM, Patch
from engine.outcome.wanted import lay_wanted

SKIN = Cylinder(diameter_mm=50, length_mm=80)
LAYOUT = lay_out(SKIN, Placement(x_mm=40, angle_deg=0))


def patch(drawing, depth, *, depth_mm=0.5, flank=0.0, **change):
    x, theta = LAYOUT.wrap(drawing.places)
    return Patch(
        drawing=drawing,
        layout=LAYOUT,
        band_mm=0.3,
        depth_mm=depth_mm,
        x_mm=(x.min(), x.max()),
        theta_rad=(theta.min(), theta.max()),
        depth=depth,
        flank=flank,
        **{"filled": True, "ring_band": False, **change},
    )


def laid(*patches):
    return lay_wanted(patches, [(240, 80)] * len(patches))


def box(width, height):
    ring = 0.5 * np.array([[-width, -height], [width, -height], [width, height], [-width, height], [-width, -height]])
    return Drawing(width_mm=width, height_mm=height, rings=Ragged.of([ring]))


def ramp(columns=160, rows=40, side=0.1):
    cells = np.tile(np.linspace(0.0, 1.0, columns, dtype=np.float32), (rows, 1))
    to_cells = np.array([[1 / side, 0, columns / 2], [0, -1 / side, rows / 2]])
    darkness = Darkness(cells=cells, to_cells=to_cells)
    return Drawing(width_mm=columns * side, height_mm=rows * side, darkness=darkness)


def test_a_wedge_is_as_deep_as_its_way_to_the_outline_lets_a_cone_sink():
    """A box of 4 by 12 mm under a cone of 90 degrees: depth is the way to the nearest side, at most what is asked."""
    field = laid(patch(box(4.0, 12.0), Depth.WEDGE, depth_mm=1.5, flank=1.0))
    x, t = np.meshgrid(field.x_mm, field.theta_rad, indexing="ij")
    side = np.minimum(2.0 - np.abs(25 * t), 6.0 - np.abs(x - 40))
    expected = np.clip(side, 0.0, 1.5)
    assert np.abs(field.depth_mm - expected).max() < 0.51 * CELL_MM  # of its cell the deepest place, where flanks meet
    assert field.depth_mm.max() == 1.5
    assert (field.asks[field.depth_mm > 0] == Ask.GRADED).all()
    assert field.beside_mm == 0.0 and field.darkness is None


@pytest.mark.parametrize("radius", [2.0, 3.31, 4.517, 6.0])
@pytest.mark.parametrize("band", [0.35, 0.5, 0.63, 0.8])
def test_a_band_is_asked_its_whole_depth_all_round_however_its_middle_lies_between_cells(band, radius):
    """A ring under a cone of 60 degrees: half its width by sqrt(3), within 0.2 mm (what the proof calls a cut's place)
    of any place of its middle line; and nowhere deeper by more than the flank gains over a cell.
    """
    t = np.linspace(0.0, 2.0 * np.pi, 2000)
    edge = np.stack([np.cos(t), np.sin(t)], axis=1)
    ring = Drawing(width_mm=20, height_mm=20, rings=Ragged.of([radius * edge, (radius - band) * edge[::-1]]))
    field = laid(patch(ring, Depth.WEDGE, depth_mm=1.5, flank=np.sqrt(3.0)))
    deepest = 0.5 * band * np.sqrt(3.0)
    x, u = np.meshgrid(field.x_mm - 40, 25 * field.theta_rad, indexing="ij")
    for place in (radius - 0.5 * band) * edge[::40]:
        near = np.hypot(u - place[0], x - place[1]) < 0.2
        assert field.depth_mm[near].max() > deepest - 0.001
    assert field.depth_mm.max() < deepest + CELL_MM * np.sqrt(3.0)


@pytest.mark.parametrize("width", [0.3, 0.31, 0.335, 0.42, 0.5, 0.62])
def test_a_bar_is_asked_exactly_its_depth_wherever_its_middle_lies_between_cells(width):
    """Away from its ends, in every row of cells across it."""
    field = laid(patch(box(width, 12.0), Depth.WEDGE, depth_mm=1.5, flank=np.sqrt(3.0)))
    rows = np.abs(field.x_mm - 40) < 5.0
    np.testing.assert_allclose(field.depth_mm[rows].max(axis=1), 0.5 * width * np.sqrt(3.0), atol=1e-6)


def test_a_relief_asks_for_its_share_of_the_depth():
    field = laid(patch(ramp(), Depth.RELIEF, depth_mm=0.8))
    x, t = np.meshgrid(field.x_mm, field.theta_rad, indexing="ij")
    u = 25 * t
    inside = (np.abs(u) < 7.9) & (np.abs(x - 40) < 1.9)
    share = (u / 0.1 + 80 - 0.5) / 159
    assert np.abs(field.depth_mm - 0.8 * share)[inside].max() < 1e-6
    assert (field.asks[inside & (share > 0.01)] == Ask.GRADED).all()


def test_a_tone_asks_for_opened_skin_and_bounds_the_depth():
    field = laid(patch(ramp(), Depth.TONE, depth_mm=0.3))
    art = field.asked(Ask.TONE)
    assert set(np.unique(field.depth_mm)) == {0.0, 0.3}
    assert np.array_equal(art, field.depth_mm > 0)
    x, t = np.meshgrid(field.x_mm, field.theta_rad, indexing="ij")
    inside = art & (np.abs(25 * t) < 7.9) & (np.abs(x - 40) < 1.9)
    assert np.abs(field.darkness - (25 * t / 0.1 + 79.5) / 159)[inside].max() < 1e-5
    assert (field.darkness[~art] == 0).all()
    assert field.beside_mm == 0.3


@pytest.mark.parametrize("part", [1, 700])
def test_a_picture_is_wanted_alike_however_many_cells_are_asked_at_a_time(part, monkeypatch):
    once = laid(patch(ramp(), Depth.TONE))
    monkeypatch.setattr("engine.outcome.wanted.PART", part)
    again = laid(patch(ramp(), Depth.TONE))
    assert np.array_equal(again.depth_mm, once.depth_mm) and np.array_equal(again.darkness, once.darkness)
    assert once.darkness.any()


def test_a_drawing_that_is_toned_asks_for_all_of_its_skin():
    field = laid(patch(box(4.0, 12.0), Depth.TONE))
    assert set(np.unique(field.darkness)) == {0.0, 1.0}
    assert np.array_equal(field.darkness == 1.0, field.asked(Ask.TONE))


def test_even_art_beside_toned_art_is_asked_by_its_depth():
    even = patch(box(4.0, 4.0), Depth.EVEN, depth_mm=0.2)
    toned = patch(ramp(), Depth.TONE, depth_mm=0.3)
    both, alone = laid(toned, even), laid(even)
    middle = len(both.x_mm) // 2, len(both.theta_rad) // 2
    assert both.asks[middle] == Ask.EVEN
    assert alone.asks is None and np.array_equal(alone.asked(Ask.EVEN), alone.depth_mm > 0)
    assert both.asked(Ask.TONE).any()


@pytest.mark.parametrize("missing", ["asks", "shape"])
def test_a_field_of_darkness_that_does_not_fit_is_refused(missing):
    field = laid(patch(ramp(), Depth.TONE))
    columns = {name: getattr(field, name) for name in type(field).__dataclass_fields__}
    columns |= {"asks": None} if missing == "asks" else {"darkness": field.darkness[1:]}
    with pytest.raises(ValueError, match="darkness"):
        type(field)(**columns)


@pytest.mark.parametrize("shift", [-0.15, 0.15, 0.4])
def test_a_line_beside_an_outline_is_wanted_where_it_runs(shift):
    """A line 0.3 mm wide round a box of 8 by 12 mm, its middle so far outside; corners rounded outside it."""
    field = laid(patch(box(8.0, 12.0), Depth.EVEN, filled=False, ring_band=True, shift_mm=shift))
    x, t = np.meshgrid(field.x_mm, field.theta_rad, indexing="ij")
    across, along = np.abs(25 * t) - 4.0, np.abs(x - 40) - 6.0
    outside = np.hypot(np.maximum(across, 0), np.maximum(along, 0))
    signed = np.where((across < 0) & (along < 0), np.maximum(across, along), outside)
    wanted = np.abs(signed - shift) <= 0.15
    wrong = wanted != (field.depth_mm > 0)
    near_edge = np.abs(np.abs(signed - shift) - 0.15) <= CELL_MM
    assert not (wrong & ~near_edge).any()
    assert wanted.any()


def test_a_shape_that_is_drawn_by_its_middle_may_be_cut_and_need_not():
    field = laid(patch(box(2.0, 12.0), Depth.MIDDLE, depth_mm=0.3))
    assert set(np.unique(field.asks[field.depth_mm > 0])) == {Ask.ALLOWED}
    assert not field.asked(Ask.EVEN).any() and field.depth_mm.max() == 0.3
