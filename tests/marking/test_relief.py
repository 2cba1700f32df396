"""Darkness as depth: never deeper than asked under any part of the ball, ridges no higher than asked, on every skin."""

import math
from copy import deepcopy

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter
from scipy.spatial import cKDTree

from engine.artwork import Darkness, Drawing
from engine.job import read_job
from engine.kernel.compiled import compiled
from engine.kernel.errors import LayoutError, MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Form, Tool
from engine.layout import Placement, lay_out
from engine.marking import Relief
from engine.marking.relief import row_step
from engine.marking.rows import straight
from engine.toolpath import cut, lay
from tests.blank.skins import SKINS
from tests.job.documents import KNOWN, LEAST
from tests.marking.contract import on
from tests.marking.tone_art import picture, scene, wedge

R = 0.5
BALL = Tool(id="ball", form=Form.BALL, diameter_mm=2 * R)
DEPTH = 0.6


def style(**words):
    return Relief(**{"tool": BALL, "depth_mm": DEPTH} | words)


def soft(n=120):
    return gaussian_filter(scene(n), n / 30)


@compiled
def _carve(depth, side, low, points, offsets, sunk, radius):
    """Deepen a raster (rows, columns) by a ball let down at many places of every move."""
    for s in range(len(offsets) - 1):
        for i in range(offsets[s], max(offsets[s + 1] - 1, offsets[s] + 1)):
            j = min(i + 1, offsets[s + 1] - 1)
            way = math.sqrt((points[j, 0] - points[i, 0]) ** 2 + (points[j, 1] - points[i, 1]) ** 2)
            parts = int(way / side) + 1
            for p in range(parts + 1):
                u = points[i, 0] + (points[j, 0] - points[i, 0]) * p / parts
                v = points[i, 1] + (points[j, 1] - points[i, 1]) * p / parts
                d = sunk[i] + (sunk[j] - sunk[i]) * p / parts
                reach = math.sqrt(d * (2 * radius - d)) if d < radius else radius
                for row in range(
                    max(0, int((v - reach - low[1]) / side)), min(depth.shape[0], int((v + reach - low[1]) / side) + 2)
                ):
                    for column in range(
                        max(0, int((u - reach - low[0]) / side)),
                        min(depth.shape[1], int((u + reach - low[0]) / side) + 2),
                    ):
                        q = (low[0] + (column + 0.5) * side - u) ** 2 + (low[1] + (row + 0.5) * side - v) ** 2
                        if q < radius**2:
                            depth[row, column] = max(depth[row, column], d - radius + math.sqrt(radius**2 - q))


def carved(strokes, box, side=0.02):
    """(rows, columns) depth that a ball square to a flat sheet leaves along the strokes; row 0 at the least v."""
    depth = np.zeros((round((box[3] - box[1]) / side), round((box[2] - box[0]) / side)))
    sunk = DEPTH * strokes.share
    _carve(depth, side, np.array(box[:2]), strokes.line.points, strokes.line.offsets, sunk, R)
    return depth


def middles(box, side=0.02):
    u, v = np.meshgrid(np.arange(box[0] + side / 2, box[2], side), np.arange(box[1] + side / 2, box[3], side))
    return np.stack([u, v], -1).reshape(-1, 2), u.shape


FLAT = lay_out(SKINS["cylinder"], Placement(x_mm=45))


@pytest.mark.parametrize("angle", [0.0, 30.0])
def test_a_soft_relief_is_nowhere_deeper_than_asked_and_its_ridges_are_no_higher(angle):
    """Carved on a raster of 0.02 mm: what is left standing is the ridge, and what the raster cannot tell."""
    drawing, box = picture(soft()[20:100, 20:100], 8.0), (-3.0, -3, 3, 3)
    strokes = style(angle_deg=angle).mark(drawing, FLAT).strokes
    uv, shape = middles(box)
    asked = DEPTH * drawing.darkness.at(uv).reshape(shape)
    left = asked - carved(strokes, box)
    assert left.min() >= -0.001
    assert np.percentile(left, 99.9) <= 0.0085
    assert np.median(left) <= 0.005


