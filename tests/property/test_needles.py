"""Tools whose groove is thinner than anything the proof looks at otherwise, cuts that are hardly any, and tools so wide
that what they draw reaches far from the strokes: the shares of area stay true.
"""

import math

import pytest

import engine
from engine.kernel.tolerance import Tolerance
from engine.outcome.wanted import lay_wanted
from engine.pieces import pieces_of
from engine.plan import silent
from tests.property.whole_jobs import ASSETS, KINDS, MIDDLE, art, document, planned

NEEDLE = {"id": "needle", "form": "cone", "diameter_mm": 0.1, "tip_mm": 0, "angle_deg": 10}
DISC = b"""<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20">
<circle cx="10" cy="10" r="10"/></svg>"""


def needle(style, depth, width, *, blank="cylinder", **more):
    piece = art("leaf", {"style": style}, depth_mm=depth, width_mm=width, x_mm=MIDDLE[blank], tool="needle", **more)
    return document(blank, piece) | {"tools": [NEEDLE]}


def told(plan):
    return {f.code for f in plan.findings}


@pytest.mark.parametrize("blank", ["cylinder", "ovoid"])
@pytest.mark.parametrize(("depth", "width"), [(0.2, 8), (0.05, 8), (0.05, 30), (0.01, 20)])
@pytest.mark.parametrize("style", ["outline", "centreline"])
def test_a_needle_cuts_on_its_art_and_all_of_its_lines(style, depth, width, blank):
    _, plan = planned(needle(style, depth, width, blank=blank))
    fidelity = plan.report["fidelity"]
    assert fidelity["cut_on_art"] == 1.0
    assert fidelity["art_cut"] >= 0.99
    assert told(plan) & {"beside-art", "uncut", "nothing-cut"} == set()


def test_a_needle_that_cuts_elsewhere_is_still_told():
    """The program of art on one side, held to a job with the art on the other."""
    _, plan = planned(needle("outline", 0.05, 30))
    elsewhere = engine.read_job(needle("outline", 0.05, 30, angle_deg=210), known=engine.Known(assets=KINDS))
    proof = engine.prove_text(elsewhere, ASSETS, plan.programs["engrave"].text)
    assert proof["fidelity"]["cut_on_art"] == 0.0
    assert proof["fidelity"]["art_cut"] == 0.0
    assert {"beside-art", "off-art"} <= {f["code"] for f in proof["findings"]}


@pytest.mark.parametrize("depth", [0.0005, 0.001, 0.004])
def test_a_scratch_is_on_its_art(depth):
    """Less deep than what counts as cut elsewhere."""
    piece = art("leaf", {"style": "outline"}, depth_mm=depth, width_mm=8, x_mm=40)
    _, plan = planned(document("cylinder", piece))
    assert plan.report["fidelity"]["cut_on_art"] >= 0.99
    assert "beside-art" not in told(plan)


@pytest.mark.parametrize("wide", [2.0, 6.0, 10.0])
def test_what_a_wide_flat_end_draws_is_asked_for_to_its_edge(wide):
    """An outline drawn outside a disc is a ring of the tool's width: pi ((r + w)2 - r2) on a bar, laid flat."""
    piece = art("disc", {"style": "outline", "side": "outside"}, depth_mm=0.1, width_mm=20, x_mm=40, tool="flat")
    flat = {"id": "flat", "form": "flat", "diameter_mm": wide}
    job, plan = planned(document("cylinder", piece) | {"tools": [flat]}, disc=DISC)
    assert plan.report["fidelity"]["cut_on_art"] >= 0.999
    assert "beside-art" not in told(plan)
    pieces, _ = pieces_of(job, job.blank.skin({}), {"disc": DISC}, Tolerance(), silent)
    field = lay_wanted([one.patch for one in pieces], [(1.0, 1.0)])
    cell = (field.x_mm[1] - field.x_mm[0]) * 25.0 * (field.theta_rad[1] - field.theta_rad[0])
    assert (field.depth_mm > 0).sum() * cell == pytest.approx(math.pi * ((10 + wide) ** 2 - 100), rel=0.02)
