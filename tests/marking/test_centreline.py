"""Centreline: the middle of thin shapes, against the lines that the shapes were made from."""

import math

import numpy as np
import pytest
import shapely

from engine.artwork import Drawing
from engine.blank import Cone
from engine.kernel.findings import Severity
from engine.layout import Placement, lay_out
from engine.marking import Centreline
from tests.blank.skins import SKINS
from tests.marking import referee
from tests.marking.contract import regions

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
        assert max(referee.hausdorff(shapely.LineString(strokes.line[0]), moved(line, thick))) < 0.03


def arc(cx, cy, r, first, last):
    t = np.radians(np.linspace(first, last, 60))
    return np.stack([cx + r * np.cos(t), cy + r * np.sin(t)], 1)


LINES = {  # an alphabet of our own, mm: the lines that a round pen would follow
    "T": [[(-3, 8), (3, 8)], [(0, 8), (0, 0)]],
    "X": [[(-2.5, 0), (2.5, 8)], [(-2.5, 8), (2.5, 0)]],
    "+": [[(-3, 4), (3, 4)], [(0, 0), (0, 8)]],
    "Y": [[(-3, 8), (0, 4), (3, 8)], [(0, 4), (0, 0)]],
    "K": [[(0, 0), (0, 8)], [(4, 8), (0, 3.5)], [(1.6, 5.3), (4.2, 0)]],
    "A": [[(-3, 0), (0, 8), (3, 0)], [(-1.9, 3), (1.9, 3)]],
    "V": [[(-2.6, 8), (0, 0), (2.6, 8)]],
    "E": [[(4, 8), (0, 8), (0, 0), (4, 0)], [(0, 4), (3, 4)]],
    "H": [[(0, 0), (0, 8)], [(4, 0), (4, 8)], [(0, 4), (4, 4)]],
    "Z": [[(0, 8), (5, 8), (0, 0), (5, 0)]],
    "n": [[(0, 0), (0, 5)], np.concatenate([arc(1.8, 2.2, 2.2, 145, 0), [(4, 0)]])],
    "b": [[(0, 0), (0, 8)], arc(1.2, 3, 2.2, 123.06, -123.06)],
    "R": [[(0, 0), (0, 8)], np.concatenate([[(0, 8)], arc(2, 6, 2, 90, -90), [(0, 4)]]), [(2, 4), (4, 0)]],
    "e": [np.concatenate([[(-2.5, 2.5), (2.5, 2.5)], arc(0, 2.5, 2.5, 0, 310)])],
    "y": [[(-2, 5), (0, 0)], [(2, 5), (-1.2, -3)]],
}
STROKES = {
    "T": 2,
    "X": 2,
    "+": 2,
    "Y": 2,
    "K": 3,
    "A": 2,
    "V": 1,
    "E": 2,
    "H": 3,
    "Z": 1,
    "n": 2,
    "b": 2,
    "R": 2,
    "e": 1,
    "y": 2,
}


@pytest.mark.parametrize("half", [0.3, 0.45])
def test_letters_with_forks_give_back_the_lines_of_a_round_pen(half):
    """Both ways within 0.05 mm, corners and junctions included, in as few strokes as a hand would take."""
    for letter, parts in LINES.items():
        lines = shapely.multilinestrings([shapely.LineString(p) for p in parts])
        thick = lines.buffer(half, quad_segs=32)
        line = Centreline().mark(referee.drawing_of(thick), FLAT).strokes.line
        found = shapely.multilinestrings([shapely.LineString(line[k]) for k in range(len(line))])
        assert max(referee.hausdorff(moved(lines, thick), found)) < 0.05, letter
        assert len(line) == STROKES[letter], letter


def free_ends(line):
    """Ends of strokes that meet no other stroke, nor their own beyond a millimetre."""
    count = 0
    for k in range(len(line)):
        run = line[k]
        if len(run) < 2 or np.allclose(run[0], run[-1]):
            continue
        others = [shapely.LineString(line[j]) for j in range(len(line)) if j != k and len(line[j]) > 1]
        for way in (run, run[::-1]):
            far = way[np.cumsum(np.hypot(*np.diff(way, axis=0, prepend=way[:1]).T)) > 1.0]
            near = others + ([shapely.LineString(far)] if len(far) > 1 else [])
            count += all(one.distance(shapely.Point(way[0])) > 0.02 for one in near)
    return count