def test_a_step_is_left_as_a_wall_that_the_ball_can_make():
    """A black square: the ball stands beside the edge where its form allows, and is never deeper beyond it."""
    cells = np.zeros((80, 80))
    cells[20:60, 20:60] = 1.0
    drawing, box = picture(cells, 8.0), (-3.5, -3.5, 3.5, 3.5)
    strokes = style().mark(drawing, FLAT).strokes
    depth = carved(strokes, box)
    uv, shape = middles(box)
    off = (np.abs(uv).max(axis=1) - 2.0).reshape(shape)  # over 0 outside the square
    assert depth[off > 0.06].max() <= 0.001
    floor = depth[off < -(math.sqrt(R**2) + 0.1)]
    assert floor.max() <= DEPTH + 1e-9
    assert floor.min() >= DEPTH - 0.0065
    # the ball's own form against the wall: d - R + sqrt(R2 - q2), q from where it stands
    assert depth[(off < -0.25) & (off > -0.3)].min() > 0.3


def test_sixteen_greys_come_out_as_deep_as_asked():
    drawing, steps = wedge(width_mm=32.0, height_mm=4.0)
    depth = carved(style().mark(drawing, FLAT).strokes, (-16, -0.5, 16, 0.5), side=0.05)
    got = np.array([np.median(depth[:, 40 * k + 12 : 40 * k + 28]) for k in range(16)]) / DEPTH
    assert np.abs(got - steps).max() <= 0.02
    assert got[0] == 0 and (np.diff(got) > 0).all()


def test_local_means_follow_a_photograph():
    tone = scene(120)
    depth = carved(style().mark(picture(tone, 24.0), FLAT).strokes, (-12, -12, 12, 12), side=0.1)[::-1] / DEPTH
    near = uniform_filter(depth, 15)[8:-8:5, 8:-8:5]
    asked = uniform_filter(np.repeat(np.repeat(tone, 2, 0), 2, 1), 15)[8:-8:5, 8:-8:5]
    assert np.corrcoef(near.ravel(), asked.ravel())[0, 1] >= 0.97


def test_rows_stand_as_far_apart_as_handbooks_say():
    """s = 2 sqrt(2 R h - h2), and a printed table of steps; on a round bar the ridge itself by two circles."""
    for radius, ridge, step in ((3.0, 0.005, 0.3462657939), (1.5, 0.01, 0.3458323293)):
        assert row_step(Tool(form=Form.BALL, diameter_mm=2 * radius), ridge) == pytest.approx(step, abs=1e-9)
    for radius, bar in ((0.5, 22.0), (1.5, 10.0)):
        step = row_step(Tool(form=Form.BALL, diameter_mm=2 * radius), 0.0025, bar)
        c, half = bar + radius, step / bar / 2
        ridge = c * math.cos(half) - math.sqrt(radius**2 - (c * math.sin(half)) ** 2) - bar
        assert ridge == pytest.approx(0.0025, rel=0.02)
    cone = Tool(tip_mm=0.2, angle_deg=60.0)
    assert row_step(cone, 0.01) == pytest.approx(0.2 + 2 * 0.01 * math.tan(math.radians(30)))
    assert row_step(Tool(form=Form.FLAT, diameter_mm=1.0), 0.01) == 0.5


