"""Light and dark from the picture to the program, measured on what the proof carves of the program's text.

The bars are the project's own: sixteen even steps from bare to black each within four points of what is asked and
rising, and the local means of what looks like a photograph in correlation with it, 0.97 or more. The places of cells on
the sheet are in closed form here; a window that falls to nothing at its edges weighs them, so that no part of a row at
the edge of a step counts for a whole one.
"""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.property.whole_jobs import BLANKS, MIDDLE, art, carved, codes, document, picture, planned

TONES = {
    "halftone-cone": ({"style": "halftone", "pitch_mm": 0.3, "angle_deg": 27}, 0.25, "cone"),
    "halftone-ball": ({"style": "halftone", "pitch_mm": 0.4, "angle_deg": 27}, 0.06, "ball"),
    "stipple-cone": ({"style": "stipple", "dot_mm": 0.25}, 0.25, "cone"),
    "stipple-ball": ({"style": "stipple", "dot_mm": 0.25}, 0.04, "ball"),
    "relief-ball": ({"style": "relief", "scallop_mm": 0.01}, 0.4, "ball"),
    "relief-cone": ({"style": "relief", "scallop_mm": 0.01}, 0.2, "blunt"),
    "relief-flat": ({"style": "relief"}, 0.2, "flat"),
}
RUNS = {
    "fine": ({"style": "halftone", "pitch_mm": 0.3}, 0.06, "ball"),
    "rings": ({"style": "halftone", "pitch_mm": 0.4, "lines": "rings"}, 0.06, "ball"),
    "helix": ({"style": "halftone", "pitch_mm": 0.4, "lines": "helix"}, 0.06, "ball"),
    "meridians": ({"style": "halftone", "pitch_mm": 0.4, "lines": "meridians"}, 0.06, "ball"),
}
STEPS, EDGE_MM = 16, 0.3
SMALL, LARGE = (2.0, 5.0), (3.0, 8.0)  # a step's size, mm; the least dash of a ball takes the large one
ASKED = np.linspace(0.0, 1.0, STEPS)
OPENED_MM = 5e-5  # half a word's last decimal
BAR = 0.04


def darkness_made(style, depths, weights, depth_mm):
    """The share of the skin that is opened; of a relief, the mean depth as a share of the greatest."""
    made = depths / depth_mm if style.startswith("relief") else depths > OPENED_MM
    return float((made * weights).sum() / weights.sum())


def wedge(blank, marking, depth, tool, size=SMALL, **more):
    """Document and picture of sixteen even steps from bare to black, each of that size."""
    cells = np.tile(np.repeat(ASKED, 20), (round(20 * size[1] / size[0]), 1))
    piece = art("wedge", marking, depth_mm=depth, width_mm=STEPS * size[0], tool=tool, **{"x_mm": MIDDLE[blank]} | more)
    return document(blank, piece), picture(cells)


def test_a_shallow_relief_on_a_gourd_is_as_deep_as_asked():
    """A tenth of a millimetre deep, where the tip's own tolerance would cost six points."""
    told, seen = wedge("grid", {"style": "relief", "scallop_mm": 0.002}, 0.1, "ball", (3.0, 2.0))
    job, plan = planned(told, wedge=seen)
    places, depths, _ = carved(plan, job)
    step = places[:, 0] / 3.0 + 0.5 * STEPS
    inner = (np.abs(places[:, 1]) < 0.5) & (np.abs(step - np.floor(step) - 0.5) < 0.2)
    made = np.array([depths[inner & (np.floor(step) == k)].mean() for k in range(1, STEPS)]) / 0.1
    assert np.abs(made - ASKED[1:]).max() <= 0.03


@pytest.mark.parametrize("blank", BLANKS)
@pytest.mark.parametrize("style", TONES)
def test_a_wedge_of_sixteen_greys_comes_out_as_dark_as_asked(all_cells, style, blank):
    marking, depth, tool = TONES[style]
    step_mm, tall_mm = size = LARGE if style == "halftone-ball" else SMALL
    told, seen = wedge(blank, marking, depth, tool, size)
    job, plan = planned(told, wedge=seen)
    assert codes(plan) == set()
    places, depths, areas = carved(plan, job)
    step = places[:, 0] / step_mm + 0.5 * STEPS
    aside, up = step - np.floor(step) - 0.5, places[:, 1] / (tall_mm - 2 * EDGE_MM)
    wide = 1 - 2 * EDGE_MM / step_mm
    inner = (np.abs(up) < 0.5) & (np.abs(aside) < 0.5 * wide)
    weight = areas * np.cos(np.pi * up) ** 2 * np.cos(np.pi * aside / wide) ** 2
    made = [
        darkness_made(style, depths[on], weight[on], depth)
        for on in (inner & (np.floor(step) == k) for k in range(1, STEPS))
    ]
    assert np.abs(np.array(made) - ASKED[1:]).max() <= BAR
    assert made[0] > 0 and (np.diff(made) > 0).all()
    bare = inner & (np.floor(step) == 0)
    assert not (depths[bare] > OPENED_MM).any()
    fidelity = plan.report["fidelity"]
    assert fidelity["tone"] >= 0.97
    if not style.startswith("relief"):
        assert fidelity["tone_off"] <= BAR


