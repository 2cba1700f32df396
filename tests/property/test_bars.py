"""What the main job promises, on art and blanks that no stage was tuned on, judged from the program's text alone.

The referee here is a third reading of the text: a few lines that know G0, G1, G93 and G94, and the skin in space. It
shares nothing with the writers nor with the proof.
"""

import json
import re

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

import engine
from tests.blank.skins import gourd_csv

LEAF = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<path d="M24 2 C36 8 44 20 40 34 C34 42 18 46 8 40 C4 28 10 10 24 2 Z M24 14 L20 32 L30 30 Z" fill-rule="evenodd"/>
<circle cx="42" cy="42" r="4"/></svg>"""

BLANKS = {
    "cylinder": {"shape": "cylinder", "diameter_mm": 52, "length_mm": 80},
    "cone": {"shape": "cone", "diameter_mm": 40, "end_diameter_mm": 62, "length_mm": 80},
    "gourd": {"shape": "grid", "asset": "table"},
}
ASSETS = {"leaf": LEAF, "table": gourd_csv()}
KNOWN = engine.Known(assets={"leaf": "vector", "table": "table"})
RULES = ("inverse-time", "linear-axes-only", "all-axes")
FEED = 270.0


def document(blank, rule, **more):
    return {
        "schema": "roundwright.job/1",
        "name": "Held-out leaf",
        "blank": BLANKS[blank] | {"radius_error_mm": 0},
        "artwork": [
            {
                "asset": "leaf",
                "placement": {"x_mm": 42, "angle_deg": 176, "width_mm": 22, "turn_deg": 15},
                "marking": {"style": "hatch", "angle_deg": 30, "outline": True},
                "depth_mm": 0.2,
                "feed_mm_min": FEED,
                **more,
            }
        ],
        "machine": {"feed_rule": rule},
    }


@pytest.fixture(scope="module", params=[(b, r) for b in BLANKS for r in RULES], ids="-".join)
def case(request):
    blank, rule = request.param
    job = engine.read_job(document(blank, rule), known=KNOWN)
    return blank, rule, job, engine.plan(job, ASSETS)


def moves(text):
    """(n, 9): line, motion, F, inverse, from x a z, to x a z - of every motion line once all words are known."""
    at, rows = {}, []
    motion, feed, inverse = 0, np.nan, False
    for number, line in enumerate(text.decode("ascii").splitlines(), 1):
        words = dict(re.findall(r"([A-Z])(-?[\d.]+)", re.sub(r"\([^)]*\)", "", line)))
        for code in re.findall(r"G(\d+)", re.sub(r"\([^)]*\)", "", line)):
            motion = int(code) if code in ("0", "1") else motion
            inverse = {"93": True, "94": False}.get(code, inverse)
        feed = float(words.get("F", feed))
        here = at | {k: float(words[k]) for k in "XAZ" if k in words}
        if any(k in words for k in "XAZ"):
            if len(at) == 3:
                rows.append([number, motion, feed, inverse, *(at[k] for k in "XAZ"), *(here[k] for k in "XAZ")])
            at = here
    return np.array(rows)


def test_a_program_comes_and_nothing_is_wrong(case):
    _, _, _, plan = case
    assert [f for f in plan.findings if f.severity is not engine.Severity.NOTE] == []
    assert set(plan.programs) == {"engrave", "air", "walk"}


def test_at_least_99_percent_of_the_cut_is_art_and_of_the_art_is_cut(case):
    *_, plan = case
    assert plan.report["fidelity"]["cut_on_art"] >= 0.99
    assert plan.report["fidelity"]["art_cut"] >= 0.99


def test_no_tip_is_deeper_than_asked_and_the_median_is_the_asked_depth(case):
    """The deepest place under the tool, in space: on a slope, the rim of its flat, 0.05 mm from the middle."""
    blank, _, job, plan = case
    m = moves(plan.programs["engrave"].text)
    cut = m[(m[:, 1] == 1) & ((m[:, 4] != m[:, 7]) | (m[:, 5] != m[:, 8]))]
    x, theta, r = cut[:, 7], np.radians(cut[:, 8]), cut[:, 9]
    skin = job.blank.skin(ASSETS)
    radius = skin.radius(x, theta)
    r_x, r_t = skin.slopes(x, theta)
    cos = radius / np.sqrt(radius**2 * (1 + r_x**2) + r_t**2)
    depth = (radius - r) * cos + 0.05 * np.sqrt(1 - cos**2)
    assert depth.max() <= 0.2 + (0.005 if blank != "gourd" else 0.01)
    assert np.median(plan.preview["carved_depth"][plan.preview["carved_depth"] > 0.1]) <= 0.2 + 0.005
    deepest = [f for f in plan.findings if f.code == "deeper-than-asked"]
    assert not deepest
    assert plan.report["depth_mm"]["greatest"] <= 0.2 + (0.005 if blank != "gourd" else 0.01)
    assert np.median(depth) >= 0.97 * 0.2


def test_the_tip_runs_over_the_blank_at_the_asked_feed_under_every_rule(case):
    _, rule, _, plan = case
    m = moves(plan.programs["engrave"].text)
    m = m[m[:, 1] == 1]
    dx, da, dz = (m[:, 7:10] - m[:, 4:7]).T
    share = np.linspace(0, 1, 21)
    r = m[:, 6:7] + share * dz[:, None]
    way = np.sqrt(dx[:, None] ** 2 + dz[:, None] ** 2 + (r * np.radians(da)[:, None]) ** 2).mean(axis=1)
    linear = np.hypot(dx, dz)
    if rule == "inverse-time":
        minutes = 1 / m[:, 2]
    elif rule == "linear-axes-only":
        minutes = np.where(linear > 0, linear, np.abs(da)) / m[:, 2]
    else:
        minutes = np.sqrt(dx**2 + dz**2 + da**2) / m[:, 2]
    speed = way / minutes
    cutting = (dx != 0) | (da != 0)
    near = np.abs(speed / FEED - 1) <= 0.02
    assert way[cutting & near].sum() >= 0.98 * way[cutting].sum()
    assert speed[cutting].max() <= FEED * 1.02
    assert speed[~cutting].max() <= FEED / 3 * 1.02 or speed[~cutting].max() <= FEED * 1.02


def test_no_rapid_touches_the_skin(case):
    """Cloud against cloud: tool-tip places on rapids stay over the skin by the clearance, or go straight in and out."""
    _, _, job, plan = case
    skin = job.blank.skin(ASSETS)
    m = moves(plan.programs["engrave"].text)
    m = m[m[:, 1] == 0]
    share = np.linspace(0, 1, 25)[None, :, None]
    way = m[:, None, 4:7] + share * (m[:, None, 7:10] - m[:, None, 4:7])
    over = way[..., 2] - skin.radius(way[..., 0], np.radians(way[..., 1]))
    sideways = (m[:, 4] != m[:, 7]) | (m[:, 5] != m[:, 8])
    assert over[sideways].min() >= 2.0 - 1e-3
    assert over.min() >= 0.3 - 1e-3


def test_uphill_means_uphill(case):
    _, _, job, plan = case
    skin = job.blank.skin(ASSETS)
    m = moves(plan.programs["engrave"].text)
    cut = m[(m[:, 1] == 1) & ((m[:, 4] != m[:, 7]) | (m[:, 5] != m[:, 8]))]
    r0 = skin.radius(cut[:, 4], np.radians(cut[:, 5]))
    r1 = skin.radius(cut[:, 7], np.radians(cut[:, 8]))
    way = np.hypot(cut[:, 7] - cut[:, 4], r0 * np.radians(cut[:, 8] - cut[:, 5]))
    falls = np.zeros(len(cut))
    highest = -np.inf
    for k in range(len(cut)):
        if k == 0 or tuple(cut[k, 4:6]) != tuple(cut[k - 1, 7:9]):
            highest = r0[k]
        highest = max(highest, r0[k])
        falls[k] = max(0.0, highest - r1[k])
    assert way[falls > 0.02 + 1e-3].sum() <= 1e-3 * way.sum()


def test_the_cut_lies_on_the_art_in_space(case):
    """The tip's cut places against the art laid out by hand on the sheet of a cylinder; other blanks by the report."""
    blank, _, _, plan = case
    if blank != "cylinder":
        assert plan.report["scale"]["least"] > 0.8
        return
    m = moves(plan.programs["engrave"].text)
    cut = m[(m[:, 1] == 1) & ((m[:, 4] != m[:, 7]) | (m[:, 5] != m[:, 8]))]
    u, v = 26 * np.radians(cut[:, 8] - 176), cut[:, 7] - 42
    rings = np.split(plan.preview["art_uv"], plan.preview["art_offset"][1:-1].astype(int))
    art = shapely.build_area(shapely.geometrycollections([shapely.linearrings(r) for r in rings]))
    assert shapely.contains_xy(art.buffer(0.02), u, v).all()
    tree = cKDTree(np.stack([u, v], 1))
    corner = shapely.get_coordinates(art)
    assert tree.query(corner)[0].max() < 0.3


