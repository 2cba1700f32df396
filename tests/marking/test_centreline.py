"""Centreline: the middle of thin shapes, against the lines that the shapes were made from."""

import numpy as np
import shapely

from engine.artwork import Drawing
from engine.layout import Placement, lay_out
from engine.marking import Centreline
from tests.blank.skins import SKINS
from tests.marking import referee

FLAT = lay_out(SKINS["cylinder"], Placement(x_mm=45))


def moved(shape, drawing_of):
    """A shape as it lies in the drawing that was made of another, about that one's middle."""
    x0, y0, x1, y1 = drawing_of.bounds
    return shapely.affinity.translate(shape, -(x0 + x1) / 2, -(y0 + y1) / 2)


def test_thick_smooth_curves_give_back_the_line_they_were_made_from():
    """Ends included: a buffer's round end is where a round pen of its width would end."""
    rng = np.random.default_rng(1)
    done = 0
    while done < 12:
        line, half = shapely.LineString(referee.smooth_curve(rng)), rng.uniform(0.3, 0.8)
        thick = line.buffer(half, quad_segs=32)
        even = abs(thick.area - (2 * half * line.length + np.pi * half**2)) < 0.005 * thick.area
        if not line.is_simple or len(thick.interiors) or not even:
            continue
        done += 1
        strokes = Centreline().mark(referee.drawing_of(thick), FLAT).strokes
        assert len(strokes) == 1
        assert max(referee.hausdorff(shapely.LineString(strokes.line[0]), moved(line, thick))) < 0.02


def test_same_art_same_strokes_and_empty_art_none():
    drawing = referee.drawing_of(referee.glyph(referee.face(), "R", 8))
    one, two = (Centreline().mark(drawing, FLAT).strokes for _ in range(2))
    assert np.array_equal(one.line.points, two.line.points)
    assert (one.share == 1).all()
    empty = Centreline().mark(Drawing(width_mm=5, height_mm=5), FLAT)
    assert (len(empty.strokes), [f.code for f in empty.findings]) == (0, ["no-strokes"])
