"""Every marking style from the document to the program, judged by what the proof carves of the program's text.

The bars of tone, wedge and lettering are the project's own; the places of cells on the sheet are in closed form here.
"""

import json

import numpy as np
import pytest
import shapely
from scipy.ndimage import gaussian_filter

from tests.property.whole_jobs import MIDDLE, art, carved, codes, document, picture, planned

STYLES = {
    "outline": ({"style": "outline", "side": "inside"}, 0.2, "cone"),
    "hatch": ({"style": "hatch", "keep_inside": True}, 0.2, "cone"),
    "rings": ({"style": "rings"}, 0.2, "cone"),
    "centreline": ({"style": "centreline"}, 0.15, "cone"),
    "halftone": ({"style": "halftone"}, 0.2, "cone"),
    "stipple": ({"style": "stipple"}, 0.2, "cone"),
    "relief": ({"style": "relief", "scallop_mm": 0.01}, 0.3, "ball"),
    "v-depth": ({"style": "v-depth"}, 0.4, "cone"),
}
TONES = {
    "halftone": ({"style": "halftone", "pitch_mm": 0.3, "angle_deg": 27}, 0.25, "cone"),
    "helix": ({"style": "halftone", "pitch_mm": 0.3, "lines": "helix"}, 0.25, "cone"),
    "stipple": ({"style": "stipple", "dot_mm": 0.2}, 0.2, "cone"),
    "relief": ({"style": "relief", "scallop_mm": 0.01}, 0.4, "ball"),
}
ON_ALL = [(style, blank) for style in STYLES for blank in ("grid", "ovoid")]
ON_SOME = [
    ("outline", "cone"),
    ("hatch", "stations"),
    ("rings", "cone"),
    ("centreline", "stations"),
    ("halftone", "cone"),
    ("stipple", "stations"),
    ("relief", "cone"),
    ("v-depth", "stations"),
    ("v-depth", "cylinder"),
    ("rings", "cylinder"),
]
OPENED_MM = 0.001
STEPS, STEP_MM, TALL_MM, EDGE_MM = 16, 3.0, 8.0, 0.3


@pytest.fixture
def all_cells(monkeypatch):
    """The carved field as the proof has it, not thinned by the deepest of each block for the page."""
    monkeypatch.setattr("engine.outcome.preview.MOST_CARVED", 10**9)


@pytest.mark.parametrize(("style", "blank"), ON_ALL + ON_SOME)
def test_each_style_gives_a_program_that_keeps_to_the_art_on_each_kind_of_blank(style, blank):
    marking, depth, tool = STYLES[style]
    leaf = art("leaf", marking, depth_mm=depth, width_mm=8, x_mm=MIDDLE[blank], tool=tool)
    _, plan = planned(document(blank, leaf))
    assert set(plan.programs) == {"engrave", "air", "walk"}
    assert codes(plan) == set()
    fidelity = plan.report["fidelity"]
    assert fidelity["cut_on_art"] >= 0.98
    assert fidelity["art_cut"] >= 0.96  # a hatch leaves the corners that its inset does not reach
    assert plan.report["depth_mm"]["greatest"] <= depth + (0.02 if style == "halftone" else 0.006)


def darkness_made(style, depths, areas, depth_mm):
    """The share of the skin that is opened; of a relief, the mean depth as a share of the greatest."""
    made = depths / depth_mm if style == "relief" else depths > OPENED_MM
    return float((made * areas).sum() / areas.sum())


@pytest.mark.parametrize(
    ("style", "blank"),
    [(style, "cylinder") for style in TONES] + [(style, "ovoid") for style in ("halftone", "stipple", "relief")],
)
def test_a_wedge_of_sixteen_greys_comes_out_as_dark_as_asked(all_cells, style, blank):
    marking, depth, tool = TONES[style]
    asked = np.linspace(0.0, 0.9, STEPS)
    cells = np.tile(np.repeat(asked, 30), (80, 1))
    wide = STEPS * STEP_MM
    told = document(blank, art("wedge", marking, depth_mm=depth, width_mm=wide, x_mm=MIDDLE[blank], tool=tool))
    job, plan = planned(told, wedge=picture(cells))
    assert codes(plan) == set()
    places, depths, areas = carved(plan, job)
    step = (places[:, 0] + 0.5 * wide) / STEP_MM
    inner = np.abs(places[:, 1]) < 0.5 * TALL_MM - EDGE_MM
    inner &= np.abs(step - np.floor(step) - 0.5) < 0.5 - EDGE_MM / STEP_MM
    made = [
        darkness_made(style, depths[on], areas[on], depth)
        for on in (inner & (np.floor(step) == k) for k in range(1, STEPS))
    ]
    assert np.abs(np.array(made) - asked[1:]).max() <= 0.04
    assert (np.diff(made) > 0).all()
    bare = inner & (np.floor(step) == 0)
    assert not (depths[bare] > OPENED_MM).any()


