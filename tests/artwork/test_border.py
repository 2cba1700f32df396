"""Borders: whole motifs, rings that are sound, lines that end where they begin; frames that bend truly."""

import numpy as np
import pytest
import shapely

from engine.artwork.border import CHORD_MM, Border, border_round, frame_round, motif_count
from engine.artwork.motifs import Kind

KINDS = list(Kind)
MOTIFS = [Kind.ROPE, Kind.WAVE, Kind.ZIGZAG, Kind.LEAVES]
GIRTH = 40 * np.pi


def polygons(drawing):
    return [shapely.Polygon(drawing.rings[k]) for k in range(len(drawing.rings))]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("times", [None, 1, 7, 61])
def test_a_border_is_as_wide_as_the_blank_is_round_and_ends_where_it_begins(kind, times):
    if times and kind not in MOTIFS:
        times = None
    drawing = border_round(Border(kind=kind, height_mm=5, times=times), GIRTH)
    assert (drawing.width_mm, drawing.height_mm) == (GIRTH, 5)
    assert len(drawing.lines) + len(drawing.rings) > 0
    for k in range(len(drawing.lines)):
        line = drawing.lines[k]
        assert tuple(line[[0, -1], 0]) == (-0.5 * GIRTH, 0.5 * GIRTH) and line[0, 1] == line[-1, 1]
        assert (np.diff(line[:, 0]) > 0).all()
    assert np.abs(drawing.places[:, 1]).max() <= 2.5 + 1e-9


@pytest.mark.parametrize("kind", MOTIFS)
def test_motifs_repeat_exactly_and_a_whole_number_of_times(kind):
    drawing = border_round(Border(kind=kind, height_mm=5, times=12), GIRTH)
    period = GIRTH / 12
    for part in (drawing.rings, drawing.lines):
        if not len(part):
            continue
        cloud = shapely.MultiPoint(part.points)
        inner = part.points[part.points[:, 0] < 0.5 * GIRTH - 1.5 * period]
        away = shapely.distance(cloud, shapely.points(inner + [period, 0.0]))
        assert away.max() < 1e-9


@pytest.mark.parametrize("kind", [Kind.ROPE, Kind.LEAVES])
@pytest.mark.parametrize("times", [1, 9, 80])
def test_rings_are_sound_apart_from_each_other_and_counter_clockwise(kind, times):
    border = Border(kind=kind, height_mm=4, times=times, margin_mm=1.5)
    for drawing in (border_round(border, GIRTH), frame_round(border, 30, 18)):
        shapes = polygons(drawing)
        assert all(shape.is_valid and shape.exterior.is_ccw for shape in shapes)
        assert shapely.union_all(shapes).area == pytest.approx(sum(shape.area for shape in shapes), rel=1e-12)
    # Round the blank the last motif's neighbour is the first.
    shapes = polygons(border_round(border, GIRTH))
    over = shapely.union_all([shapely.affinity.translate(shape, GIRTH) for shape in shapes])
    assert shapely.union_all(shapes).intersection(over).area == 0


def test_a_plain_frame_keeps_its_margin_and_its_length_is_that_of_the_closed_form():
    border = Border(kind=Kind.LINE, height_mm=2, margin_mm=3)
    drawing = frame_round(border, 30, 20)
    line = drawing.lines[0]
    assert (line[0] == line[-1]).all()
    # Sides of the art, and quarter circles of margin and half the height: a parallel curve (Steiner's formula).
    assert shapely.LineString(line).length == pytest.approx(2 * (30 + 20) + 2 * np.pi * 4, abs=0.02)
    inside = shapely.box(-15, -10, 15, 10).exterior
    away = shapely.distance(shapely.points(line), inside)
    assert away.min() == pytest.approx(4, abs=CHORD_MM) and away.max() == pytest.approx(4, abs=1e-9)
    assert (drawing.width_mm, drawing.height_mm) == (40, 30)


def test_lines_of_a_frame_close_exactly_however_many_motifs_they_have():
    for times in range(1, 60):
        line = frame_round(Border(kind=Kind.ZIGZAG, height_mm=2, margin_mm=3, times=times), 31.7, 19.3).lines[0]
        assert (line[0] == line[-1]).all()


def test_both_lines_of_a_double_frame_keep_their_distance():
    drawing = frame_round(Border(kind=Kind.DOUBLE, height_mm=2, margin_mm=3), 30, 20)
    inside = shapely.box(-15, -10, 15, 10)
    away = [shapely.distance(shapely.points(drawing.lines[k]), inside) for k in (0, 1)]
    for line, mm in zip(away, (3, 5), strict=True):
        assert line.min() == pytest.approx(mm, abs=1e-9) and line.max() == pytest.approx(mm, abs=1e-9)
    outer = shapely.LineString(drawing.lines[1])
    true = inside.buffer(5, quad_segs=2000).exterior
    assert shapely.hausdorff_distance(outer, true, densify=0.01) < 1.01 * CHORD_MM


@pytest.mark.parametrize("kind", KINDS)
def test_a_frame_stands_outside_the_margin_and_within_its_extent(kind):
    drawing = frame_round(Border(kind=kind, height_mm=4, margin_mm=2), 25, 16)
    away = shapely.distance(shapely.points(drawing.places), shapely.box(-12.5, -8, 12.5, 8))
    assert away.min() >= 2 - 1e-9 and away.max() <= 6 + 1e-9
    assert (np.abs(drawing.places) <= [0.5 * drawing.width_mm + 1e-9, 0.5 * drawing.height_mm + 1e-9]).all()


def test_a_wave_is_a_sine_within_the_chord():
    border = Border(kind=Kind.WAVE, height_mm=6, times=8)
    line = border_round(border, GIRTH).lines[0]
    u = np.linspace(-0.5 * GIRTH, 0.5 * GIRTH, 20_001)
    true = np.stack([u, 3 * np.sin(2 * np.pi * 8 * (u / GIRTH + 0.5))], axis=1)
    assert shapely.distance(shapely.points(true), shapely.LineString(line)).max() <= 1.25 * CHORD_MM
    assert len(line) < 8 * 80


def test_a_zigzag_keeps_its_points():
    line = border_round(Border(kind=Kind.ZIGZAG, height_mm=6, times=5), 100).lines[0]
    assert len(line) == 5 * 3 + 1
    assert sorted(set(np.round(line[:, 1], 9))) == [-3, 0, 3]


def test_where_none_are_asked_motifs_look_well():
    assert motif_count(Border(kind=Kind.WAVE, height_mm=5), 100) == 10
    assert motif_count(Border(kind=Kind.WAVE, height_mm=500), 100) == 1
    assert motif_count(Border(kind=Kind.WAVE, height_mm=500), 100, fewest=4) == 4
    assert motif_count(Border(kind=Kind.LINE, height_mm=5), 100) == 1
    (note,) = border_round(Border(kind=Kind.WAVE, height_mm=5), 100).notes
    assert note.message == "the border has 10 motifs of 10 mm"
    assert border_round(Border(kind=Kind.WAVE, height_mm=5, times=9), 100).notes == ()
    assert frame_round(Border(kind=Kind.LINE, height_mm=5), 30, 20).notes == ()
