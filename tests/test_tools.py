"""A whole job with two tools: one change, each stroke with its own tool, told wherever a person looks, and going on."""

import re
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
import pytest

import engine
from engine.kernel.findings import Severity
from engine.marking import STYLES, Hatch, Shows
from engine.toolpath import change
from tests.test_plan import BADGE

LEAF = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<path d="M24 4 C34 10 40 20 38 32 C32 42 18 42 10 32 C8 20 14 10 24 4 Z M24 16 L20 30 L30 28 Z"
fill-rule="evenodd"/></svg>"""
ASSETS = {"badge": BADGE, "leaf": LEAF}
KNOWN = engine.Known(assets=dict.fromkeys(ASSETS, "vector"))
WIDE = {"id": "wide", "form": "flat", "diameter_mm": 0.8, "rpm_max": 10_000}


def document(*, machine=(), blank=(), x_mm=40):
    """A leaf hatched with a flat end, then a badge outlined with a cone."""
    leaf = {
        "asset": "leaf",
        "placement": {"x_mm": x_mm, "width_mm": 12},
        "marking": {"style": "hatch"},
        "depth_mm": 0.3,
        "tool": "wide",
    }
    badge = {
        "asset": "badge",
        "placement": {"x_mm": 60, "angle_deg": 40, "width_mm": 20},
        "marking": {"style": "outline"},
        "depth_mm": 0.2,
        "rpm": 9000,
    }
    return {
        "schema": "roundwright.job/1",
        "name": "Leaf and badge",
        "blank": {"radius_error_mm": 0, **(blank or {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90})},
        "artwork": [leaf, badge],
        "tools": [{"id": "cone-60"}, WIDE],
        "machine": dict(machine),
    }


def job_of(**changed):
    return engine.read_job(document(**changed), known=KNOWN)


def planned(**changed):
    return engine.plan(job_of(**changed), ASSETS)


def told(plan):
    return {(f.severity.value, f.code) for f in plan.findings}


@pytest.fixture(scope="module")
def plan():
    return planned()


def lines(program):
    return program.text.decode("ascii").splitlines()


def test_the_job_is_cut_with_one_change(plan):
    assert told(plan) == {("note", "rpm-held")}
    assert set(plan.programs) == {"engrave", "air", "walk"}
    text = lines(plan.programs["engrave"])
    assert [line for line in text if line[:1] == "T"] == ["T2"] and text.count("M0") == 1
    assert [line for line in text if " M3" in line] == ["S10000 M3", "S9000 M3"]
    for kind in ("air", "walk"):
        assert not {"T2", "M0"} & set(lines(plan.programs[kind]))
    assert plan.report["fidelity"]["cut_on_art"] > 0.9 and plan.report["fidelity"]["art_cut"] > 0.99


def test_each_tool_cuts_its_own_art_and_strokes_run_on(plan):
    wide, cone = plan.report["tools"]
    assert (wide["id"], cone["id"]) == ("wide", "cone-60")
    assert (wide["from_stroke"], cone["to_stroke"]) == (1, plan.report["strokes"])
    assert cone["from_stroke"] == wide["to_stroke"] + 1
    shown = plan.preview
    by_stroke = dict(zip(shown["stroke_number"].tolist(), shown["stroke_item"].tolist(), strict=True))
    assert all(item == (number >= cone["from_stroke"]) for number, item in by_stroke.items())
    assert plan.preview_meta["tools"] == plan.report["tools"]


def test_times_and_lengths_add_up(plan):
    tools, report = plan.report["tools"], plan.report
    assert sum(tool["cut_mm"] for tool in tools) == pytest.approx(report["cut_mm"], abs=0.02)
    assert sum(tool["time_s"] for tool in tools) == pytest.approx(report["time_s"]["total"], abs=0.02)
    assert report["time_s"]["dwell"] == 4.0
    sides = np.hypot([4.0, 0.0], [0.0, 0.0])[0] + 2 * np.hypot(2.0, 4.0)  # the badge's triangle, 4 wide and 4 high
    assert tools[1]["cut_mm"] == pytest.approx(sides, rel=0.02)


def test_the_header_and_the_stop_tell_each_tool_and_where_its_zero_is_set(plan):
    text = "\n".join(lines(plan.programs["engrave"]))
    body = text.index("G21 G90")
    assert re.search(r"^\(tool 1 of 2: wide: flat, 0.8 mm, strokes 1 to \d+, in from the start\)", text[:body], re.M)
    assert re.search(r"^\(tool 2 of 2: cone-60: cone, 3.175 mm", text[:body], re.M)
    assert "and the changes of tool" in text[:body]
    stop = text[text.rindex("M5", 0, text.index("\nM0\n")) : text.index("\nM0\n")]
    touch = plan.report["tools"][1]["touch_off"]["first"]["words"].rsplit(" ", 1)
    assert f"(touch off: tip on the skin at {touch[0]}: set {touch[1]})" in stop
    assert "(MSG, fit tool 2, set Z again)" in stop


def test_the_tool_is_changed_over_the_place_where_its_zero_is_set(plan):
    text = lines(plan.programs["engrave"])
    k = text.index("M5")
    x, a, _ = plan.report["tools"][1]["touch_off"]["first"]["words"].split()
    assert [float(word[1:]) for word in text[k - 1].removeprefix("G0 ").split()] == [float(x[1:]), float(a[1:])]
    assert float(re.search(r"Z([\d.]+)", text[k - 2])[1]) > 20 + change.CHANGE_LIFT_MM


def test_the_sheet_holds_both_tools(plan):
    wide, cone = plan.sheet["tools"]
    assert (wide["form"], cone["form"], wide["rpm"], cone["rpm"]) == ("flat", "cone", 10_000, 9000)
    assert [art["tools"] for art in plan.sheet["art"]] == [["wide"], ["cone-60"]]


def test_going_on_from_a_stroke_begins_with_its_tool(plan):
    first = plan.report["tools"][1]["from_stroke"]
    before, after = (lines(plan.program("engrave", from_stroke=k)) for k in (first - 1, first))
    assert before.count("M0") == 1 and "S10000 M3" in before
    assert after.count("M0") == 0 and [line for line in after if " M3" in line] == ["S9000 M3"]
    (named,) = [line for line in after if line.startswith("(tool")]
    assert named.startswith("(tool 2 of 2: cone-60")
    for text in (before, after):
        facts = engine.prove_text(job_of(), ASSETS, "\n".join([*text, ""]).encode())
        assert {f["code"] for f in facts["findings"] if f["severity"] == "error"} == set()


def test_any_of_its_texts_is_proven_by_itself(plan):
    for kind, program in plan.programs.items():
        facts = engine.prove_text(job_of(), ASSETS, program.text)
        assert {f["code"] for f in facts["findings"]} <= {"rpm-held"}, kind
    lost = plan.programs["engrave"].text.replace(b"\nT2\nM0\n", b"\n")
    codes = {f["code"] for f in engine.prove_text(job_of(), ASSETS, lost)["findings"]}
    assert {"tool-changes", "edited"} <= codes
    whole = plan.programs["engrave"].text
    bare = b"\n".join(line for line in whole.split(b"\n") if line[:1] != b"(")
    for text in (bare, whole[whole.index(b"G21 G90") :]):  # no comment at all; no header, but what the stop says
        facts = engine.prove_text(job_of(), ASSETS, text)
        assert {f["code"] for f in facts["findings"] if f["severity"] == "error"} == set()


def test_a_surface_zero_stays_the_first_tools_and_the_others_are_told_by_how_much_they_differ():
    """On an egg's slope a flat end touches with its rim and a cone near its tip: the same zero, another word."""
    egg = {"shape": "ovoid", "length_mm": 80, "breadth_mm": 50, "shift_mm": 2, "quarter_diameter_mm": 42}
    plan = planned(machine={"z_zero": "surface"}, blank=egg, x_mm=30)
    assert not any(severity == "error" for severity, _ in told(plan))
    wide, cone = (tool["touch_off"]["first"] for tool in plan.report["tools"])
    assert wide["words"].endswith("Z0.000") and wide["words"].rsplit(" ", 1)[0] == cone["words"].rsplit(" ", 1)[0]
    off = float(cone["words"].rsplit("Z", 1)[1])
    assert off == pytest.approx(cone["radius_mm"] - wide["radius_mm"], abs=1e-3) and off < -0.01


