"""Hatching that goes round the blank: rings and a helix, judged on the skin."""

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.blank import Cone
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.marking import Hatch, Lines
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, art, in_space, middle, regions, ring

TURN = 2 * np.pi
PITCH = 0.4
NAMES = [*sorted(SKINS), "bumpy"]


def skin(name):
    return BUMPY if name == "bumpy" else SKINS[name]


def sleeve(layout, high=10.0, *holes):
    """Art that goes round the blank exactly once."""
    half = np.pi * layout.r0_mm
    box = np.array([[-half, -high], [half, -high], [half, high], [-half, high], [-half, -high]])
    return Drawing(width_mm=2 * half, height_mm=2 * high, rings=Ragged.of([box, *holes]))


def marked(lines, layout, drawing, **words):
    return Hatch(pitch_mm=PITCH, lines=lines, **words).mark(drawing, layout)


@pytest.mark.parametrize("name", NAMES)
def test_rings_round_the_blank_are_closed_once_and_at_one_station_each(name):
    layout = middle(skin(name))
    found = marked(Lines.RINGS, layout, sleeve(layout))
    assert found.findings == ()
    for k in range(len(found.strokes)):
        x, theta = layout.wrap(found.strokes.line[k])
        assert np.ptp(x) < 1e-6
        assert theta[-1] - theta[0] == pytest.approx(TURN, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_a_helix_round_the_blank_is_one_stroke(name):
    layout = middle(skin(name))
    found = marked(Lines.HELIX, layout, sleeve(layout))
    assert found.findings == () and len(found.strokes) == 1
    x, theta = layout.wrap(found.strokes.line.points)
    assert (np.diff(theta) > 0).all() and (np.diff(x) > -1e-9).all()
    assert np.ptp(theta) / TURN > 20 / PITCH / 1.35  # the sleeve is 20 mm high


def placed(strokes, layout):
    """(n, 3) places 0.03 mm apart on the sheet: x, theta counted on along each stroke, and the stroke's number."""
    runs = shapely.segmentize(shapely.linestrings(strokes.line.points, indices=strokes.line.owner), 0.03)
    uv, owner = shapely.get_coordinates(runs, return_index=True)
    return np.stack([*layout.wrap(uv), owner], 1)


@pytest.mark.parametrize("lines", [Lines.RINGS, Lines.HELIX])
@pytest.mark.parametrize("name", NAMES)
def test_turn_after_turn_is_never_over_the_pitch_and_not_under_half(name, lines):
    """A referee in space: from every place to the nearest one more than a third of a turn further on."""
    layout = middle(skin(name))
    x, theta, stroke = placed(marked(lines, layout, sleeve(layout)).strokes, layout).T
    r = layout.skin.radius(x, theta)
    space = np.stack([x, r * np.cos(theta), r * np.sin(theta)], 1)
    number = stroke if lines is Lines.RINGS else np.floor(theta / TURN)
    share = []
    for k in np.unique(number)[2:-2:3]:
        above = (number == k + 1) if lines is Lines.RINGS else (theta > TURN * (k + 0.4)) & (theta < TURN * (k + 2.6))
        here = number == k if lines is Lines.RINGS else (number == k) & (theta < TURN * (k + 0.01))
        step = cKDTree(space[above]).query(space[here])[0] / PITCH
        share.append(step)
    share = np.concatenate(share)
    assert share.max() <= 1.002
    assert share.min() >= 0.45


@pytest.mark.parametrize("name", ["cylinder", "ovoid"])
def test_the_climb_is_a_pitch_along_the_skin_a_turn(name):
    layout = middle(skin(name))
    x, theta, _ = placed(marked(Lines.HELIX, layout, sleeve(layout)).strokes, layout).T
    each = np.interp(np.arange(theta[0], theta[-1], TURN), theta, x)
    fine = np.linspace(each[0], each[-1], 200_001)
    arc = np.concatenate([[0], np.cumsum(np.hypot(np.diff(fine), np.diff(layout.skin.radius(fine, np.zeros(1)))))])
    assert np.diff(np.interp(each, fine, arc)) == pytest.approx(PITCH, rel=2e-3)


@pytest.mark.parametrize("lines", [Lines.RINGS, Lines.HELIX])
@pytest.mark.parametrize("projection", [Projection.EQUIDISTANT, Projection.TRUE_WIDTH, Projection.FROM_VIEW])
@pytest.mark.parametrize("name", ["ovoid", "bumpy"])
def test_what_is_cut_lies_in_the_art_and_fills_it(name, projection, lines):
    """Each stroke covers PITCH of the area, so length x pitch is the area on the skin, edge effects aside."""
    layout = middle(skin(name), projection)
    drawing = Drawing(width_mm=20, height_mm=28, rings=art(0.8).rings)
    strokes = marked(lines, layout, drawing).strokes
    held = regions(drawing).buffer(2e-3)
    runs = shapely.linestrings(strokes.line.points, indices=strokes.line.owner)
    assert shapely.covers(held, runs).all()
    uv = shapely.get_coordinates(shapely.segmentize(runs, 0.05))
    owner = np.repeat(np.arange(len(runs)), shapely.get_num_coordinates(shapely.segmentize(runs, 0.05)))
    step = np.linalg.norm(np.diff(in_space(layout, uv), axis=0), axis=1)[owner[1:] == owner[:-1]]
    net = np.stack(np.meshgrid(np.arange(-12, 12, 0.05), np.arange(-15, 15, 0.05)), -1).reshape(-1, 2)
    net = net[shapely.contains_xy(regions(drawing), *net.T)]
    E, F, G = layout.tensor(net).T
    area = np.sqrt(E * G - F * F).sum() * 0.05**2
    assert area * 0.99 < step.sum() * PITCH < area * (1.03 if name == "ovoid" else 1.3)


def test_a_hole_breaks_the_helix_and_the_rings_only_where_it_lies():
    layout = middle(SKINS["cylinder"])
    drawing = sleeve(layout, 10.0, ring(60, 3.0, turn=-1))
    for lines in (Lines.RINGS, Lines.HELIX):
        strokes = marked(lines, layout, drawing).strokes
        _, theta = layout.wrap(strokes.line.points)
        turns = sum(np.ptp(theta[slice(*strokes.line.offsets[k : k + 2])]) for k in range(len(strokes))) / TURN
        area = 20 * 40 * np.pi - 9 * np.pi
        assert turns * TURN * 20 * PITCH == pytest.approx(area, rel=0.02)
    # A ring that the hole breaks is one stroke round the back, not one each side of the sheet's edge.
    assert len(marked(Lines.RINGS, layout, drawing).strokes) == len(marked(Lines.RINGS, layout, sleeve(layout)).strokes)


def test_art_that_lies_on_itself_is_cut_once_and_told():
    layout = middle(SKINS["cylinder"])
    box = np.array([[-70.0, -5], [70, -5], [70, 5], [-70, 5], [-70, -5]])
    drawing = Drawing(width_mm=140, height_mm=10, rings=Ragged.of([box]))
    for lines in (Lines.RINGS, Lines.HELIX):
        found = marked(lines, layout, drawing)
        assert [f.code for f in found.findings] == ["overlaps-itself"]
        theta = layout.wrap(found.strokes.line.points)[1]
        turns = sum(np.ptp(theta[slice(*found.strokes.line.offsets[k : k + 2])]) for k in range(len(found.strokes)))
        assert turns / TURN == pytest.approx(10 / PITCH, abs=1.2)


def test_a_sheet_that_ends_after_a_turn_gets_a_stroke_each_turn():
    cone = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60)
    layout = lay_out(cone, Placement(x_mm=30, projection=Projection.DEVELOPED))
    x, theta = np.repeat([20.0, 40], 90), np.tile(np.linspace(-3.1, 3.1, 90), 2)
    uv = layout.unwrap(x, theta).reshape(2, 90, 2)
    fan = np.concatenate([uv[0], uv[1][::-1], uv[0][:1]])
    strokes = marked(Lines.HELIX, layout, Drawing(width_mm=80, height_mm=80, rings=Ragged.of([fan]))).strokes
    theta = layout.wrap(strokes.line.points)[1]
    assert len(strokes) > 40 and np.ptp(theta) < TURN


def test_only_straight_lines_are_crossed():
    with pytest.raises(MarkingError) as caught:
        Hatch(pitch_mm=1, lines=Lines.HELIX, crossed=True)
    assert caught.value.where == "marking/crossed"
