"""A whole plan: every program it gives is proven, what it withholds it says, and no place it names is among jaws."""

import re

import pytest

import engine
from engine.kernel.errors import JobError, ProgramError

BADGE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20">
<path d="M8 8 L12 8 L10 12 Z"/></svg>"""
RING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="3mm" height="3mm" viewBox="0 0 20 20">
<circle cx="10" cy="10" r="9" fill="none" stroke="#000" stroke-width=".01"/></svg>"""
ASSETS = {"badge": BADGE, "ring": RING}
KNOWN = engine.Known(assets=dict.fromkeys(ASSETS, "vector"))


def document(*, x_mm=46, blank=(), art=(), machine=()):
    """A small triangle in the middle of wide margins, on a bar of 40 by 90."""
    return {
        "schema": "roundwright.job/1",
        "name": "Badge",
        "blank": {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90, "radius_error_mm": 0, **dict(blank)},
        "artwork": [
            {
                "asset": "badge",
                "placement": {"x_mm": x_mm, "angle_deg": 0, "width_mm": 20},
                "marking": {"style": "outline"},
                "depth_mm": 0.2,
                **dict(art),
            }
        ],
        "machine": dict(machine),
    }


def planned(**changed):
    return engine.plan(engine.read_job(document(**changed), known=KNOWN), ASSETS)


def told(plan):
    return {(f.severity.value, f.code) for f in plan.findings}


def words(program, letter):
    body = re.sub(rb"\([^)]*\)", b"", program.text).decode()
    return [float(v) for v in re.findall(rf"{letter}(-?[\d.]+)", body)]


def test_a_plain_plan_gives_three_programs_and_no_findings():
    plan = planned()
    assert set(plan.programs) == {"engrave", "air", "walk"} == set(plan.report["program"]["kinds"])
    assert told(plan) == set()
    assert min(words(plan.programs["walk"], "X")) == pytest.approx(36) and "hook" in plan.programs["walk"].text.decode()


def test_a_walk_that_would_run_into_hardware_goes_round_what_is_cut():
    jaws = [{"from_mm": -40, "to_mm": 40, "why": "chuck"}]
    plan = planned(blank={"keep_out": jaws})
    assert told(plan) == set()
    assert min(words(plan.programs["walk"], "X")) > 40 + 1.5875
    walk = planned(blank={"keep_out": [{"from_mm": -40, "to_mm": 30, "why": "chuck"}]}).programs["walk"]
    assert min(words(walk, "X")) == pytest.approx(36)


def test_an_idle_program_that_would_not_be_idle_or_leaves_an_axis_is_withheld_and_the_engraving_is_not():
    plan = planned(machine={"header": ["M3 S200"]})  # the spindle would turn in the air
    assert {("warning", "walk-withheld"), ("warning", "air-withheld")} <= told(plan)
    assert set(plan.programs) == {"engrave"}
    with pytest.raises(ProgramError, match="no walk program is given: the spindle turns"):
        plan.program("walk")
    narrow = {"axes": {"radial": {"max_mm": 22.1}}}
    plan = planned(machine=narrow)
    assert ("warning", "air-withheld") in told(plan)
    assert set(plan.programs) == {"engrave", "walk"} == set(plan.report["program"]["kinds"])
    assert b"no air program is given" in plan.programs["engrave"].text.replace(b"\n", b" ")
    with pytest.raises(ProgramError):
        plan.program("air")


def test_hops_over_a_steady_go_over_its_reach_or_as_high_as_can_be():
    def over(**steady):
        doc = document(x_mm=20, blank={"keep_out": [{"from_mm": 40, "to_mm": 48, "why": "steady", **steady}]})
        second = {**doc["artwork"][0], "placement": {"x_mm": 70, "angle_deg": 0, "width_mm": 20}}
        doc["artwork"].append(second)
        return engine.plan(engine.read_job(doc, known=KNOWN), ASSETS)

    known = over(radius_mm=31.0)
    assert told(known) == set()
    assert max(words(known.programs["engrave"], "Z")) == pytest.approx(33.0, abs=0.01)
    unknown = over()
    assert told(unknown) == {("warning", "keep-out-height")}
    low = over(radius_mm=15.0)
    assert told(low) == set()


