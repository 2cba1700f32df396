"""The field of darkness: linear light, in its place on the sheet, moved as the art is moved."""

import io

import numpy as np
import pytest
from PIL import Image

from engine.artwork import Darkness, read_artwork
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