def test_a_place_that_is_cut_before_the_zero_is_set_again_is_told():
    on_the_leaf = {"touch_off": {"x_mm": 40, "angle_deg": 8}}
    assert ("warning", "touch-off-cut") in told(planned(machine=on_the_leaf))
    beside = {"touch_off": {"x_mm": 40, "angle_deg": 180}}
    assert ("warning", "touch-off-cut") not in told(planned(machine=beside))


def test_a_tool_without_a_stroke_is_none_of_the_programs():
    empty = document()
    empty["artwork"][1] |= {"marking": {"style": "hatch", "inset_mm": 50}}
    plan = engine.plan(engine.read_job(empty, known=KNOWN), ASSETS)
    assert [tool["id"] for tool in plan.report["tools"]] == ["wide"]
    assert ("error", "tool-changes") not in told(plan)


def test_parking_machines_change_where_they_park():
    plan = planned(machine={"park": {"x_mm": 80, "angle_deg": 0, "lift_mm": 15}, "tool_change": "changer"})
    text = lines(plan.programs["engrave"])
    k = text.index("T2 M6")
    assert text[k + 1] == "M0"
    assert any(line.startswith(("X80.0000", "G0 X80.0000")) for line in text[k - 8 : k])


def test_the_same_job_gives_the_same_bytes(plan):
    assert plan.programs["engrave"].text == planned().programs["engrave"].text


