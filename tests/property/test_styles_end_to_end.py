"""Every marking style from the document to the program, judged by what the proof carves of the program's text.

The bar of lettering is the project's own; tones have a suite of their own.
"""

import json

import numpy as np
import pytest
import shapely

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
    "halftone": {"style": "halftone", "pitch_mm": 0.3, "angle_deg": 27},
    "stipple": {"style": "stipple", "dot_mm": 0.2},
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
    wedge = art("wedge", TONES["halftone"], depth_mm=0.25, width_mm=8, x_mm=20)
    dots = art("leaf", TONES["stipple"], depth_mm=0.2, width_mm=6, x_mm=20, angle_deg=120)
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
