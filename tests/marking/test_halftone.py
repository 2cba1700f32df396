"""Tone by the width of rows: as dark as asked, step by step, at every latitude, in linear light."""

import math
import re
from copy import deepcopy
from itertools import pairwise

import numpy as np
import pytest
from scipy.ndimage import uniform_filter
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.blank import Cone, Cylinder
from engine.job import read_job
from engine.kernel.errors import JobError, MarkingError
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged, parts_of
from engine.kernel.values import Form, Tool
from engine.layout import Placement, Projection, lay_out
from engine.marking import Halftone
from engine.marking.groove import depth_of, width_of
from tests.blank.skins import SKINS
from tests.job.documents import KNOWN, LEAST
from tests.marking.contract import BUMPY, in_space, middle, on
from tests.marking.tone_art import cone_width, opened, opened_in_space, picture, scene, wedge
from tests.toolpath.analytic import form_height

CONE, BALL = Tool(tip_mm=0.1), Tool(form=Form.BALL, diameter_mm=0.8)
RUNS = ["straight", "rings", "helix", "meridians"]


def style(lines="straight", angle=0.0, *, tool=CONE, depth=0.25, pitch=0.3):
    return Halftone(tool=tool, depth_mm=depth, pitch_mm=pitch, lines=lines, angle_deg=angle)


def asking(marking, **more):
    """The least document with another marking."""
    doc = deepcopy(LEAST)
    doc["artwork"][0] |= {"marking": marking, **more}
    return doc


@pytest.mark.parametrize("tilt", [0.0, 12.0, 33.0])
@pytest.mark.parametrize("turn", [0.0, 40.0, 90.0])
@pytest.mark.parametrize("tool", [CONE, Tool(tip_mm=0.2, angle_deg=90.0), BALL], ids=["fine", "blunt", "ball"])
def test_the_width_of_a_groove_is_that_of_the_form_in_space(tool, turn, tilt):
    """The form drawn as points, leaned, let down into a plane, and looked at along the groove."""
    lean, along, depth = math.radians(tilt), math.radians(turn), 0.13
    axis, out = np.array([math.sin(lean), 0, math.cos(lean)]), np.array([math.cos(lean), 0, -math.sin(lean)])
    rho = np.linspace(0, tool.diameter_mm / 2, 1500)
    phi = np.linspace(0, 2 * math.pi, 720, endpoint=False)[:, None, None]
    round_it = np.cos(phi) * out + np.sin(phi) * np.array([0.0, 1, 0])
    form = (rho[:, None] * round_it + form_height(tool, rho)[:, None] * axis).reshape(-1, 3)
    sunk = form[form[:, 2] <= form[:, 2].min() + depth]
    side = sunk @ np.array([-math.sin(along), math.cos(along), 0.0])
    rise = np.array([math.sin(lean) * math.cos(along)])
    width = width_of(tool, depth, np.array([math.cos(lean)]), rise)
    # where a flank hangs over, the lower rim of the tip's flat reaches a little further than the wedge
    assert width[0] == pytest.approx(float(np.ptp(side)), abs=0.003 if tilt < 30 else 0.006)
    assert depth_of(tool, width, np.array([math.cos(lean)]), rise)[0] == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize(
    ("lines", "angle"), [("straight", 0), ("straight", 30), ("straight", 90), ("rings", 0), ("helix", 0)]
)
def test_sixteen_greys_come_out_as_asked(lines, angle):
    drawing, asked = wedge()
    strokes = style(lines, angle).mark(drawing, on("cylinder")).strokes
    image = opened(strokes, cone_width(CONE, 0.25 * strokes.share), (-16, -3, 16, 3))
    got = np.array([image[40:-40, 200 * k + 40 : 200 * k + 160].mean() for k in range(16)])
    assert np.abs(got - asked).max() <= 0.04
    assert (np.diff(got) > 0).all()