@dataclass(frozen=True, slots=True, kw_only=True)
class Halved:
    """A hatch of which a clearing tool cuts every second line: stands in for a style that clears."""

    shows: ClassVar[Shows] = Shows(fills=True, draws_rings=False)
    pitch_mm: float = 0.6

    def mark(self, drawing, layout):
        marked = Hatch(pitch_mm=self.pitch_mm, inset_mm=0.5).mark(drawing, layout)
        clears = np.arange(len(marked.strokes)) % 2 == 0
        return replace(marked, strokes=replace(marked.strokes, clears=clears))


def test_strokes_that_clear_are_cut_first_and_by_the_clearing_tool(monkeypatch):
    monkeypatch.setitem(STYLES, "halved", Halved)
    job = job_of()
    wide, cone = job.tools
    both = replace(job.items[0], tool=cone, clearing=wide, style=Halved())
    plan = engine.plan(replace(job, items=(both,), tools=(wide, cone)), ASSETS)
    assert not any(severity == "error" for severity, _ in told(plan))
    first, second = plan.report["tools"]
    assert (first["id"], second["id"]) == ("wide", "cone-60") and min(first["strokes"], second["strokes"]) > 3
    assert plan.sheet["art"][0]["tools"] == ["wide", "cone-60"]
    groove = plan.report["made"]["line_mm"]
    assert groove["least"] >= 0.35  # the cone's, and not only the flat end's
    alone = engine.plan(replace(job, items=(replace(both, clearing=None),), tools=(cone,)), ASSETS)
    assert [tool["id"] for tool in alone.report["tools"]] == ["cone-60"]
    assert alone.report["strokes"] == first["strokes"] + second["strokes"]


def test_a_wide_cone_beside_the_art_touches_skin_that_is_left():
    """Three millimetres beside the art the shank of a cone of six lies over it; its tip does not."""
    both = document()
    both["tools"][0] |= {"diameter_mm": 6.2}
    assert ("warning", "touch-off-cut") not in told(engine.plan(engine.read_job(both, known=KNOWN), ASSETS))


def found_of(told_of):
    plan = engine.plan(engine.read_job(told_of, known=KNOWN), ASSETS)
    return {f.code: f for f in plan.findings}, plan