def test_a_park_among_jaws_is_told_and_gone_to_over_their_reach():
    jaws = [{"from_mm": -40, "to_mm": 10, "why": "chuck"}]
    plan = planned(blank={"keep_out": jaws}, machine={"park": {"x_mm": -20, "lift_mm": 5}})
    assert told(plan) == {("warning", "keep-out-height")}
    jaws[0]["radius_mm"] = 60
    plan = planned(blank={"keep_out": jaws}, machine={"park": {"x_mm": -20, "lift_mm": 5}})
    assert told(plan) == set() and max(words(plan.programs["engrave"], "Z")) == pytest.approx(67, abs=0.01)


@pytest.mark.parametrize(("low", "high"), [(-5, 40), (52, 90), (-5, 39), (41, 43.5)])
def test_touch_off_places_keep_clear_of_hardware(low, high):
    plan = planned(blank={"keep_out": [{"from_mm": low, "to_mm": high}]}, x_mm=46)
    for place in plan.report["touch_off"].values():
        assert not low - 1.5 < place["x_mm"] < high + 1.5 and 0 < place["x_mm"] < 90


@pytest.mark.parametrize("x_mm", [-1, 90.5, 7])
def test_a_machines_own_touch_off_must_be_reachable(x_mm):
    doc = document(blank={"keep_out": [{"from_mm": -5, "to_mm": 6, "why": "chuck"}]})
    doc["machine"] = {"z_zero": "surface", "touch_off": {"x_mm": x_mm}}
    with pytest.raises(JobError) as caught:
        engine.read_job(doc, known=KNOWN)
    (problem,) = caught.value.problems
    assert (problem.pointer, problem.given) == ("/machine/touch_off/x_mm", x_mm)
    doc["machine"]["touch_off"]["x_mm"] = 9
    assert engine.read_job(doc, known=KNOWN)


@pytest.mark.parametrize("play", [{}, {"axial": {"backlash_mm": 0.3}, "rotary": {"backlash_deg": 1.0}}])
def test_every_stroke_can_be_gone_on_from_and_comes_with_its_play_taken_up(play):
    plan = planned(machine={"axes": play}, art={"direction": "any"})
    last = plan.report["strokes"]
    for stroke in range(1, last + 1):
        text = plan.program("engrave", from_stroke=stroke).text.decode()
        assert f"(stroke {stroke})" in text and f"from stroke {stroke} on" in text
        over = re.findall(r"^(?:G0 )?(?:X(\S+) ?)?(?:A(\S+))?$", text.partition("G17")[2].partition("G1 ")[0], re.M)
        stops = [stop for stop in over if any(stop)]
        assert len(stops) == (2 if play else 1)  # aside first, where there is play
    with pytest.raises(ProgramError) as caught:
        plan.program("engrave", from_stroke=last + 1)
    assert caught.value.where == "from_stroke"


def test_rotary_limits_that_no_turn_fits_are_a_finding_and_the_rest_is_shown():
    plan = planned(machine={"axes": {"rotary": {"min_deg": 90, "max_deg": 180}}})
    assert told(plan) == {("error", "reach-fault")}
    assert plan.findings[0].where.pointer == "/machine/axes/rotary"
    assert len(plan.preview["skin_x"]) and not plan.programs


@pytest.mark.parametrize("turn_deg", [0, 45, 90])
@pytest.mark.parametrize("angle_deg", [182, 187, 189, 191])
def test_a_curved_stroke_is_turned_into_the_rotarys_range_as_a_whole(angle_deg, turn_deg):
    place = {"angle_deg": angle_deg, "turn_deg": turn_deg}
    room = {"axes": {"rotary": {"min_deg": -190, "max_deg": 190}}}
    art = {"asset": "ring", "direction": "any", "placement": {"x_mm": 46, "width_mm": 3, **place}}
    plan = planned(art=art, machine=room)
    assert plan.programs and max(map(abs, words(plan.programs["engrave"], "A"))) <= 190