@pytest.mark.parametrize(("lines", "angle"), [("straight", 45), ("rings", 0), ("meridians", 0), ("helix", 0)])
@pytest.mark.parametrize("name", ["ovoid", "grid"])
def test_dark_is_right_at_every_latitude(name, lines, angle):
    """The tool let down in space; the cells of the skin are weighed by their true area."""
    layout = on(name, x=28 if name == "ovoid" else 60)
    drawing = picture(np.full((130, 20), 0.6), 5.0)
    strokes = style(lines, angle).mark(drawing, layout).strokes
    rng = np.random.default_rng(2)
    edges = np.linspace(-15.6, 15.6, 5)
    bands = [np.column_stack([rng.uniform(-2, 2, 3000), rng.uniform(a, b, 3000)]) for a, b in pairwise(edges)]
    uv = np.concatenate(bands)
    E, F, G = layout.tensor(uv).T
    area = np.sqrt(E * G - F * F).reshape(4, -1)
    open_ = opened_in_space(strokes, layout, CONE, 0.25, uv).reshape(4, -1)
    got = (open_ * area).sum(axis=1) / area.sum(axis=1)
    assert np.abs(got - 0.6).max() <= 0.04


@pytest.mark.parametrize("tool", [CONE, BALL], ids=["cone", "ball"])
def test_faint_tones_are_dashes_that_are_as_dark_as_asked_on_a_slope(tool):
    layout = on("ovoid", x=28)
    strokes = style(angle=30, tool=tool).mark(picture(np.full((130, 24), 0.2), 6.0), layout).strokes
    assert len(strokes) > 200
    for low, high in ((-15.6, -11), (-8, 8), (11, 15.6)):  # towards both ends the skin leans by twenty degrees and more
        uv = np.random.default_rng(3).uniform([-2.4, low], [2.4, high], (4000, 2))
        E, F, G = layout.tensor(uv).T
        area = np.sqrt(E * G - F * F)
        got = (opened_in_space(strokes, layout, tool, 0.25, uv) * area).sum() / area.sum()
        assert got == pytest.approx(0.2, abs=0.04)


def test_local_means_follow_a_photograph():
    tone = scene()
    strokes = style(angle=30).mark(picture(tone, 24.0), on("cylinder")).strokes
    image = opened(strokes, cone_width(CONE, 0.25 * strokes.share), (-12, -12, 12, 12), side=0.02)[::-1]
    near = uniform_filter(image.astype(float), 75)[40:-40:25, 40:-40:25]
    asked = uniform_filter(np.repeat(np.repeat(tone, 5, 0), 5, 1), 75)[40:-40:25, 40:-40:25]
    assert np.corrcoef(near.ravel(), asked.ravel())[0, 1] >= 0.97
    assert abs(near.mean() - asked.mean()) < 0.01


def test_a_helix_goes_round_in_one_stroke_where_the_art_does():
    layout = on("cylinder")
    around = math.pi * 40
    drawing = picture(np.full((40, 400), 0.6), around)
    strokes = style("helix").mark(drawing, layout).strokes
    assert len(strokes) == 1
    turns = np.ptp(strokes.line.points[:, 0]) / around
    assert turns == pytest.approx(around / 10 / 0.3, abs=1.0)
    assert (np.diff(strokes.line.points[:, 0]) > 0).all()
    # each turn a pitch further on
    at = np.arange(0, turns - 1.01)[:, None] * around + strokes.line.points[0, 0]
    v = np.interp(at.ravel(), *strokes.line.points.T)
    assert np.diff(v) == pytest.approx(0.3, rel=2e-3)


def test_rings_stand_at_one_station_whatever_the_projection():
    layout = on("ovoid", Projection.CONFORMAL, x=30)
    strokes = style("rings").mark(picture(np.full((40, 40), 0.6), 12.0), layout).strokes
    x, _ = layout.wrap(strokes.line.points)
    spread = np.maximum.reduceat(x, strokes.line.offsets[:-1]) - np.minimum.reduceat(x, strokes.line.offsets[:-1])
    assert spread.max() < 1e-3
    assert len(strokes) > 30


def test_meridians_stand_at_one_angle():
    layout = on("ovoid", Projection.FROM_VIEW, x=30)
    strokes = style("meridians").mark(picture(np.full((40, 40), 0.6), 12.0), layout).strokes
    _, theta = layout.wrap(strokes.line.points)
    first = strokes.line.offsets[:-1]
    assert (np.maximum.reduceat(theta, first) - np.minimum.reduceat(theta, first)).max() < 1e-3


