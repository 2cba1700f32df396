"""Tone by the number of dots: as dark as asked on every skin, spread evenly on it, the same for the same seed."""

import math
from copy import deepcopy
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import uniform_filter
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.job import read_job
from engine.kernel.errors import JobError, MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.values import Form, Tool
from engine.layout import Projection
from engine.marking import Stipple, stipple
from engine.marking.blue_noise import spread_dots
from engine.marking.stipple import COVERS
from tests.job.documents import KNOWN, LEAST
from tests.marking.contract import in_space, on
from tests.marking.tone_art import opened, opened_in_space, picture, scene, wedge

CONE = Tool(tip_mm=0.05)
DOT, DEPTH = 0.2, 0.15


def style(**words):
    return Stipple(**{"tool": CONE, "depth_mm": DEPTH, "dot_mm": DOT} | words)


@pytest.mark.parametrize("seed", [1, 5])
def test_sixteen_greys_come_out_as_asked(seed):
    drawing, asked = wedge(height_mm=8.0)
    strokes = style(seed=seed).mark(drawing, on("cylinder")).strokes
    assert (strokes.line.sizes == 1).all()
    image = opened(strokes, np.full(len(strokes), DOT), (-16, -4, 16, 4))
    got = np.array([image[40:-40, 200 * k + 40 : 200 * k + 160].mean() for k in range(16)])
    assert np.abs(got - asked).max() <= 0.04
    assert (np.diff(got) > 0).all()


@pytest.mark.parametrize("projection", [Projection.EQUIDISTANT, Projection.FROM_VIEW], ids=lambda p: p.value)
@pytest.mark.parametrize("name", ["ovoid", "grid"])
def test_dark_is_right_at_every_latitude(name, projection):
    """The tool let down in space at every dot; places of the skin are weighed by their true area."""
    layout = on(name, projection, x=28 if name == "ovoid" else 60)
    for dark in (0.25, 0.7):
        strokes = style().mark(picture(np.full((130, 20), dark), 5.0), layout).strokes
        rng = np.random.default_rng(2)
        bands = [
            np.column_stack([rng.uniform(-2, 2, 3000), rng.uniform(a, b, 3000)])
            for a, b in pairwise(np.linspace(-15.6, 15.6, 5))
        ]
        uv = np.concatenate(bands)
        E, F, G = layout.tensor(uv).T
        area = np.sqrt(E * G - F * F).reshape(4, -1)
        cut = opened_in_space(strokes, layout, CONE, DEPTH, uv).reshape(4, -1)
        got = (cut * area).sum(axis=1) / area.sum(axis=1)
        assert np.abs(got - dark).max() <= 0.04


def test_dots_keep_apart_on_the_skin_as_far_along_it_as_around():
    """On an egg, in space: nearest neighbours against the distance in a hexagonal lattice of as many dots; and no way
    is preferred, though the sheet stretches one of them by a third.
    """
    layout = on("ovoid", Projection.EQUIDISTANT, x=28)
    strokes = style().mark(picture(np.full((112, 32), 0.35), 16.0), layout).strokes
    uv = strokes.line.points
    E, _, G = layout.tensor(uv).T
    inner = (np.abs(uv[:, 0]) < 7) & (uv[:, 1] > 18) & (uv[:, 1] < 27)
    far, near = cKDTree(in_space(layout, uv)).query(in_space(layout, uv)[inner], k=2)
    dots = np.interp(0.35, COVERS[:, 1], COVERS[:, 0]) / (math.pi / 4 * DOT**2)
    lattice = math.sqrt(2.0 / (math.sqrt(3.0) * dots))
    assert np.percentile(far[:, 1], 5) > 0.55 * lattice
    assert far[:, 1].mean() > 0.75 * lattice
    step = uv[near[:, 1]] - uv[inner]
    across, along = np.abs(step[:, 0]) * np.sqrt(E[inner]), np.abs(step[:, 1]) * np.sqrt(G[inner])
    assert np.median(np.sqrt(G[inner] / E[inner])) > 1.2
    assert across.mean() / along.mean() == pytest.approx(1.0, abs=0.1)


def test_local_means_follow_a_photograph():
    tone = scene()
    strokes = style().mark(picture(tone, 24.0), on("cylinder")).strokes
    image = opened(strokes, np.full(len(strokes), DOT), (-12, -12, 12, 12), side=0.02)[::-1]
    near = uniform_filter(image.astype(float), 75)[40:-40:25, 40:-40:25]
    asked = uniform_filter(np.repeat(np.repeat(tone, 5, 0), 5, 1), 75)[40:-40:25, 40:-40:25]
    assert np.corrcoef(near.ravel(), asked.ravel())[0, 1] >= 0.97
    assert abs(near.mean() - asked.mean()) < 0.02