# of the shipped face's upright regular, a to z, A to Z, 0 to 9: counted by eye on its pictures
ENDS = "22221413224243022324322432" + "20203324224222011223222432" + "0323221201"


def test_a_shipped_face_has_the_free_ends_that_an_eye_counts():
    """A spur is a free end too many; 2 in 100 letters are allowed, and as many may be missing."""
    font, found = referee.face(), []
    for letter, true in zip(referee.LETTERS, ENDS, strict=True):
        line = Centreline().mark(referee.drawing_of(referee.glyph(font, letter, 8)), FLAT).strokes.line
        found.append(free_ends(line) - int(true))
    assert sum(max(0, extra) for extra in found) <= 0.02 * len(ENDS)
    assert sum(max(0, -extra) for extra in found) <= 0.02 * len(ENDS)


def test_strokes_stay_in_the_art_and_meet():
    """Of every weight, slanted and upright; what ends on a stroke ends on the stroke as it is drawn."""
    for name in ("ExtraLight", "BoldIt", "BlackIt"):
        font = referee.face(f"SourceSansPro-{name}.otf")
        for letter in "AMNRWcgkrtwyS&@5":
            drawing = referee.drawing_of(referee.glyph(font, letter, 8))
            line = Centreline().mark(drawing, FLAT).strokes.line
            out = shapely.distance(regions(drawing), shapely.points(line.points))
            assert out.max() < 1e-9, (name, letter)


def test_a_dot_is_a_stroke_of_one_point_in_its_middle():
    dots = [shapely.Point(x, 1).buffer(0.5) for x in (-2, 2)]
    shape = shapely.union_all([*dots, shapely.box(-0.3, -1.5, 0.3, 0)])
    line = Centreline().mark(referee.drawing_of(shape), FLAT).strokes.line
    dots = line.points[np.repeat(line.sizes == 1, line.sizes)]
    assert np.abs(dots[np.argsort(dots[:, 0])] - [[-2, 1], [2, 1]]).max() < 0.01
    assert sorted(line.sizes) == [1, 1, 2]


def test_a_part_too_wide_for_a_stroke_is_told_with_its_place():
    """Strokes of 0.6 mm and a plate of 4 mm beside them, at the right of the art."""
    shape = shapely.union_all([shapely.LineString([(0, 2 * k), (20, 2 * k)]).buffer(0.3) for k in range(3)])
    assert not Centreline().mark(referee.drawing_of(shape), FLAT).findings
    told = Centreline().mark(referee.drawing_of(shape.union(shapely.box(22, 0, 26, 4))), FLAT).findings
    assert [(f.code, f.severity) for f in told] == [("too-wide-for-a-stroke", Severity.NOTE)]
    assert told[0].where.x_mm == pytest.approx(45, abs=0.1)
    assert 20 < told[0].where.angle_deg < 40
    assert "4.00 mm wide on the skin" in told[0].message and "0.60 mm" in told[0].message


def test_a_width_that_is_told_is_the_skin_s():
    """On a cone an equidistant sheet is wider by r / r0 where it lies further up; the mean of both ways is its root."""
    cone = Cone(diameter_mm=40, end_diameter_mm=80, length_mm=40)
    layout = lay_out(cone, Placement(x_mm=20))
    strokes = [shapely.LineString([(0, 2 * k), (20, 2 * k)]).buffer(0.3) for k in range(3)]
    plate = shapely.box(-2, 8, 2, 12)
    (told,) = Centreline().mark(referee.drawing_of(shapely.union_all([*strokes, plate])), layout).findings
    above = 10 - 0.5 * (12 - 0.3)  # of the drawing's middle
    skin = math.sqrt((30 + above * math.sin(math.atan(0.5))) / 30)
    assert float(told.message.split("up to ")[1].split()[0]) == pytest.approx(4 * skin, abs=0.006)


def test_same_art_same_strokes_and_empty_art_none():
    drawing = referee.drawing_of(referee.glyph(referee.face(), "R", 8))
    one, two = (Centreline().mark(drawing, FLAT).strokes for _ in range(2))
    assert np.array_equal(one.line.points, two.line.points)
    assert (one.share == 1).all()
    empty = Centreline().mark(Drawing(width_mm=5, height_mm=5), FLAT)
    assert (len(empty.strokes), [f.code for f in empty.findings]) == (0, ["no-strokes"])