@pytest.mark.parametrize("style", ["halftone", "stipple", "relief"])
def test_what_looks_like_a_photograph_is_as_dark_and_light_as_it(all_cells, style):
    marking, depth, tool = TONES[style]
    field = gaussian_filter(np.random.default_rng(5).standard_normal((160, 240)), 10, mode="reflect")
    field = 0.8 * (field - field.min()) / np.ptp(field)
    wide, tall = 24.0, 16.0
    told = document("cylinder", art("seen", marking, depth_mm=depth, width_mm=wide, x_mm=40, tool=tool))
    job, plan = planned(told, seen=picture(field))
    assert codes(plan) == set()
    places, depths, areas = carved(plan, job)
    square = np.floor((places + (0.5 * wide, 0.5 * tall)) / 1.5).astype(int)
    on = (square >= 0).all(axis=1) & (square < (16, 10)).all(axis=1)
    number = square[on] @ (10, 1)
    opened = depths[on] / depth if style == "relief" else depths[on] > OPENED_MM
    made = np.bincount(number, opened * areas[on], 160) / np.bincount(number, areas[on], 160)
    asked = field[::-1][:150].reshape(10, 15, 16, 15).mean(axis=(1, 3)).T.ravel()
    assert np.corrcoef(asked, made)[0, 1] >= 0.97
    assert plan.report["fidelity"]["tone"] >= 0.97


def test_carved_lettering_has_a_flat_bottom_its_own_outline_and_one_change_of_tool(all_cells):
    """A stem is 1.4 mm wide; a cone of 60 degrees, 0.4 mm deep, reaches 0.24 mm from its edge."""
    depth = 0.4
    marking = {"style": "v-depth", "clearing_tool": "flat"}
    letters = {"text": {"string": "LIV", "font": "sans-bold", "size_mm": 8, "true_size": False}}
    job, plan = planned(document("cylinder", art(letters, marking, depth_mm=depth, x_mm=40)))
    assert codes(plan) == set()
    assert [tool["id"] for tool in plan.report["tools"]] == ["flat", "cone"]
    assert plan.programs["engrave"].text.count(b"M0") == 1
    rings = np.split(plan.preview["art_uv"], plan.preview["art_offset"][1:-1].astype(int))
    letters = shapely.build_area(shapely.geometrycollections([shapely.linearrings(ring) for ring in rings]))
    places, depths, _ = carved(plan, job)
    points = shapely.points(places)
    shapely.prepare(letters)
    away = np.full(len(places), np.inf)
    near = shapely.dwithin(letters.boundary, points, 0.5) | shapely.contains(letters, points)
    away[near] = shapely.distance(letters.boundary, points[near])
    inside = shapely.contains(letters, points)
    cell = 0.03
    wide = 0.5 * 0.02 + depth * np.tan(np.radians(30))
    bottom = inside & (away > wide + cell)
    assert bottom.sum() > 1000
    assert depths[bottom].max() <= depth + 0.005
    assert depths[bottom].min() >= depth * 0.94
    assert not (~inside & (away > cell) & (depths > OPENED_MM)).any()
    reached = inside & (away > cell)
    assert (depths[reached] > OPENED_MM).all()


def everything():
    """A job with a picture in rows, dots, lettering that another tool clears, and rings."""
    wedge = art("wedge", TONES["halftone"][0], depth_mm=0.25, width_mm=8, x_mm=20)
    dots = art("leaf", TONES["stipple"][0], depth_mm=0.2, width_mm=6, x_mm=20, angle_deg=120)
    text = {"text": {"string": "Bo", "font": "sans-bold", "size_mm": 6}}
    sunk = art(text, {"style": "v-depth", "clearing_tool": "flat"}, depth_mm=0.4, x_mm=45)
    rings = art("leaf", {"style": "rings"}, depth_mm=0.2, width_mm=6, x_mm=45, angle_deg=120)
    return document("cylinder", wedge, dots, sunk, rings)


def test_the_same_job_gives_the_same_bytes_whatever_was_planned_between():
    grey = picture(np.tile(np.linspace(0, 0.9, 80), (40, 1)))
    texts = []
    for _ in range(2):
        _, plan = planned(json.loads(json.dumps(everything())), wedge=grey)
        assert codes(plan) == set()
        texts.append({kind: program.text for kind, program in plan.programs.items()})
    assert texts[0] == texts[1]