def test_what_the_depth_cannot_open_is_held_and_told_with_the_pitch_that_would_reach_it():
    layout = on("cylinder")
    marked = style(depth=0.1, pitch=0.4).mark(picture(np.full((40, 40), 0.9), 10.0), layout)
    (told,) = marked.findings
    assert (told.code, told.severity) == ("tone-held", Severity.WARNING)
    widest = 0.1 + 0.2 * math.tan(math.radians(30))
    assert f"opens {100 * widest / (10.0 / 26):.0f} %" in told.message  # 26 rows fill 10 mm, 25 are too few by MARGIN
    reaching = float(re.search(r"a pitch of ([\d.]+) mm", told.advice)[1])
    assert reaching == pytest.approx(widest / 0.9, rel=5e-3)
    again = style(depth=0.1, pitch=reaching)
    assert again.mark(picture(np.full((40, 40), 0.9), 10.0), layout).findings == ()
    assert marked.strokes.share.max() <= 1.0


def test_a_drawing_is_as_dark_as_its_regions():
    square = np.array([[-4.0, -4], [4, -4], [4, 4], [-4, 4], [-4, -4]])
    line = np.array([[-6.0, -6], [6, -6]])
    drawing = Drawing(width_mm=12, height_mm=12, rings=Ragged.of([square]), lines=Ragged.of([line]))
    strokes = style().mark(drawing, on("cylinder")).strokes
    image = opened(strokes, cone_width(CONE, 0.25 * strokes.share), (-8, -8, 8, 8), side=0.02)
    assert image[220:580, 220:580].mean() > 0.99
    assert image.sum() * 0.02**2 == pytest.approx(64 + 12 * cone_width(CONE, 0.25), rel=0.03)
    assert np.array_equal(strokes.line[len(strokes) - 1], line)


def test_only_lines_and_no_art_at_all():
    lines = Drawing(width_mm=5, height_mm=5, lines=Ragged.of([np.array([[-2.0, 0], [2, 0]])]))
    assert len(style().mark(lines, on("cylinder")).strokes) == 1
    for drawing in (Drawing(width_mm=5, height_mm=5), picture(np.zeros((8, 8)), 5.0)):
        marked = style().mark(drawing, on("cylinder"))
        assert not len(marked.strokes)
        assert [f.code for f in marked.findings] == ["no-strokes"]


@pytest.mark.parametrize("lines", RUNS)
def test_the_same_art_gives_the_same_strokes_and_no_place_beside_it(lines):
    drawing = picture(scene(60), 14.0, turn_rad=0.3)
    layout = lay_out(Cylinder(diameter_mm=40, length_mm=90), Placement(x_mm=45))
    one, other = (style(lines).mark(drawing, layout).strokes for _ in range(2))
    assert one.line.points.tobytes() == other.line.points.tobytes()
    assert one.share.tobytes() == other.share.tobytes()
    c, s = math.cos(0.3), math.sin(0.3)
    flat = one.line.points @ np.array([[c, -s], [s, c]])
    assert np.abs(flat).max() <= 7.0 + 1e-6
    assert (one.share > 0).all() and one.share.max() <= 1.0


def test_what_cannot_draw_a_tone_is_refused(monkeypatch):
    with pytest.raises(MarkingError, match="flat end"):
        style(tool=Tool(form=Form.FLAT, diameter_mm=1.0))
    for wrong in ({"pitch": 0.0}, {"pitch": math.nan}, {"pitch": 0.05}, {"depth": 0.005}, {"angle": math.inf}):
        with pytest.raises(MarkingError):
            style(**wrong)
    monkeypatch.setattr("engine.marking.rows.MOST_SAMPLES", 1_500)
    some, more = (picture(np.ones((9, 9)), side) for side in (4.0, 6.0))  # 13 rows of 80 samples, 20 of 120
    assert len(style().mark(some, on("cylinder")).strokes)
    with pytest.raises(MarkingError, match="wider pitch"):
        style().mark(more, on("cylinder"))


