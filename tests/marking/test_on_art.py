"""Whether a place lies on art: drawings against exact regions, pictures against their own cells."""

import numpy as np
import shapely
from scipy.ndimage import map_coordinates

from engine.artwork import Drawing
from engine.kernel.ragged import Ragged
from engine.marking.on_art import EDGE_MM, OnArt
from tests.marking.contract import art, regions
from tests.marking.tone_art import picture

SPOTS = np.random.default_rng(8).uniform(-10, 10, (40_000, 2))


def test_a_drawing_is_art_inside_its_rings_and_not_beside_them():
    drawing = art(0.7)
    far = shapely.distance(shapely.points(SPOTS), regions(drawing))
    on = OnArt.of(drawing).at(SPOTS)
    assert on[far == 0].all() and (far == 0).sum() > 5_000
    assert far[on].max() <= EDGE_MM


def test_a_hair_of_a_drawing_is_art_though_no_cell_is_half_full_of_it():
    hair = np.array([[-8.0, 0.003], [8, 0.003], [8, 0.008], [-8, 0.008], [-8, 0.003]])
    drawing = Drawing(width_mm=16, height_mm=1, rings=Ragged.of([hair]))
    places = np.stack([np.linspace(-7.9, 7.9, 300), np.full(300, 0.005)], axis=1)
    assert OnArt.of(drawing).at(places).all()
    assert not OnArt.of(drawing).at(places + [0.0, 0.03]).any()


def test_a_picture_is_art_as_far_as_it_is_dark_between_its_cells_middles():
    """The general-purpose library's own linear interpolation; half a grey level is bare skin."""
    cells = (np.random.default_rng(2).uniform(size=(20, 20)) < 0.3) * 0.004
    on = OnArt.of(picture(cells, 16.0)).at(SPOTS)
    dark = map_coordinates(
        cells, [(8 - SPOTS[:, 1]) / 0.8 - 0.5, (SPOTS[:, 0] + 8) / 0.8 - 0.5], order=1, mode="nearest"
    )
    held = (np.abs(SPOTS) < 8).all(axis=1)
    assert np.array_equal(on, held & (dark > 0.5 / 255)) and 5_000 < on.sum() < 25_000


def test_fine_cells_of_a_picture_are_taken_together_up_to_a_fiftieth_of_a_millimetre():
    y, x = (np.mgrid[:1600, :1600] + 0.5) / 100 - 8
    on = OnArt.of(picture((np.hypot(x, y) < 6).astype(float), 16.0)).at(SPOTS)
    far = np.linalg.norm(SPOTS, axis=1)
    assert on[far < 6 - 0.02].all()
    assert far[on].max() <= 6 + 1.5 * 0.02 * np.sqrt(2)


def test_no_art_is_nowhere():
    assert not OnArt.of(Drawing(width_mm=5, height_mm=5)).at(SPOTS).any()