def test_a_tool_that_no_art_names_is_told_at_its_place_and_stays_out():
    listed = document() | {"tools": [{"id": "cone-60"}, {"id": "spare", "form": "ball"}, WIDE]}
    found, plan = found_of(listed)
    assert found["tool-unused"].where.pointer == "/tools/1" and "spare" in found["tool-unused"].message
    assert found["tool-unused"].severity is Severity.NOTE and "engrave" in plan.programs
    assert [tool["id"] for tool in plan.report["tools"]] == ["wide", "cone-60"]
    assert "tool-unused" not in found_of(document())[0]
    assert "tool-unused" not in found_of(listed | {"artwork": []})[0]


@pytest.mark.parametrize(
    ("marking", "depth_mm", "clears"),
    [
        ({"style": "v-depth"}, 6.0, False),  # the cone reaches every width of the leaf
        ({"style": "v-depth"}, 0.2, True),
        ({"style": "relief", "scallop_mm": 0.05, "stock_mm": 0.3}, 0.3, False),
        ({"style": "relief", "scallop_mm": 0.05, "stock_mm": 0.05}, 0.3, True),
    ],
)
def test_a_clearing_tool_that_finds_nothing_to_clear_is_told_at_its_field(marking, depth_mm, clears):
    leaf = document()["artwork"][0] | {"tool": "cone-60", "depth_mm": depth_mm, "repeat": {"times": 2}}
    leaf |= {"marking": marking | {"clearing_tool": "wide"}, "name": "leaf", "direction": "any"}
    found, plan = found_of(document() | {"artwork": [leaf], "tools": [{"id": "cone-60", "diameter_mm": 12}, WIDE]})
    assert ("wide" in [tool["id"] for tool in plan.report["tools"]]) is clears
    assert ("clears-nothing" in found) is not clears and "tool-unused" not in found
    if not clears:
        assert found["clears-nothing"].where.pointer == "/artwork/0/marking/clearing_tool"
        assert found["clears-nothing"].message.startswith("wide has nothing to clear in leaf (art 1): no part")
        assert len([f for f in plan.findings if f.code == "clears-nothing"]) == 1


GREY_LEAF = {"tone": {"threshold": 90}, "marking": {"style": "halftone"}}


@pytest.mark.parametrize(
    ("change", "pointer", "why"),
    [
        (
            {"marking": {"style": "hatch", "lines": "helix", "angle_deg": 30}},
            "marking/angle_deg",
            "its lines are helix",
        ),
        ({"marking": {"style": "halftone", "lines": "rings", "angle_deg": 5}}, "marking/angle_deg", "lines are rings"),
        ({"marking": {"style": "hatch", "lines": "straight", "angle_deg": 30}}, None, ""),
        ({"marking": {"style": "hatch", "lines": "helix"}}, None, ""),
        ({"marking": {"style": "relief", "scallop_mm": 0.05, "stock_mm": 0.2}}, "marking/stock_mm", "is roughed"),
        ({"marking": {"style": "relief", "scallop_mm": 0.05, "stock_mm": 0.05, "rough_step_mm": 0.1}}, None, ""),
        (GREY_LEAF, "tone/threshold", "light and dark"),
        (GREY_LEAF | {"marking": {"style": "outline"}}, None, ""),
    ],
)
def test_a_setting_that_its_style_has_no_use_for_is_told_at_its_field(change, pointer, why):
    leaf = document()["artwork"][0] | {"tool": "cone-60", "name": "leaf", "repeat": {"times": 2}} | change
    told_of = document() | {"artwork": [leaf], "tools": [{"id": "cone-60"}]}
    _, plan = found_of(told_of)
    notes = [f for f in plan.findings if f.code == "setting-unused"]
    assert [f.where.pointer for f in notes] == ([] if pointer is None else [f"/artwork/0/{pointer}"])
    assert all(f.severity is Severity.NOTE and why in f.message and "leaf (art 1)" in f.message for f in notes)