@pytest.mark.parametrize("name", ["ovoid", "grid"])
def test_depth_is_right_at_every_latitude(name):
    """In space: the ball on its path, radially in, where the tool path puts it; the skin is looked at from its normal.

    A soft wave of depth: the deepest cut along the normal of each place of the skin against what is asked there.
    """
    layout = on(name, x=24 if name == "ovoid" else 60)
    skin = layout.skin
    wave = 0.5 + 0.35 * np.sin(np.linspace(0, 14, 260))[:, None] * np.ones(50)
    drawing = picture(wave, 5.0)
    strokes = style(depth_mm=0.4).mark(drawing, layout).strokes
    laid = lay(strokes, layout, depth_mm=0.4, tolerance=Tolerance())
    common = {"passes": 1, "step_mm": None, "feed_mm_min": 1.0, "plunge_mm_min": 1.0, "art": 0}
    runs = cut(laid, skin, BALL, depth_mm=0.4, tolerance=Tolerance(), **common)
    rng = np.random.default_rng(1)
    uv = np.column_stack([rng.uniform(-1.5, 1.5, 250), rng.uniform(-11.5, 11.5, 250)])
    x, theta = layout.wrap(uv)
    r, (r_x, r_t) = skin.radius(x, theta), skin.slopes(x, theta)
    radial = np.stack([np.zeros(len(x)), np.cos(theta), np.sin(theta)], 1)
    around = np.stack([np.zeros(len(x)), -np.sin(theta), np.cos(theta)], 1)
    place = np.array([1.0, 0, 0]) * x[:, None] + radial * r[:, None]
    normal = radial - r_x[:, None] * np.array([1.0, 0, 0]) - (r_t / r)[:, None] * around
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    inside = np.ones(len(runs.x_mm) - 1, bool)
    inside[runs.run_offsets[1:-1] - 1] = False
    moves = np.column_stack([runs.x_mm, runs.theta_rad, runs.r_mm])
    step = np.diff(moves, axis=0)[inside]
    parts = np.ceil(np.hypot(step[:, 0], 22 * step[:, 1]) / 0.05).astype(int) + 1
    t = np.concatenate([np.linspace(0, 1, n) for n in parts])
    track = np.repeat(moves[:-1][inside], parts, axis=0) + t[:, None] * np.repeat(step, parts, axis=0)
    middle = track[:, 2] + R
    balls = np.stack([track[:, 0], middle * np.cos(track[:, 1]), middle * np.sin(track[:, 1])], 1)
    asked = 0.4 * drawing.darkness.at(uv)
    got = np.zeros(len(uv))
    for k, beside in enumerate(cKDTree(balls).query_ball_point(place, 1.2 * R)):
        near = balls[beside] - place[k]
        up = near @ normal[k]
        aside = (near**2).sum(axis=1) - up**2
        held = aside < R**2
        got[k] = (np.sqrt(R**2 - aside[held]) - up[held]).max()
    assert (got - asked).max() <= 0.002
    assert (asked - got).max() <= 0.011  # the ridge, and the tool path's own tolerance of 0.006 mm


def test_rough_rows_go_down_step_by_step_leave_the_stock_and_are_the_clearing_tools():
    end = Tool(id="end", form=Form.FLAT, diameter_mm=2.0)
    drawing = picture(soft(), 12.0)
    marked = style(rough_step_mm=0.15, stock_mm=0.1, clearing=end).mark(drawing, FLAT)
    strokes = marked.strokes
    rough = np.flatnonzero(strokes.clears)
    assert 0 < len(rough) < len(strokes)
    assert not strokes.reversible[rough].any()
    assert strokes.reversible[~strokes.clears].all()
    for k in rough:
        here = slice(*strokes.line.offsets[k : k + 2])
        depth, points = DEPTH * strokes.share[here], strokes.line.points[here]
        u = points[:, 0]
        turns = np.flatnonzero(np.diff(np.sign(np.diff(u[np.concatenate([[True], np.diff(u) != 0])]))) != 0)
        passes = len(turns) + 1
        assert depth.max() <= 0.15 * passes + 1e-9
        # the flat end, let down square, leaves the stock everywhere under it
        ring = np.stack([np.cos(np.arange(0, 6.3, 0.3)), np.sin(np.arange(0, 6.3, 0.3))], 1)
        for q in (0.0, 0.5, 1.0):
            under = (points[:, None] + q * ring).reshape(-1, 2)
            asked = DEPTH * drawing.darkness.at(under).reshape(len(points), -1)
            assert (depth[:, None] - asked + 0.1).max() <= 0.008  # of the stock of 0.1: the field's own nodes
    plain = style(rough_step_mm=0.15).mark(drawing, FLAT).strokes
    assert plain.clears is None
    assert (~plain.reversible).sum() > 0