@pytest.mark.parametrize("level", [0.3, 1.0, 1.4])
def test_what_dots_cover_is_as_the_table_says(level):
    """Dots spread at a nominal density on an even field, as an outside raster sees them."""
    n, side = 200, 0.05
    places = side * spread_dots(np.full((n, n), level * side**2 / (math.pi / 4 * DOT**2)), 3)
    strokes = style().mark(picture(np.full((2, 2), 0.5), 1.0), on("cylinder")).strokes
    held = type(strokes)(
        line=Ragged(points=places, offsets=np.arange(len(places) + 1)),
        share=np.ones(len(places)),
        reversible=np.ones(len(places), bool),
    )
    got = opened(held, np.full(len(places), DOT), (1, 1, 9, 9)).mean()
    assert got == pytest.approx(np.interp(level, *COVERS.T), abs=0.012)


def test_a_seed_gives_the_same_dots_and_another_gives_others():
    drawing, layout = picture(scene(40), 8.0, turn_rad=0.4), on("grid")
    one, same, other = (style(seed=s).mark(drawing, layout).strokes.line.points for s in (4, 4, 5))
    assert one.tobytes() == same.tobytes()
    assert len(one) == len(other)
    assert one.tobytes() != other.tobytes()
    c, s = math.cos(0.4), math.sin(0.4)
    assert np.abs(one @ np.array([[c, -s], [s, c]])).max() <= 4.0 + 1e-9


def test_a_slope_makes_dots_of_the_same_area_by_less_depth():
    strokes = style().mark(picture(np.full((60, 20), 0.4), 8.0), on("cone")).strokes
    assert strokes.share.max() < 0.9999
    level = style().mark(picture(np.full((60, 20), 0.4), 8.0), on("cylinder")).strokes
    round_it = DOT**2 / 8 * 0.5 / 20  # the skin falls away under a dot by as much on the mean: half of that around it
    deepest = ((DOT - CONE.tip_mm) / (2 * math.tan(math.radians(30))) + round_it) / DEPTH
    assert level.share == pytest.approx(deepest, abs=1e-7)
    assert strokes.share.max() < deepest


def test_a_drawing_is_as_dark_as_its_regions_and_its_lines_are_drawn():
    square = np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]])
    drawing = Drawing(
        width_mm=12, height_mm=12, rings=Ragged.of([square]), lines=Ragged.of([np.array([[-6.0, -6], [6, -6]])])
    )
    strokes = style().mark(drawing, on("cylinder")).strokes
    assert strokes.line.sizes[-1] == 2
    image = opened(strokes, np.full(len(strokes.line.points), DOT), (-8, -8, 8, 8), side=0.02)
    assert image[220:580, 220:580].mean() > 0.97


def test_no_tone_gives_no_dots_and_says_so():
    for drawing in (Drawing(width_mm=5, height_mm=5), picture(np.zeros((8, 8)), 5.0)):
        marked = style().mark(drawing, on("cylinder"))
        assert not len(marked.strokes)
        assert [f.code for f in marked.findings] == ["no-strokes"]


def test_what_cannot_be_pecked_is_refused(monkeypatch):
    with pytest.raises(MarkingError, match="flat end"):
        style(tool=Tool(form=Form.FLAT, diameter_mm=1.0))
    for wrong in ({"dot_mm": 0.5}, {"dot_mm": 0.04}, {"dot_mm": math.nan}, {"depth_mm": math.nan}, {"seed": -1}):
        with pytest.raises(MarkingError):
            style(**wrong)
    monkeypatch.setattr("engine.marking.stipple.MOST_DOTS", 2_000)
    some, more = (picture(np.ones((9, 9)), side) for side in (5.0, 6.0))  # 2.2 dots to a dot's area of 0.0314 mm2
    assert len(style().mark(some, on("cylinder")).strokes) == pytest.approx(2.2 * 25 / 0.0314, rel=0.02)
    with pytest.raises(MarkingError, match="larger dot"):
        style().mark(more, on("cylinder"))


def test_the_document_works_out_the_dot():
    doc = deepcopy(LEAST)
    doc["artwork"][0]["marking"] = {"style": "stipple"}
    item = read_job(doc, known=KNOWN).items[0]
    assert item.style.dot_mm == pytest.approx(item.tool.width_mm(item.depth_mm), abs=1e-6)
    assert item.style.seed == 1
    doc["artwork"][0]["marking"] = {"style": "stipple", "dot_mm": 3.0}
    with pytest.raises(JobError) as caught:
        read_job(doc, known=KNOWN)
    assert [p.pointer for p in caught.value.problems] == ["/artwork/0/marking/dot_mm"]


