"""Hatch, crossed and kept inside; its lines' distances are judged in test_marking and test_around."""

import numpy as np
import pytest
from pydantic import TypeAdapter

from engine.artwork import Drawing
from engine.job.marking import MarkingDocument
from engine.kernel.ragged import Ragged
from engine.kernel.values import Tool
from engine.marking import Hatch, Lines
from tests.blank.skins import SKINS
from tests.marking.contract import apart, art, middle

DOCUMENT = TypeAdapter(MarkingDocument)
RINGS = Drawing(width_mm=20, height_mm=28, rings=art(0.8).rings)


def test_the_document_gives_the_style():
    """A cone of 60 degrees with a tip of 0.1 at 0.2 mm is 0.330940 mm wide (worked by hand)."""
    plain = DOCUMENT.validate_python({"style": "hatch"}).value(Tool(), 0.2)
    assert plain == Hatch(pitch_mm=0.2978)
    words = {"style": "hatch", "pitch_mm": 0.3, "lines": "helix", "keep_inside": True, "inset_mm": 0.1}
    made = DOCUMENT.validate_python(words).value(Tool(), 0.2)
    assert made.lines is Lines.HELIX and made.edge_mm == pytest.approx(0.16547, abs=1e-6)
    assert made.inset_mm == pytest.approx(0.26547, abs=1e-6)
    assert DOCUMENT.validate_python({"style": "hatch", "crossed": True}).value(Tool(), 0.2).crossed


def test_crossed_is_both_families():
    layout = middle(SKINS["ovoid"])
    both = Hatch(pitch_mm=0.5, angle_deg=20, crossed=True).mark(RINGS, layout).strokes
    one, other = (Hatch(pitch_mm=0.5, angle_deg=a).mark(RINGS, layout).strokes for a in (20, 110))
    assert np.array_equal(both.line.points, np.concatenate([one.line.points, other.line.points]))


@pytest.mark.parametrize("lines", list(Lines))
@pytest.mark.parametrize("name", sorted(SKINS))
def test_kept_inside_nothing_is_nearer_to_the_outline_than_half_the_tool(name, lines):
    layout = middle(SKINS[name])
    style = Hatch(pitch_mm=0.4, lines=lines, outline=True, edge_mm=0.3, inset_mm=0.3)
    strokes = style.mark(RINGS, layout).strokes
    far = apart(layout, strokes.line, RINGS.rings, step=0.05)
    assert far.min() > 0.3 - 0.004
    assert not style.shows.draws_rings and Hatch(pitch_mm=0.4, outline=True).shows.draws_rings


def test_an_inset_is_measured_on_the_skin_not_on_the_sheet():
    """Up an egg the sheet is wider than the skin: r0/r mm for each (1.4 at 20, 2.0 at 27), in u alone."""
    layout = middle(SKINS["ovoid"])
    box = np.array([[-5.0, 20], [5, 20], [5, 27], [-5, 27], [-5, 20]])
    drawing = Drawing(width_mm=10, height_mm=54, rings=Ragged.of([box]))
    strokes = Hatch(pitch_mm=0.3, inset_mm=0.3).mark(drawing, layout).strokes
    assert apart(layout, strokes.line, drawing.rings).min() > 0.296
    for u, v in strokes.line.points[strokes.line.points[:, 0] > 0]:
        if 20.5 < v < 26.5:
            x, theta = layout.wrap(np.array([[5, v]]))
            assert 5 - u == pytest.approx(0.3 * layout.r0_mm / float(layout.skin.radius(x, theta)[0]), abs=0.004)


def test_what_the_inset_swallows_is_told():
    told = Hatch(pitch_mm=0.3, inset_mm=1.6).mark(RINGS, middle(SKINS["cylinder"])).findings
    assert [f.code for f in told] == ["too-narrow"]