def test_a_flank_that_cuts_into_a_shoulder_far_beside_the_art_withholds_the_program():
    throat = ((-40, 30), (-30, 60), (-12, 35), (5, 36), (20, 70), (44, 20))
    doc = document(
        art={"depth_mm": 0.9, "tool": "wide", "placement": {"x_mm": -7.88, "angle_deg": 180, "height_mm": 15}}
    )
    doc["blank"] = {"shape": "stations", "stations": [{"x_mm": x, "diameter_mm": d} for x, d in throat]}
    doc["tools"] = [{"id": "wide", "form": "cone", "diameter_mm": 12, "tip_mm": 0, "angle_deg": 90}]
    doc["artwork"][0] |= {"asset": "ring"}
    doc["artwork"][0]["placement"]["width_mm"] = 3
    plan = engine.plan(engine.read_job(doc, known=KNOWN), ASSETS)
    assert ("error", "deeper-than-asked") in told(plan) and not plan.programs
    place = next(f.where for f in plan.findings if f.code == "deeper-than-asked")
    assert -30 < place.x_mm < -17  # the shoulder, not the art


def test_a_park_beyond_the_thick_end_of_a_cone_goes_over_its_edge():
    doc = document(machine={"park": {"x_mm": -10, "lift_mm": 0}}, art={"tool": "fine"})
    doc["blank"] = {"shape": "cone", "diameter_mm": 70, "end_diameter_mm": 24, "length_mm": 60}
    doc["tools"] = [{"id": "fine", "form": "cone", "diameter_mm": 0.3, "tip_mm": 0.2, "angle_deg": 30}]
    assert "rapid-too-low" not in {code for _, code in told(engine.plan(engine.read_job(doc, known=KNOWN), ASSETS))}


def test_a_text_is_judged_without_art_too():
    job = engine.read_job(document() | {"artwork": []}, known=KNOWN)
    crash = b"G21 G90 G94\nG0 Z30\nG0 X45 A0\nG0 Z5\nG0 A90\nM2\n"
    codes = {(f["severity"], f["code"]) for f in engine.prove_text(job, {}, crash)["findings"]}
    assert ("error", "rapid-too-low") in codes and ("note", "nothing-asked") in codes


def test_speeds_of_the_spindle_that_differ_are_told():
    doc = document()
    doc["artwork"].append({**doc["artwork"][0], "rpm": 9000})
    doc["tools"] = [{"id": "cone", "form": "cone", "diameter_mm": 3, "tip_mm": 0.1, "angle_deg": 60, "rpm_max": 8000}]
    plan = engine.plan(engine.read_job(doc, known=KNOWN), ASSETS)
    assert {("warning", "rpm-shared"), ("note", "rpm-held")} <= told(plan)
    assert b"S8000 M3" in plan.programs["engrave"].text


def test_the_time_counts_the_wait_for_the_spindle():
    short, long = (planned(machine={"dwell_s": s}).report["time_s"] for s in (0, 30))
    assert long["total"] - short["total"] == pytest.approx(30, abs=0.02)
    assert sum(v for k, v in long.items() if k != "total") == pytest.approx(long["total"], abs=0.05)


def test_words_too_coarse_for_the_depth_are_an_error():
    plan = planned(machine={"decimals": 1}, blank={"diameter_mm": 40.1})
    assert ("error", "deeper-than-asked") in told(plan)


def test_a_radial_axis_with_play_is_told():
    doc = document(blank={"shape": "cone", "end_diameter_mm": 60}, art={"direction": "any"})
    doc["machine"] = {"axes": {"radial": {"backlash_mm": 0.05}}}
    plan = engine.plan(engine.read_job(doc, known=KNOWN), ASSETS)
    assert ("warning", "play") in told(plan)


def test_the_walk_too_turns_into_the_rotarys_range():
    doc = document(machine={"axes": {"rotary": {"min_deg": -400, "max_deg": 400}}})
    doc["artwork"][0]["placement"]["angle_deg"] = -500
    plan = engine.plan(engine.read_job(doc, known=KNOWN), ASSETS)
    assert told(plan) == set() and set(plan.programs) == {"engrave", "air", "walk"}
    assert min(words(plan.programs["walk"], "A")) >= -400 and max(words(plan.programs["walk"], "A")) <= 400


def test_a_controller_of_short_lines_gets_a_header_that_fits_and_its_codes_whole():
    job = engine.read_job(document(machine={"longest_line": 64}), known=KNOWN)
    plan = engine.plan(job, ASSETS)
    lines = plan.programs["engrave"].text.splitlines()
    assert max(map(len, lines)) <= 64 and "line-too-long" not in {f.code for f in plan.findings}
    assert any(line.startswith(b"(made for: job ") and line.endswith(b")") for line in lines)
    assert engine.prove_text(job, ASSETS, plan.programs["engrave"].text)["findings"] == []
