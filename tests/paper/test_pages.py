"""The pattern's PDF: well formed, at its true size, with nothing lost between the sheets."""

import re
import zlib
from itertools import pairwise

import numpy as np
import pytest

from engine.blank import Cylinder, Ovoid
from engine.paper.flat import flats_of
from engine.paper.pages import LAP_MM, Paper, paper_pdf

MM = 72 / 25.4
EGG = Ovoid(length_mm=64, breadth_mm=46, shift_mm=2.2, quarter_diameter_mm=38)


def strokes_round(x, n=400, turns=1.0):
    return np.full(n, x), np.linspace(-np.pi, -np.pi + 2 * np.pi * turns, n), np.array([0, n])


def printed(skin, strokes, paper=Paper.A4, name="Seed-swap float"):
    return paper_pdf(flats_of(skin, np.pi), strokes, paper=paper, name=name, caution="Wear eye protection.")


def contents(data):
    return [zlib.decompress(body) for body in re.findall(rb"stream\n(.*?)\nendstream", data, re.DOTALL)]


def stroked(page):
    """Points (n, 2) of each path that is drawn as a line."""
    paths = re.split(rb"\n(?![-\d.]+ [-\d.]+ [ml]\n)", page)
    told = [re.findall(rb"([-\d.]+) ([-\d.]+) [ml]\b", path) for path, after in pairwise(paths) if after[:1] == b"S"]
    return [np.array(points, float) for points in told]


@pytest.mark.parametrize("paper", Paper)
def test_the_page_is_as_large_as_the_paper_and_is_not_to_be_scaled(paper):
    data = printed(EGG, strokes_round(32.0), paper)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert boxes
    for box in boxes:
        assert [float(side) / MM for side in box] == pytest.approx(paper.value, abs=1e-3)
    assert b"/PrintScaling /None" in data
    assert int(re.search(rb"/Count (\d+)", data)[1]) == len(boxes) == len(contents(data))


def test_every_object_stands_where_the_table_says():
    """ISO 32000-1, 7.5.4: offsets of ten digits; startxref leads to the table."""
    data = printed(EGG, strokes_round(32.0))
    start = int(re.search(rb"startxref\n(\d+)\n%%EOF", data)[1])
    lines = data[start:].split(b"\n")
    assert lines[0] == b"xref"
    count = int(lines[1].split()[1])
    for number in range(1, count):
        at = int(lines[2 + number][:10])
        assert data[at:].startswith(b"%d 0 obj\n" % number)
        assert len(lines[2 + number]) == 19  # and its line end: twenty bytes


def test_the_scale_is_one_and_the_bar_is_a_hundred():
    for page in contents(printed(EGG, strokes_round(32.0))):
        scale = page.split(b" cm", 1)[0].split()
        assert float(scale[0]) == pytest.approx(MM, rel=1e-8) and float(scale[3]) == pytest.approx(MM, rel=1e-8)
        points = [tuple(map(float, p)) for p in re.findall(rb"([-\d.]+) ([-\d.]+) [ml]", page)]
        bars = [b[0] - a[0] for a, b in pairwise(points) if a[1] == b[1] == 12.0]
        assert any(bar == pytest.approx(100.0, abs=1e-6) for bar in bars)


def test_sheets_lap_and_none_of_the_pattern_lies_between_them():
    """The windows that the sheets show of the pattern cover it without a gap, a lap wide over each other."""
    skin = Cylinder(diameter_mm=120, length_mm=400)
    data = printed(skin, strokes_round(200.0))
    room = np.array(Paper.A4.value) - [20.0, 34.0]
    shifts = [
        [float(v) for v in re.search(rb"q 1 0 0 1 ([-\d.]+) ([-\d.]+) cm", page).groups()] for page in contents(data)
    ]
    low = np.array([10.0, 24.0]) - np.array(shifts)
    rights, ups = np.unique(low[:, 0].round(3)), np.unique(low[:, 1].round(3))
    assert len(low) == len(rights) * len(ups)
    for edges, side, size in ((rights, room[0], np.pi * 120 + LAP_MM), (ups, room[1], 400.0)):
        assert edges[0] == 0.0 and edges[-1] + side >= size - 1e-6
        assert np.diff(edges) == pytest.approx(np.full(len(edges) - 1, side - LAP_MM), abs=2e-3)


def test_a_stroke_that_goes_round_is_drawn_at_its_true_length():
    """On the sleeve of one sheet's room: 20 mm of diameter, 62.83 mm round, whatever turn its angles are told in."""
    skin = Cylinder(diameter_mm=20, length_mm=60)
    plain = printed(skin, strokes_round(30.0))
    x, theta, offsets = strokes_round(30.0)
    turned = printed(skin, (x, theta + 4 * np.pi, offsets))
    for data in (plain, turned):
        (page,) = contents(data)
        middle = [r for r in stroked(page) if len(r) > 100 and abs(r[0, 1]) < 0.01]  # of the sleeve
        level = [r for r in middle if np.ptp(r[:, 1]) < 1e-3]
        longest = max(float(np.ptp(r[:, 0])) for r in level)
        assert longest == pytest.approx(np.pi * 20, abs=0.02)


def test_the_same_pattern_is_the_same_bytes_and_any_name_is_taken():
    name = "Дыня № 5 (ö) \\"
    assert printed(EGG, strokes_round(30.0), name=name) == printed(EGG, strokes_round(30.0), name=name)
    assert ("<FEFF" + f"{name}: paper pattern".encode("utf-16-be").hex().upper()).encode() in printed(
        EGG, strokes_round(30.0), name=name
    )


def test_a_blank_without_art_has_its_paper_too():
    nothing = np.zeros(0), np.zeros(0), np.zeros(1, np.int64)
    assert contents(printed(EGG, nothing))