def test_a_drawing_is_as_deep_as_its_regions_and_its_lines_are_drawn():
    square = np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]])
    drawing = Drawing(
        width_mm=12, height_mm=12, rings=Ragged.of([square]), lines=Ragged.of([np.array([[-6.0, -6], [6, -6]])])
    )
    strokes = style().mark(drawing, FLAT).strokes
    assert np.array_equal(strokes.line[len(strokes) - 1], drawing.lines.points)
    depth = carved(strokes, (-3.0, -3, 3, 3))
    assert depth.min() > DEPTH - 0.0065
    assert depth.max() <= DEPTH + 1e-9


def test_the_same_art_gives_the_same_strokes_and_no_art_none():
    drawing, layout = picture(soft(60), 6.0, turn_rad=0.4), on("grid")
    one, other = (style().mark(drawing, layout).strokes for _ in range(2))
    assert one.line.points.tobytes() == other.line.points.tobytes()
    assert one.share.tobytes() == other.share.tobytes()
    for nothing in (Drawing(width_mm=5, height_mm=5), picture(np.zeros((8, 8)), 5.0)):
        marked = style(rough_step_mm=0.2).mark(nothing, FLAT)
        assert not len(marked.strokes)
        assert [f.code for f in marked.findings] == ["no-strokes"]


def test_art_whose_corners_all_lie_beside_the_blank_is_refused_as_off_its_end():
    low, high = SKINS["cylinder"].x_range_mm
    long = picture(np.full((60, 1), 0.5), (high - low) / 40)
    with pytest.raises(LayoutError, match="off the end"):
        style(scallop_mm=0.1).mark(long, on("cylinder"))


@pytest.mark.parametrize("name", ["cylinder", "ovoid", "grid"])
@pytest.mark.parametrize("drawn", ["picture", "regions"])
def test_too_many_rows_are_refused_before_any_is_made(name, drawn, monkeypatch):
    """The length that is told is no more than that of the rows, and most of it where the art falls gently."""
    square = np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]])
    regions = Drawing(width_mm=8, height_mm=8, rings=Ragged.of([square]))
    gentle = picture(gaussian_filter(scene(120), 20), 8.0, turn_rad=0.4)
    drawing, layout, relief = gentle if drawn == "picture" else regions, on(name), style(scallop_mm=0.02)
    found = []
    monkeypatch.setattr(
        "engine.marking.relief.straight", lambda *given, **words: found.append(straight(*given, **words)) or found[0]
    )
    relief.mark(drawing, layout)
    long_mm = float(found[0].whole().way_mm.sum())
    monkeypatch.setattr("engine.marking.rows.MOST_SAMPLES", 100)
    monkeypatch.setattr("engine.marking.relief.asked_depths", None)
    monkeypatch.setattr(Darkness, "of_rings", None)
    with pytest.raises(MarkingError, match="higher ridges") as caught:
        relief.mark(drawing, layout)
    assert caught.value.where == "marking/scallop_mm"
    told = 1000.0 * float(caught.value.message.split()[4].replace(",", ""))
    assert 0.45 * long_mm <= told <= 1.02 * long_mm


def test_what_is_no_relief_is_refused():
    for wrong in (
        {"scallop_mm": 0.0},
        {"scallop_mm": math.nan},
        {"scallop_mm": 0.7},
        {"rough_step_mm": 0.0},
        {"stock_mm": -0.1},
        {"angle_deg": math.inf},
        {"depth_mm": math.nan},
    ):
        with pytest.raises(MarkingError):
            style(**wrong)


def test_the_document_names_a_clearing_tool_and_works_out_its_step():
    doc = deepcopy(LEAST)
    doc["artwork"][0] |= {"marking": {"style": "relief", "clearing_tool": "end"}, "tool": "ball-1"}
    doc["tools"] = [{"id": "end", "form": "flat", "diameter_mm": 3.0}]
    item = read_job(doc, known=KNOWN).items[0]
    assert item.style.clearing.id == "end"
    assert item.style.rough_step_mm == 0.75
    doc["artwork"][0]["marking"] = {"style": "relief"}
    assert read_job(doc, known=KNOWN).items[0].style.rough_step_mm is None