def test_the_document_works_out_the_pitch_and_refuses_a_flat_end_at_the_tool():
    job = read_job(asking({"style": "halftone", "lines": "helix"}), known=KNOWN)
    assert job.items[0].style.pitch_mm == pytest.approx(job.items[0].tool.width_mm(job.items[0].depth_mm), abs=1e-4)
    flat = {"id": "end", "form": "flat", "diameter_mm": 1.0}
    with pytest.raises(JobError) as caught:
        read_job(asking({"style": "halftone"}, tool="end") | {"tools": [flat]}, known=KNOWN)
    assert [p.pointer for p in caught.value.problems] == ["/artwork/0/tool"]


@pytest.mark.parametrize(("lines", "angle"), [("straight", 30), ("rings", 0), ("meridians", 0), ("helix", 0)])
@pytest.mark.parametrize("name", [*sorted(SKINS), "bumpy"])
def test_rows_are_nowhere_farther_apart_on_the_skin_than_the_pitch_nor_under_half_of_it(name, lines, angle):
    """In space: from any place inside the art to the nearest row half a pitch at most; from row to row over 0.45."""
    layout = middle(BUMPY if name == "bumpy" else SKINS[name])
    strokes = style(lines, angle, depth=0.5, pitch=0.5).mark(picture(np.full((28, 28), 0.98), 14.0), layout).strokes
    far, near = spacing(strokes, layout, (7.0, 7.0))
    assert far <= 0.25 * 1.01
    assert near >= 0.45 * 0.5


@pytest.mark.parametrize(("lines", "angle"), [("straight", 90), ("meridians", 0)])
def test_rows_are_dropped_where_a_neck_narrows_and_what_is_left_stands_no_farther_apart(lines, angle):
    """A gourd's neck, two and a half times as wide at one end of the art as at the other: every second row ends."""
    layout = lay_out(Cone(diameter_mm=14, end_diameter_mm=60, length_mm=60), Placement(x_mm=30, angle_deg=40))
    pen = style(lines, angle, depth=0.5, pitch=0.5)
    strokes = pen.mark(picture(np.full((160, 32), 0.98), 8.0), layout).strokes
    low, high = (layout.skin.radius(*layout.wrap(np.array([[0.0, v]])))[0] for v in (-19.0, 19.0))
    assert high > 2.1 * low
    far, near = spacing(strokes, layout, (4.0, 20.0))
    assert far <= 0.25 * 1.01
    assert near >= 0.45 * 0.5
    grey = pen.mark(picture(np.full((160, 32), 0.6), 8.0), layout).strokes
    uv = np.random.default_rng(3).uniform([-3.0, -19], [3.0, 19], (9000, 2))
    E, F, G = layout.tensor(uv).T
    area = np.sqrt(E * G - F * F)
    for band in (uv[:, 1] < -8, np.abs(uv[:, 1]) < 8, uv[:, 1] > 8):
        got = (opened_in_space(grey, layout, CONE, 0.5, uv[band]) * area[band]).sum() / area[band].sum()
        assert got == pytest.approx(0.6, abs=0.04)