def test_the_same_job_gives_the_same_bytes():
    job = engine.read_job(document("cone", "all-axes"), known=KNOWN)
    again = engine.read_job(json.loads(json.dumps(document("cone", "all-axes"))), known=KNOWN)
    assert engine.plan(job, ASSETS).programs["engrave"].text == engine.plan(again, ASSETS).programs["engrave"].text


EGG = {"shape": "ovoid", "length_mm": 56, "breadth_mm": 42, "shift_mm": 0, "quarter_diameter_mm": 33}
SPIKES = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<polygon points="35.008,25.507 35.978,12.448 14.207,3.986 4.986,18.135 36.286,5.136"/></svg>"""
STROKES = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48"
fill="none" stroke="black"><polyline points="2,6 13,42 24,6 35,42 46,6"/><path d="M4 24 C10 5 30 45 44 20"/></svg>"""
ON_EGGS = {
    "finer than a cell, from view": ("leaf", 44.19, 19.79, 163.3, "from-view", "outline", 0.082, (60, 0.0, 0.2)),
    "fine where it is steep": ("leaf", 12.7, 17.9, 46.5, "conformal", "outline", 0.04, (20, 0.05, 3.175)),
    "spikes": ("spikes", 44.9, 4.46, 84.66, "from-view", "hatch", 0.059, (20, 0.05, 0.4)),
    "a wide point on a lean": ("strokes", 9.16, 5.41, 47.9, "equidistant", "outline", 0.312, (90, 0.05, 3.175)),
    "flank on the skin": ("strokes", 12.76, 7.6, 311.1, "conformal", "outline", 0.036, (120, 0.05, 3.175)),
    "strokes": ("strokes", 40.088, 4.0, 86.268, "equal-area", "outline", 0.05, (60, 0.0, 0.2)),
}


