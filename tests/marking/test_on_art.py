"""Whether a place lies on art: drawings against exact regions, pictures against their own cells."""

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.kernel.ragged import Ragged
from engine.marking.on_art import EDGE_MM, on_art
from tests.marking.contract import art, regions
from tests.marking.tone_art import picture

SPOTS = np.random.default_rng(8).uniform(-10, 10, (40_000, 2))


def test_a_drawing_is_art_inside_its_rings_and_not_beside_them():
    drawing = art(0.7)
    far = shapely.distance(shapely.points(SPOTS), regions(drawing))
    on = on_art(drawing, SPOTS)
    assert on[far == 0].all() and (far == 0).sum() > 5_000
    assert far[on].max() <= EDGE_MM


def test_a_hair_of_a_drawing_is_art_though_no_cell_is_half_full_of_it():
    hair = np.array([[-8.0, 0.003], [8, 0.003], [8, 0.008], [-8, 0.008], [-8, 0.003]])
    drawing = Drawing(width_mm=16, height_mm=1, rings=Ragged.of([hair]))
    places = np.stack([np.linspace(-7.9, 7.9, 300), np.full(300, 0.005)], axis=1)
    assert on_art(drawing, places).all()
    assert not on_art(drawing, places + [0.0, 0.03]).any()


def test_a_picture_is_art_where_its_cell_is_dark_at_all():
    cells = (np.random.default_rng(2).uniform(size=(20, 20)) < 0.3) * 0.004
    on = on_art(picture(cells, 16.0), SPOTS)
    column, row = np.floor((SPOTS[:, 0] + 8) / 0.8).astype(int), np.floor((8 - SPOTS[:, 1]) / 0.8).astype(int)
    held = (np.abs(SPOTS) < 8).all(axis=1)
    assert np.array_equal(on, held & (cells[np.clip(row, 0, 19), np.clip(column, 0, 19)] > 0))


def test_fine_cells_of_a_picture_are_taken_together_up_to_a_twentieth_of_a_millimetre():
    y, x = (np.mgrid[:800, :800] + 0.5) / 50 - 8
    on = on_art(picture((np.hypot(x, y) < 6).astype(float), 16.0), SPOTS)
    far = np.linalg.norm(SPOTS, axis=1)
    assert on[far < 6 - 0.02].all()
    assert far[on].max() <= 6 + 0.05 * np.sqrt(2)


def test_no_art_is_nowhere():
    assert not on_art(Drawing(width_mm=5, height_mm=5), SPOTS).any()