@pytest.mark.parametrize("blank", ["cylinder", "ovoid", "grid"])
@pytest.mark.parametrize("style", RUNS)
def test_a_ball_round_the_blank_is_as_dark_as_asked_though_its_cells_are_coarse(style, blank):
    """Rows in step with the carved cells, six of them to a row: what the proof itself makes of them."""
    marking, depth, tool = RUNS[style]
    told, seen = wedge(blank, marking, depth, tool, LARGE)
    _, plan = planned(told, wedge=seen)
    assert codes(plan) == set()
    fidelity = plan.report["fidelity"]
    assert fidelity["tone"] >= 0.99
    assert fidelity["tone_off"] <= 0.025 and abs(fidelity["tone_bias"]) <= 0.015


@pytest.mark.parametrize(("blank", "x_mm"), [("ovoid", 14.0), ("grid", 105.0)])
def test_a_large_ball_on_a_leaning_round_skin_is_as_dark_as_asked_where_it_is_asked(blank, x_mm):
    """A ball 3 mm across touches half a millimetre beside its axis, and cuts a twentieth less wide than in a plane."""
    told, seen = wedge(blank, {"style": "halftone", "pitch_mm": 0.6, "lines": "meridians"}, 0.1, "large", x_mm=x_mm)
    told["tools"] = [{"id": "large", "form": "ball", "diameter_mm": 3.0}]
    _, plan = planned(told, wedge=seen)
    fidelity = plan.report["fidelity"]
    assert codes(plan) == set()
    assert fidelity["tone"] >= 0.99
    assert fidelity["tone_off"] <= BAR and abs(fidelity["tone_bias"]) <= 0.015


def test_black_that_the_depth_does_not_reach_is_told_with_what_it_reaches():
    """0.02 + 2 x 0.15 tan 30 = 0.193 mm wide; 17 rows, at most 0.3 mm apart, fill the art's 5 mm."""
    told, seen = wedge("cylinder", {"style": "halftone", "pitch_mm": 0.3}, 0.15, "cone")
    _, plan = planned(told, wedge=seen)
    (found,) = (f for f in plan.findings if f.code == "tone-held")
    assert f"opens {100 * 0.1932 / (SMALL[1] / 17):.0f} %" in found.message and "up to 100 % dark" in found.message
    assert "a pitch of 0.193 mm" in found.advice


@pytest.mark.parametrize("style", ["halftone-cone", "stipple-cone", "relief-ball"])
@pytest.mark.parametrize("blank", ["cylinder", "grid"])
def test_what_looks_like_a_photograph_is_as_dark_and_light_as_it(all_cells, style, blank):
    marking, depth, tool = TONES[style]
    field = gaussian_filter(np.random.default_rng(5).standard_normal((120, 180)), 12, mode="reflect")
    field = (field - field.min()) / np.ptp(field)
    wide, tall = 18.0, 12.0
    told = document(blank, art("seen", marking, depth_mm=depth, width_mm=wide, x_mm=MIDDLE[blank], tool=tool))
    job, plan = planned(told, seen=picture(field))
    assert codes(plan) == set()
    places, depths, areas = carved(plan, job)
    square = np.floor((places + (0.5 * wide, 0.5 * tall)) / 1.5).astype(int)
    on = (square >= 0).all(axis=1) & (square < (12, 8)).all(axis=1)
    number = square[on] @ (8, 1)
    opened = depths[on] / depth if style.startswith("relief") else depths[on] > OPENED_MM
    made = np.bincount(number, opened * areas[on], 96) / np.bincount(number, areas[on], 96)
    asked = field[::-1].reshape(8, 15, 12, 15).mean(axis=(1, 3)).T.ravel()
    assert np.corrcoef(asked, made)[0, 1] >= 0.97
    assert plan.report["fidelity"]["tone"] >= 0.97