def on_egg(name):
    """The job of a case, its assets, its plan."""
    asset, x, width, turn, projection, style, depth, (angle, tip, diameter) = ON_EGGS[name]
    placement = {"x_mm": x, "angle_deg": 231.9, "width_mm": width, "turn_deg": turn, "projection": projection}
    tool = {"id": "own", "form": "cone", "angle_deg": angle, "tip_mm": tip, "diameter_mm": diameter}
    marking = {"style": style} | ({"pitch_mm": 0.2} if style == "hatch" else {})
    art = {"asset": asset, "tool": "own", "placement": placement, "marking": marking, "depth_mm": depth}
    told = {"schema": "roundwright.job/1", "name": "Duck egg", "blank": EGG | {"radius_error_mm": 0}}
    assets = {"leaf": LEAF, "spikes": SPIKES, "strokes": STROKES}
    known = engine.Known(assets=dict.fromkeys(assets, "vector"))
    job = engine.read_job(told | {"tools": [tool], "artwork": [art | {"direction": "any"}]}, known=known)
    return job, assets, engine.plan(job, assets)


@pytest.mark.parametrize("name", ON_EGGS)
def test_a_right_program_on_an_egg_is_not_refused_and_one_too_deep_or_beside_is(name):
    job, assets, plan = on_egg(name)
    assert [f for f in plan.findings if f.severity is engine.Severity.ERROR] == []
    item = job.items[0]
    radius = job.blank.skin(assets).radius(np.array([item.placement.x_mm]), np.zeros(1))[0]
    beside = np.degrees((0.5 + item.tool.width_mm(item.depth_mm)) / radius)
    text = plan.programs["engrave"].text.decode("ascii")
    for word, by in (("Z", -0.02 / np.cos(np.radians(50))), ("A", beside)):
        wrong = re.sub(rf"{word}(-?\d+\.\d+)", lambda m, w=word, b=by: f"{w}{float(m[1]) + b:.4f}", text)
        told = engine.prove_text(job, assets, wrong.encode("ascii"))["findings"]
        assert ("error", "deeper-than-asked") in {(f["severity"], f["code"]) for f in told}
