"""Lettering on the skin: stems are as tall as asked and as far apart as set, measured along the skin itself."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from engine.artwork.lettering import Along, Text, set_text
from engine.kernel.errors import LayoutError
from engine.layout import Placement, Projection, lay_out, place
from engine.layout.baseline import heights, stand
from tests.blank.skins import SKINS

SIZE_MM = 6.0
# An H of the single-stroke face in capitals: its bar's length and height, and the way to the next letter.
BAR, BAR_UP, STEP = 14 / 21, 11 / 21, 22 / 21
MIDDLE = {"cylinder": 45, "cone": 30, "ovoid": 28, "stations": 42, "grid": 65, "sampled": 42}
ALONG = {
    "line": {},
    "axis": {"along": Along.AXIS},
    "helix": {"along": Along.HELIX, "climb_deg": 25.0},
    "arc": {"along": Along.ARC, "radius_mm": 30.0},
    "smile": {"along": Along.ARC, "radius_mm": -30.0},
}


def stood(name, asked, projection=Projection.EQUIDISTANT, **where):
    """(layout, each stem's and bar's points on the skin in space), of HHHH along something."""
    text = Text(string="HHHH", font="single-line", size_mm=SIZE_MM, **asked)
    placement = Placement(x_mm=MIDDLE[name], angle_deg=70.0, projection=projection, **where)
    placement = replace(placement, turn_deg=placement.turn_deg + text.turn_deg)
    lettering = set_text(text)
    placed = place(lettering.drawing, placement)
    layout = lay_out(SKINS[name], placement, placed)
    drawing = stand(placed, lettering, layout, placement)
    return lettering, layout, placement, placed, [in_space(layout, drawing.lines[k]) for k in range(12)]


def in_space(layout, uv):
    """The referee: a run of the sheet, wrapped, as points in space."""
    x, theta = layout.wrap(uv)
    r = layout.skin.radius(x, theta)
    return np.stack([x, r * np.cos(theta), r * np.sin(theta)], axis=1)


def length(points):
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


@pytest.mark.parametrize("along", ALONG)
@pytest.mark.parametrize("name", SKINS)
def test_capitals_are_as_tall_as_asked_and_as_wide_at_the_line(name, along):
    *_, runs = stood(name, ALONG[along])
    stems = [run for k, run in enumerate(runs) if k % 3 != 2]
    for stem in stems:
        assert length(stem) == pytest.approx(SIZE_MM, abs=0.002)
    wider = 1 + BAR_UP * SIZE_MM / ALONG[along].get("radius_mm", np.inf)  # bars lie outside or inside the arc's foot
    bars = [length(run) for run in runs[2::3]]
    assert bars == pytest.approx([BAR * SIZE_MM * wider] * 4, rel=0.03)  # off the line the skin's own curving shows


@pytest.mark.parametrize("projection", [p for p in Projection if p is not Projection.DEVELOPED])
def test_any_projection_is_made_true(projection):
    *_, runs = stood("ovoid", ALONG["helix"], projection)
    assert [length(run) for k, run in enumerate(runs) if k % 3 != 2] == pytest.approx([SIZE_MM] * 8, abs=0.002)


def test_letters_stand_as_far_apart_as_they_are_set():
    # Round a cylinder nothing is bent: the sheet's own distances.
    *_, runs = stood("cylinder", {})
    feet = [run[0] for k, run in enumerate(runs) if k % 3 == 0]
    angle = [np.arctan2(p[2], p[1]) for p in feet]
    assert np.diff(angle) * 20.0 == pytest.approx([STEP * SIZE_MM] * 3, abs=1e-6)


def test_stems_are_square_to_the_line():
    *_, runs = stood("stations", ALONG["axis"])
    for k in range(0, 12, 3):
        stem, other, bar = runs[k], runs[k + 1], runs[k + 2]
        foot = other[np.abs(other - stem[0]).sum(1).argmin()] - stem[0]
        up = stem[1] - stem[0]
        assert len(bar) and abs(up @ foot) / np.linalg.norm(up) / np.linalg.norm(foot) < 0.08


@pytest.mark.parametrize("along", ALONG)
def test_mirrored_lettering_runs_the_other_way_and_is_as_tall(along):
    _, _, _, _, runs = stood("cone", ALONG[along], mirror=True)
    assert [length(run) for k, run in enumerate(runs) if k % 3 != 2] == pytest.approx([SIZE_MM] * 8, abs=0.002)
    if along == "line":
        angle = [np.arctan2(p[2], p[1]) for p in (run[0] for run in runs[::3])]
        assert all(b < a for a, b in pairwise(angle))


def test_lettering_scaled_by_its_placement_is_scaled_on_the_skin():
    lettering = set_text(Text(string="HHHH", font="single-line", size_mm=SIZE_MM))
    _, _, _, _, runs = stood("ovoid", {}, height_mm=lettering.drawing.height_mm / 2)
    assert [length(run) for k, run in enumerate(runs) if k % 3 != 2] == pytest.approx([SIZE_MM / 2] * 8, abs=0.002)


@pytest.mark.parametrize("name", ["ovoid", "cone", "grid"])
def test_heights_under_a_plain_projection_are_told(name):
    lettering, layout, placement, placed, _ = stood(name, ALONG["axis"])
    measured = [length(in_space(layout, run)) for run in (finely(placed.lines[k]) for k in range(12) if k % 3 != 2)]
    least, greatest = heights(placed, lettering, layout, placement)
    assert least - 0.05 <= min(measured) and max(measured) <= greatest + 0.05
    assert greatest - least > 0.02  # the projection does change them


def finely(run):
    share = np.linspace(0, 1, 200)[:, None]
    return run[0] + share * (run[-1] - run[0])


@pytest.mark.parametrize("placement", [Placement(x_mm=20.0, turn_deg=90.0), Placement(x_mm=88.0)])
def test_lettering_off_the_end_is_refused(placement):
    lettering = set_text(Text(string="HHHHHHHH", font="single-line", size_mm=SIZE_MM))
    layout = lay_out(SKINS["cylinder"], placement)
    with pytest.raises(LayoutError, match="off the end"):
        stand(place(lettering.drawing, placement), lettering, layout, placement)


def test_an_arc_that_is_stretched_one_way_is_refused():
    with pytest.raises(LayoutError, match="one way") as caught:
        stood("cylinder", ALONG["arc"], width_mm=40.0, height_mm=30.0)
    assert caught.value.where == "placement/height_mm"
    *_, runs = stood("cylinder", {}, width_mm=40.0, height_mm=SIZE_MM)  # straight lines may be
    tall = [length(run) for k, run in enumerate(runs) if k % 3 != 2]
    assert tall == pytest.approx([tall[0]] * 8, abs=0.001)


def test_lettering_a_tenth_of_a_millimetre_tall_can_stand():
    lettering = set_text(Text(string="SEED", size_mm=0.1))
    placement = Placement(x_mm=45.0)
    skin = SKINS["cylinder"]
    placed = place(lettering.drawing, placement)
    assert len(stand(placed, lettering, lay_out(skin, placement), placement).places)
