"""Laws that every style in the table keeps, on every kind of blank, as its document makes it."""

import numpy as np
import pytest
import shapely
from pydantic import TypeAdapter

from engine.artwork import Drawing
from engine.job.marking import MarkingDocument
from engine.kernel.findings import Severity
from engine.kernel.values import Tool
from engine.marking import STYLES, Depth
from engine.marking.on_art import EDGE_MM
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, art, in_space, middle, regions, widest

DEPTH_MM = 0.2
TOOL = Tool()  # the cone of a job that names none: 0.331 mm wide at that depth
READ = TypeAdapter(MarkingDocument).validate_python
ART = Drawing(width_mm=20, height_mm=28, rings=art(0.5).rings, lines=art(0.5).lines)
NAMES = [*sorted(SKINS), "bumpy"]


def style_of(name, **words):
    return READ({"style": name, **words}).value(TOOL, DEPTH_MM)


def laid(name):
    return middle(BUMPY if name == "bumpy" else SKINS[name])


def test_every_style_in_the_table_has_a_document_that_gives_it():
    for name, kind in STYLES.items():
        assert isinstance(style_of(name), kind)
        assert style_of(name) == style_of(name)


@pytest.mark.parametrize("skin", ["cylinder", "ovoid", "bumpy"])
@pytest.mark.parametrize("name", sorted(STYLES))
def test_same_art_same_strokes_within_the_art_and_no_deeper_than_asked(name, skin):
    layout, style = laid(skin), style_of(name)
    first, again = (style.mark(ART, layout).strokes for _ in range(2))
    assert len(first) > 0
    for mine, other in ((first.line.points, again.line.points), (first.share, again.share)):
        assert np.array_equal(mine, other)
    assert np.array_equal(first.line.offsets, again.line.offsets)
    assert np.isfinite(first.line.points).all() and (first.line.sizes > 0).all()
    assert first.share.max() <= 1.0
    # Where something is cut the tool's middle is in the art: what a groove opens beside it is half its width at most.
    shape = shapely.union_all([regions(ART), shapely.LineString(ART.lines.points)])
    cut = first.line.points[first.share > 0]
    within = EDGE_MM if style.shows.depth.wants_tone else 0.004
    assert shapely.distance(shapely.points(cut), shape).max() <= within


@pytest.mark.parametrize("name", sorted(STYLES))
def test_empty_art_gives_an_empty_result_and_says_so(name):
    marked = style_of(name).mark(Drawing(width_mm=5, height_mm=5), laid("cylinder"))
    assert len(marked.strokes) == 0
    assert [(f.code, f.severity) for f in marked.findings] == [("no-strokes", Severity.ERROR)]


@pytest.mark.parametrize("skin", NAMES)
@pytest.mark.parametrize(
    "words",
    [
        {"style": "hatch", "outline": True},
        {"style": "hatch", "lines": "rings", "outline": True},
        {"style": "hatch", "lines": "helix", "outline": True},
        {"style": "rings", "inset_mm": 0},
    ],
    ids=lambda words: "-".join(str(word) for word in words.values()),
)
def test_what_fills_leaves_no_place_farther_than_half_a_pitch_from_a_cut(words, skin):
    layout, style = laid(skin), style_of(**{("name" if k == "style" else k): v for k, v in words.items()})
    strokes = style.mark(ART, layout).strokes
    assert widest(strokes, layout, regions(ART)) <= 0.5 * style.pitch_mm * 1.002


@pytest.mark.parametrize("skin", NAMES)
@pytest.mark.parametrize("name", ["hatch", "rings", "outline"])
def test_what_keeps_inside_leaves_half_the_tool_to_the_outline(name, skin):
    """The styles of even depth; how far the others keep is a matter of their depth, judged in suites of their own."""
    words = {"hatch": {"keep_inside": True}, "outline": {"side": "inside"}}.get(name, {})
    layout, style = laid(skin), style_of(name, **words)
    assert style.shows.depth is Depth.EVEN
    drawing = Drawing(width_mm=20, height_mm=28, rings=ART.rings)
    space = in_space(layout, style.mark(drawing, layout).strokes.line.points)
    edge = shapely.segmentize(shapely.linestrings(drawing.rings.points, indices=drawing.rings.owner), 0.01)
    outline = in_space(layout, shapely.get_coordinates(edge))
    least = min(np.linalg.norm(outline - p, axis=1).min() for p in space[:: max(1, len(space) // 200)])
    assert least > 0.5 * TOOL.width_mm(DEPTH_MM) - 0.004