@pytest.mark.parametrize("dot", [0.6, 3.0])
@pytest.mark.parametrize(("side", "hole"), [(4.0, 1.5), (6.0, 2.0), (6.13, 1.87), (8.0, 7.0)])
def test_no_dot_stands_beside_the_art(side, hole, dot):
    """A square with a square hole in it, drawn by dots wider than its corners' raster, and wider than its own sides."""
    y, x = np.abs((np.mgrid[:400, :400] + 0.5) / 20 - 10)
    art = (np.maximum(x, y) < side) & (np.maximum(x, y) > hole)
    large = Stipple(tool=Tool(tip_mm=0.1, angle_deg=120), depth_mm=0.9, dot_mm=dot, seed=1)
    dots = large.mark(picture(art.astype(float), 20.0), on("cylinder")).strokes.line.points
    far = np.abs(dots).max(axis=1)
    assert len(dots) >= 4 * (side**2 - hole**2) / dot**2
    assert np.maximum(far - side, hole - far).max() <= 1e-9


@given(st.integers(0, 999), st.integers(1, 40), st.floats(0.5, 60))
def test_dots_lie_in_cells_that_ask_for_some_and_are_as_many_as_asked(seed, parts, dots):
    """Islands, rings and bent strips of a random raster, the dots few or many beside them."""
    rng = np.random.default_rng(seed)
    asked = uniform_filter(rng.standard_normal((30, 45)), parts % 7 + 1)
    asked = np.where(np.abs(asked) < np.quantile(np.abs(asked), 0.02 * parts), rng.random(asked.shape), 0.0)
    density = asked * (dots / asked.sum())
    places = spread_dots(density, seed)
    assert len(places) == round(density.sum())
    column, row = np.floor(places).astype(int).T
    assert (density[row, column] > 0).all()


@pytest.mark.parametrize("name", ["cylinder", "ovoid", "grid"])
@pytest.mark.parametrize("drawn", ["picture", "regions"])
def test_too_many_dots_are_refused_before_any_is_laid(name, drawn, monkeypatch):
    """What the refusal tells, to two figures, is what would have been spread, less what the edges of cells blur."""
    ring = [side * np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]]) for side in (1.0, 0.4)]
    regions = Drawing(width_mm=8, height_mm=8, rings=Ragged.of([ring[0], ring[1][::-1]]))
    drawing = picture(scene(40), 8.0, turn_rad=0.4) if drawn == "picture" else regions
    made = len(style().mark(drawing, on(name)).strokes)
    monkeypatch.setattr(stipple, "MOST_DOTS", made // 2)
    monkeypatch.setattr(Stipple, "_dots", None)
    with pytest.raises(MarkingError, match="larger dot") as caught:
        style().mark(drawing, on(name))
    told = float(caught.value.message.split()[5].replace(",", ""))
    assert 0.9 * made <= told <= 1.03 * made
    larger = float(caught.value.hint.split()[4])
    fewer = style(dot_mm=larger, depth_mm=0.4).mark
    monkeypatch.undo()
    assert len(fewer(drawing, on(name)).strokes) <= made // 2


def test_dots_that_stand_for_several_thin_bars_stand_on_one_of_them():
    """Bars 0.15 mm wide, 0.25 mm apart: the middle of what a dot of 0.6 mm stands for lies between two as often."""
    bars = [np.array([[-6, v], [6, v], [6, v + 0.15], [-6, v + 0.15], [-6, v]]) for v in np.arange(-4, 4, 0.4)]
    drawing = Drawing(width_mm=12, height_mm=8, rings=Ragged.of(bars))
    large = Stipple(tool=Tool(), depth_mm=0.9, dot_mm=0.6, seed=1)
    dots = large.mark(drawing, on("cylinder")).strokes.line.points
    beside = np.abs(np.mod(dots[:, 1] + 4, 0.4) - 0.075) - 0.075
    assert len(dots) > 50
    assert np.minimum(beside, 0.4 - 0.15 - beside).max() <= 0.02 + 1e-9


def test_dots_stand_wherever_a_coarse_picture_asks_for_some():
    """Two pixels 10 mm wide, black and white: the darkness falls evenly between their middles, to the white one's."""
    drawing = picture(np.array([[1.0, 0.0]]), 20.0)
    u = style().mark(drawing, on("cylinder")).strokes.line.points[:, 0]
    parts = [((u > low) & (u <= low + 2.5)).sum() for low in (-5, -2.5, 0, 2.5)]
    asked = np.interp(np.array([7, 5, 3, 1]) / 8, COVERS[:, 1], COVERS[:, 0])
    assert np.array(parts) / sum(parts) == pytest.approx(asked / asked.sum(), abs=0.02)


def test_art_smaller_than_a_dot_is_not_called_too_light():
    (told,) = style(dot_mm=1.0, depth_mm=1.5).mark(picture(scene(20), 0.4), on("cylinder")).findings
    assert told.code == "no-strokes" and "smaller than a dot" in told.message