def spacing(strokes, layout, half):
    """The greatest way in space from places inside the art, `half` (u, v) from its middle, to a row; the least from
    row to row.
    """
    half = np.array(half)
    inside = np.delete(np.arange(len(strokes.line.points) - 1), strokes.line.offsets[1:-1] - 1)
    a, b = strokes.line.points[inside], strokes.line.points[inside + 1]
    parts = np.ceil(np.linalg.norm(b - a, axis=1) / 0.03).astype(int) + 1
    t = np.concatenate([np.linspace(0, 1, n) for n in parts])[:, None]
    places = np.repeat(a, parts, axis=0) + t * np.repeat(b - a, parts, axis=0)
    owner = np.repeat(strokes.line.owner[inside], parts)
    cloud = in_space(layout, places)
    asked = np.random.default_rng(4).uniform(0.6 - half, half - 0.6, (4000, 2))
    far, _ = cKDTree(cloud).query(in_space(layout, asked))
    some = np.flatnonzero((np.abs(places) < half - 1).all(axis=1))[::50]
    near = min(cKDTree(cloud[owner != owner[k]]).query(cloud[k])[0] for k in some[:: max(1, len(some) // 12)])
    return far.max(), near


@pytest.mark.parametrize(
    ("tool", "steep"), [(CONE, 2 * math.tan(math.radians(30))), (BALL, None)], ids=["cone", "ball"]
)
def test_the_tip_keeps_as_near_to_its_depth_as_the_width_of_a_row_needs(tool, steep):
    """A hundredth of the pitch; a ball's chord grows by 2 (R - d) / sqrt(d (2R - d)) a depth (its derivative)."""
    steep = steep or 2 * (0.4 - 0.01) / math.sqrt(0.01 * (0.8 - 0.01))
    assert style(tool=tool, pitch=0.4).shows.chord_mm == pytest.approx(0.004 / steep, rel=0.01)
    assert style(tool=Tool(tip_mm=0.1), pitch=0.8).shows.chord_mm == pytest.approx(0.008 / (2 * math.tan(math.pi / 6)))


@pytest.mark.parametrize("drawn", [False, True], ids=["picture", "drawing"])
def test_a_wide_pitch_cuts_no_row_beyond_the_arts_edge(drawn):
    y, x = (np.mgrid[:400, :400] + 0.5) / 20 - 10
    turn = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    disc = Ragged(points=6 * np.stack([np.cos(turn), np.sin(turn)], 1), offsets=np.array([0, 400]))
    art = picture((np.hypot(x, y) < 6).astype(float), 20.0)
    art = Drawing(width_mm=20, height_mm=20, rings=disc) if drawn else art
    marked = style(depth=0.9, pitch=1.14).mark(art, on("cylinder"))
    assert len(marked.strokes) > 5
    far = np.linalg.norm(marked.strokes.line.points, axis=1).max()
    assert far <= (6.02 if drawn else 6.0 + 0.05 * math.sqrt(2))  # a picture's edge is a cell's


def test_between_the_middles_of_a_black_and_a_white_pixel_all_is_drawn_that_is_asked():
    """Two pixels 10 mm wide: the darkness falls evenly from -5 to +5, and with it the width of what is cut."""
    drawing = picture(np.array([[1.0, 0.0]]), 20.0)
    strokes = style(pitch=0.5, depth=0.4).mark(drawing, on("cylinder")).strokes
    image = opened(strokes, cone_width(CONE, 0.4 * strokes.share), (-10, -5, 10, 5), side=0.02)[::-1]
    shares = [image[:, round((10 + u) / 0.02) - 50 : round((10 + u) / 0.02) + 50].mean() for u in (-3, -1, 1, 3)]
    assert shares == pytest.approx([0.8, 0.6, 0.4, 0.2], abs=0.05)


@pytest.mark.parametrize("high", [6.0, 5.9, 5.6, 1.1])
@pytest.mark.parametrize("tool", [CONE, BALL], ids=["cone", "ball"])
def test_a_black_plate_is_black_to_its_edges(tool, high):
    """Whatever its height: the strips that the rows stand for fill it, so that no bare one is left beside the last."""
    drawing = picture(np.ones((round(high * 20), 160)), 8.0)
    layout = on("cylinder")
    strokes = style(tool=tool, depth=0.4, pitch=0.4).mark(drawing, layout).strokes
    v = strokes.line.points[:, 1]
    assert [v.min(), v.max()] == pytest.approx([-0.5 * high + 0.2, 0.5 * high - 0.2], abs=0.06)
    rows = np.unique(np.round(v, 6))
    assert rows[0] + 0.5 * high == pytest.approx(0.5 * np.diff(rows)[0], abs=1e-5) if len(rows) > 1 else True


@pytest.mark.parametrize("lines", ["straight", "helix"])
def test_what_is_drawn_does_not_hang_on_how_many_rows_are_made_at_a_time(lines, monkeypatch):
    drawing, layout = picture(np.linspace(0, 1, 900).reshape(30, 30), 9.0), on("ovoid")
    once = style(lines, depth=0.1).mark(drawing, layout)
    monkeypatch.setattr("engine.marking.sampling.parts_of", lambda size: parts_of(size, 1))
    again = style(lines, depth=0.1).mark(drawing, layout)
    assert again.strokes.line.offsets.tolist() == once.strokes.line.offsets.tolist()
    assert again.strokes.line.points == pytest.approx(once.strokes.line.points, abs=1e-9)
    assert again.strokes.share == pytest.approx(once.strokes.share, abs=1e-9)
    assert again.findings == once.findings and "tone-held" in {f.code for f in once.findings}
