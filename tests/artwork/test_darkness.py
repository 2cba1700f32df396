"""The field of darkness: linear light, in its place on the sheet, moved as the art is moved."""

import io

import numpy as np
import pytest
import shapely
from PIL import Image

from engine.artwork import Darkness, Drawing, read_artwork
from engine.kernel.ragged import Ragged
from engine.layout import Placement, place

# IEC 61966-2-1:1999, decoded: 8-bit sRGB to linear light
PUBLISHED = {
    1: 0.0003035270,
    10: 0.0030352698,
    11: 0.0033465358,
    128: 0.2158605001,
    188: 0.5028864580,
    200: 0.5775804404,
}


def png(grey):
    out = io.BytesIO()
    Image.fromarray(grey).save(out, "PNG", dpi=(254, 254))
    return out.getvalue()


@pytest.mark.parametrize(("stored", "light"), PUBLISHED.items())
def test_darkness_is_what_linear_light_leaves(stored, light):
    field = Darkness.of_greys(np.full((1, 1), stored, np.uint8), (1.0, 1.0))
    assert field.at(np.zeros((1, 2)))[0] == pytest.approx(1.0 - light, abs=1e-7)  # float32 cells


def test_a_picture_read_for_its_tone_keeps_every_grey_in_its_place():
    grey = np.arange(6, dtype=np.uint8).reshape(2, 3) * 50
    drawing = read_artwork(png(grey), toned=True)
    assert not len(drawing.rings)
    assert not drawing.is_empty
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((0.3, 0.2))
    middles = np.array([[x, y] for y in (0.05, -0.05) for x in (-0.1, 0.0, 0.1)])
    wanted = Darkness.of_greys(grey, (0.1, 0.1)).cells.ravel()
    assert np.allclose(drawing.darkness.at(middles), wanted, atol=1e-6)
    assert drawing.darkness.at(np.array([[0.151, 0.0], [0.0, -0.101]])).tolist() == [0.0, 0.0]
    assert drawing.darkness.cell_mm == pytest.approx((0.1, 0.1))


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
def test_the_field_moves_as_the_art_does(turn, mirror):
    grey = np.random.default_rng(3).integers(0, 256, (4, 5), np.uint8)
    drawing = read_artwork(png(grey), toned=True)
    placed = place(drawing, Placement(x_mm=0, width_mm=10, height_mm=4, turn_deg=turn, mirror=mirror))
    asked = np.random.default_rng(4).uniform(-0.24, 0.24, (50, 2)) * [1.0, 0.7]
    t = np.radians(turn)
    side = -1.0 if mirror else 1.0
    flat = asked * [10 / 0.5 * side, 4 / 0.4]
    there = flat @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    assert np.allclose(placed.darkness.at(there), drawing.darkness.at(asked), atol=1e-9)
    corners = placed.darkness.corners
    assert np.hypot(*(corners[1] - corners[0])) == pytest.approx(10)
    assert np.hypot(*(corners[3] - corners[0])) == pytest.approx(4)


def regions():
    """Two polygons, one with a hole, as rings: exteriors counter-clockwise, holes clockwise."""
    t = np.linspace(0, 2 * np.pi, 41)
    wavy = np.stack([np.cos(t), np.sin(t)], 1) * (4 + 0.7 * np.sin(5 * t))[:, None]
    hole = np.stack([np.cos(-t), np.sin(-t)], 1) * 1.3 + [0.4, -0.3]
    thin = np.array([[5.0, -4], [5.06, -4], [5.4, 4], [5.33, 4], [5.0, -4]])
    for ring in (wavy, hole):
        ring[-1] = ring[0]
    return Ragged.of([wavy, hole, thin]), shapely.union(shapely.Polygon(wavy, [hole]), shapely.Polygon(thin))


@pytest.mark.parametrize("step", [0.13, 0.31, 1.7])
def test_a_drawing_is_as_dark_as_its_rings_cover_each_cell(step):
    """Against shapely's areas of the intersections of every cell with the regions."""
    rings, filled = regions()
    field = Darkness.of_rings(rings, step)
    assert field.cell_mm == pytest.approx((step, step))
    rows, columns = field.cells.shape
    i, j = np.mgrid[:rows, :columns]
    back = np.linalg.inv(field.to_cells[:, :2])
    low = (np.stack([j.ravel(), i.ravel() + 1], 1) - field.to_cells[:, 2]) @ back.T
    boxes = shapely.box(low[:, 0], low[:, 1], low[:, 0] + step, low[:, 1] + step)
    wanted = shapely.area(shapely.intersection(boxes, filled)) / step**2
    assert np.allclose(field.cells.ravel(), wanted, atol=2e-6)


def test_a_mirrored_drawing_is_as_dark_as_before():
    rings, filled = regions()
    drawing = Drawing(width_mm=12, height_mm=10, rings=rings)
    turned = place(drawing, Placement(x_mm=0, width_mm=12, mirror=True))
    here, there = (Darkness.of_rings(one.rings, 0.2) for one in (drawing, turned))
    dark = [float(field.cells.sum(dtype=float)) * 0.2**2 for field in (here, there)]
    assert dark == pytest.approx([filled.area, filled.area], rel=1e-6)
    assert turned.rings.points[0, 0] != rings.points[0, 0]


@pytest.mark.parametrize("side", [0.05, 0.25, 0.7, 100.0])
def test_a_coarser_field_keeps_the_mean_and_the_extent(side):
    cells = np.random.default_rng(5).random((23, 37))
    fine = Darkness(cells=cells, to_cells=np.array([[8.0, 1.0, 3.0], [1.0, -9.0, 4.0]]))
    coarse = fine.coarser(side)
    assert np.allclose(coarse.corners, fine.corners, atol=1e-9)
    assert float(coarse.cells.mean(dtype=float)) == pytest.approx(float(fine.cells.mean(dtype=float)), abs=1e-6)
    assert max(coarse.cell_mm) <= max(side, *fine.cell_mm) + 1e-9


def test_cells_of_a_coarser_field_are_means_of_the_cells_they_cover():
    cells = np.random.default_rng(6).random((6, 9)).astype(np.float32)
    coarse = Darkness(cells=cells, to_cells=np.array([[10.0, 0, 4.5], [0, -10.0, 3.0]])).coarser(0.3)
    assert np.allclose(coarse.cells, cells.reshape(2, 3, 3, 3).mean(axis=(1, 3)), atol=1e-6)
    third = Darkness(cells=np.array([[0.0, 1.0, 0.5]]), to_cells=np.eye(2, 3)).coarser(1.5)
    assert np.allclose(third.cells, [[1 / 3, 2 / 3]], atol=1e-6)


def test_art_is_dark_by_its_picture_or_by_its_regions_and_lines_alone_are_not():
    square = Ragged.of([np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]])])
    field = Drawing(width_mm=8, height_mm=8, rings=square).darkness_in(0.5)
    assert field.cells.sum() * np.prod(field.cell_mm) == pytest.approx(64)
    assert max(field.cell_mm) <= 0.5
    seen = Drawing(width_mm=8, height_mm=8, darkness=field)
    assert seen.darkness_in(0.1) is field
    assert Drawing(width_mm=8, height_mm=8, lines=square).darkness_in(0.5) is None
