"""What is told of lines in a style that fills areas: closed ones that are not filled, and open ones."""

import numpy as np
import pytest
import shapely

from engine.artwork import Drawing
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged
from engine.marking import STYLES, Outline, judge_lines
from tests.blank.skins import SKINS
from tests.marking.contract import middle, ring
from tests.marking.test_contract import style_of

FILLING = {"hatch", "rings", "halftone", "stipple", "relief", "v-depth"}
DISC, SHUT, OPEN = ring(90, 3.0), ring(60, 2.0, (8, 0)), np.array([[-8.0, 3], [-5, 4]])
LAYOUT = middle(SKINS["cylinder"])


def drawing(rings=(), lines=()):
    return Drawing(width_mm=20, height_mm=10, rings=Ragged.of(list(rings)), lines=Ragged.of(list(lines)))


def told(art, style):
    return judge_lines(art, LAYOUT, style.shows, name="seed (art 1)", fill="fill them")


@pytest.mark.parametrize("name", sorted(STYLES))
def test_every_style_cuts_lines_along_at_full_depth_and_fills_none(name):
    strokes = style_of(name).mark(drawing(lines=[SHUT, OPEN]), LAYOUT).strokes
    assert len(strokes) == 2 and strokes.share.min() == 1.0
    for k, line in enumerate((SHUT, OPEN)):
        assert shapely.hausdorff_distance(shapely.LineString(strokes.line[k]), shapely.LineString(line)) < 1e-9


@pytest.mark.parametrize("name", sorted(STYLES))
def test_a_style_that_fills_counts_the_lines_that_it_does_not_fill(name):
    style = style_of(name)
    found = told(drawing([DISC], [OPEN, SHUT, SHUT + [0, 5]]), style)
    assert [finding.code for finding in found] == ["lines-cut-along"] * (name in FILLING)
    for finding in found:
        assert finding.severity is Severity.NOTE
        assert finding.message.startswith("2 closed lines that are not filled and 1 open line of seed (art 1) are cut")
        assert "fill them" in finding.advice and "outline or centreline" in finding.advice
        x, theta = LAYOUT.wrap(SHUT[:1])
        assert finding.where.x_mm == pytest.approx(x[0], abs=1e-3)
        assert finding.where.angle_deg == pytest.approx(np.degrees(theta[0]) % 360, abs=1e-3)


@pytest.mark.parametrize(
    ("art", "words"),
    [
        (drawing([DISC]), ""),
        (drawing([DISC], [DISC]), ""),  # filled, and its edge drawn too
        (drawing([DISC], [ring(30, 1.0)]), ""),  # a line on the filled
        (
            drawing([DISC], [ring(90, 3.5)]),
            "1 closed line that is not filled of seed (art 1) is",
        ),  # round what is filled
        (drawing([DISC], [SHUT]), "1 closed line that is not filled of seed (art 1) is"),
        (drawing([], [SHUT]), "1 closed line that is not filled of seed (art 1) is"),
        (drawing([], [OPEN]), "1 open line of seed (art 1) is"),
        (drawing([], [OPEN, OPEN + 1]), "2 open lines of seed (art 1) are"),
        (
            drawing([DISC, ring(60, 2.0, turn=-1)], [ring(60, 1.5)]),
            "1 closed line that is not filled of seed (art 1) is",
        ),  # in a hole
    ],
)
def test_what_an_area_covers_is_no_line_beside_it(art, words):
    found = told(art, style_of("hatch"))
    assert len(found) == bool(words)
    assert not words or f"{words} cut along" in found[0].message


@pytest.mark.parametrize("shift", [-0.2, 0.2])
def test_beside_the_edge_every_line_is_told_since_none_has_an_inside(shift):
    """A line on the very edge of an area too: it is cut there, beside the edge that was moved."""
    beside = Outline(shift_mm=shift)
    for art, words in (
        (drawing([], [SHUT]), "1 closed line of seed (art 1) is cut along at full depth: only areas"),
        (drawing([DISC], [DISC, OPEN]), "1 closed line and 1 open line of seed (art 1) are"),
        (drawing([], [OPEN]), "1 open line of seed (art 1) is"),
    ):
        (found,) = told(art, beside)
        assert found.severity is Severity.NOTE and found.code == "lines-cut-along"
        assert found.message.startswith(words) and "side on the edge" in found.advice
        assert ("fill them" in found.advice) == ("closed" in words)
        assert told(art, Outline()) == ()
    assert told(drawing([DISC]), beside) == ()
