"""V-depth: what a cone carves that sinks as deep as the shape is wide, against the art itself."""

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.job.marking import VDepthDocument
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.values import Form, Tool
from engine.layout import Placement, Projection, lay_out
from engine.marking import Clearing, VDepth
from tests.blank.skins import SKINS
from tests.marking import referee
from tests.marking.contract import in_space, regions

FLAT = lay_out(SKINS["cylinder"], Placement(x_mm=45))
TAN = np.tan(np.radians(30))


def cone(depth_mm=50.0, tip_mm=0.0, **more):
    return VDepth(depth_mm=depth_mm, angle_deg=60, tip_mm=tip_mm, pitch_mm=0.1, **more)


def carved(style, strokes):
    """The region that the cone's own strokes open in a flat skin."""
    own = np.ones(len(strokes), bool) if strokes.clears is None else ~strokes.clears
    line = strokes.line.take(np.flatnonzero(own))
    share = strokes.share[np.repeat(own, strokes.line.sizes)]
    return referee.swept(line, referee.groove_mm(share * style.depth_mm, 60, style.tip_mm))


@pytest.fixture(scope="module")
def letters():
    font = referee.face()
    shapes = [referee.glyph(font, c, 10) for c in "R&3gk8W"]
    return referee.drawing_of(
        shapely.union_all([shapely.affinity.translate(s, 11 * (k % 8), 11 * (k // 8)) for k, s in enumerate(shapes)])
    )


@pytest.mark.parametrize("style", [cone(), cone(tip_mm=0.1), cone(depth_mm=0.35), cone(depth_mm=0.35, tip_mm=0.1)])
def test_letters_come_out_as_they_are_drawn(letters, style):
    """Both ways, densified: near what a disc of the tip's size can reach of the art, nothing outside."""
    art = regions(letters)
    cut = carved(style, style.mark(letters, FLAT).strokes)
    r = style.tip_mm / 2
    reached = art.buffer(-r, quad_segs=64).buffer(r, quad_segs=64) if r else art
    assert max(referee.hausdorff(reached.boundary, cut.boundary)) < 0.004
    assert cut.difference(art.buffer(0.003)).area < 1e-6


def test_a_wedge_has_the_depth_of_its_width_and_its_corners():
    """Between edges at +-a about the middle line the half-width is y cos a, whatever the method."""
    box = np.array([[-20, -0.3], [20, -2], [20, 2], [-20, 0.3], [-20, -0.3]])
    strokes = cone().mark(Drawing(width_mm=40, height_mm=4, rings=Ragged.of([box])), FLAT).strokes
    a, line = np.arctan(1.7 / 40), strokes.line
    first = np.ones(len(line.points), bool)
    first[line.offsets[1:] - 1] = False
    k = np.flatnonzero(first)
    t = np.linspace(0, 1, 200)[:, None]
    places = np.concatenate(line.points[k] + t[..., None] * (line.points[k + 1] - line.points[k]))
    depth = 50 * np.concatenate(strokes.share[k] + t * (strokes.share[k + 1] - strokes.share[k]))
    middle = (np.abs(places[:, 1]) < 1e-6) & (np.abs(places[:, 0]) < 17)
    assert middle.sum() > 100
    assert depth[middle] == pytest.approx((0.3 + (places[middle, 0] + 20) * 1.7 / 40) * np.cos(a) / TAN, abs=1e-6)
    for corner in box:
        assert np.hypot(*(line.points - corner).T).min() < 1e-9
    assert strokes.share.min() == 0


PLACES = [
    ("cone", Projection.EQUIDISTANT, 30),
    ("ovoid", Projection.EQUIDISTANT, 34),
    ("ovoid", Projection.EQUAL_AREA, 46),
    ("ovoid", Projection.TRUE_WIDTH, 40),
    ("stations", Projection.CONFORMAL, 22),
    ("grid", Projection.EQUIDISTANT, 90),
    ("grid", Projection.FROM_VIEW, 60),
]


def dense(line, step, *columns):
    """Points at most `step` apart on every run, and the columns (n,) between them."""
    out = [[] for _ in range(1 + len(columns))]
    for i, j in zip(line.offsets[:-1], line.offsets[1:], strict=True):
        p = line.points[i:j]
        s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
        at = np.unique(np.concatenate([s, np.linspace(0, s[-1], int(s[-1] / step) + 2)]))
        out[0].append(np.stack([np.interp(at, s, c) for c in p.T], 1))
        for k, column in enumerate(columns):
            out[k + 1].append(np.interp(at, s, column[i:j]))
    return [np.concatenate(part) for part in out]


@pytest.mark.parametrize(("name", "projection", "x_mm"), PLACES)
def test_flanks_touch_the_outline_on_the_skin(name, projection, x_mm):
    """Measured in space: no disc of the cut leaves the art, and every place of the outline is reached."""
    font = referee.face()
    shapes = [shapely.affinity.translate(referee.glyph(font, c, 9), 8 * k) for k, c in enumerate("Rg&")]
    drawing = referee.drawing_of(shapely.union_all(shapes))
    layout = lay_out(SKINS[name], Placement(x_mm=x_mm, angle_deg=20, projection=projection))
    style = cone(depth_mm=0.6)
    strokes = style.mark(drawing, layout).strokes
    places, share = dense(strokes.line, 0.03, strokes.share)
    places, radius = in_space(layout, places), 0.6 * share * TAN
    outline = in_space(layout, dense(drawing.rings, 0.01)[0])
    clear = cKDTree(outline).query(places)[0]
    assert (radius - clear).max() < 0.006
    apart, k = cKDTree(places).query(outline, 60)
    assert (apart - radius[k]).min(1).max() < 0.01


def test_what_is_wider_than_the_cone_reaches_is_cleared_flat():
    """Depth 0.3: the cone reaches 0.173 mm; a plate of 6 x 4 mm is bordered by a ring and cleared inside."""
    plate = Drawing(width_mm=6, height_mm=4, rings=Ragged.of([shapely.get_coordinates(shapely.box(-3, -2, 3, 2))]))
    plain = cone(depth_mm=0.3, tip_mm=0.1).mark(plate, FLAT).strokes
    assert plain.clears is None or not plain.clears.any()
    helped = cone(depth_mm=0.3, tip_mm=0.1, clearing=Clearing(pitch_mm=0.8, keep_mm=0.674, flat_mm=0.5))
    strokes = helped.mark(plate, FLAT).strokes
    assert strokes.clears.sum() == 4  # once along the wall, and the rows inside
    assert (strokes.share[np.repeat(strokes.clears, strokes.line.sizes)] == 1).all()
    rows = strokes.line.take(np.flatnonzero(strokes.clears))
    box = shapely.box(-3, -2, 3, 2)
    assert box.buffer(-0.673).covers(shapely.multipoints(rows.points))
    own = strokes.line.take(np.flatnonzero(~strokes.clears))
    deep = strokes.share[np.repeat(~strokes.clears, strokes.line.sizes)] > 1 - 1e-9
    floor = [referee.swept(own, np.where(deep, 0.1, 0)), referee.swept(rows, np.full(len(rows.points), 1.0))]
    left = box.buffer(-0.3 * TAN, join_style="mitre").buffer(-0.01).difference(shapely.union_all(floor).buffer(0.003))
    assert left.area < 0.01 * box.area
    assert len(strokes) < 0.8 * len(plain)


def test_the_document_works_out_how_near_the_second_tool_may_come():
    """A flat end stands on the floor: it keeps its own half and the wall's foot from the outline; only a cone sinks."""
    tool, flat = Tool(tip_mm=0.1), Tool(form=Form.FLAT, diameter_mm=1.0)
    style = VDepthDocument(style="v-depth").value(tool, 0.3, flat)
    assert style.clearing.keep_mm == pytest.approx(0.5 + 0.3 * TAN)
    assert (style.clearing.pitch_mm, style.clearing.flat_mm) == (0.9, 0.5)
    assert style.reach_mm == pytest.approx(0.05 + 0.3 * TAN)
    ball = VDepthDocument(style="v-depth").value(tool, 0.3, Tool(form=Form.BALL, diameter_mm=1.0)).clearing
    heights = np.linspace(0, 0.3, 1000)
    assert ball.keep_mm == pytest.approx((np.sqrt(heights * (1 - heights)) + (0.3 - heights) * TAN).max(), abs=1e-3)
    assert VDepthDocument(style="v-depth", clear_pitch_mm=0.3).value(tool, 0.3).pitch_mm == 0.3
    assert VDepthDocument(style="v-depth").value(tool, 50.0).reach_mm == pytest.approx(tool.diameter_mm / 2)
    for other in (Form.BALL, Form.FLAT):
        with pytest.raises(MarkingError) as told:
            VDepthDocument(style="v-depth").value(Tool(form=other), 0.3)
        assert told.value.where == "tool"


def test_same_art_same_strokes_empty_art_none_and_lines_at_full_depth(letters):
    one, two = (cone(depth_mm=0.3, tip_mm=0.05).mark(letters, FLAT).strokes for _ in range(2))
    assert np.array_equal(one.line.points, two.line.points)
    assert np.array_equal(one.share, two.share)
    empty = cone().mark(Drawing(width_mm=5, height_mm=5), FLAT)
    assert (len(empty.strokes), [f.code for f in empty.findings]) == (0, ["no-strokes"])
    line = np.array([[-2.0, 0], [2, 1]])
    drawn = cone().mark(Drawing(width_mm=5, height_mm=5, lines=Ragged.of([line])), FLAT).strokes
    assert np.array_equal(drawn.line.points, line)
    assert (drawn.share == 1).all()
    for words in ({"depth_mm": 0.0}, {"outline_mm": np.nan}):
        with pytest.raises(MarkingError):
            cone(**words)
