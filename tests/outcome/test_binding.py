"""A program says for which state of which job it was made; a text that was changed, or a job that was, is told."""

import copy
import re
from dataclasses import replace

import pytest

import engine
from engine.marking import Hatch, Outline
from engine.outcome.binding import _said, job_code
from tests.test_plan import ASSETS, KNOWN, document

PLAN = engine.plan(engine.read_job(document(), known=KNOWN), ASSETS)


def found(text, **changed):
    job = engine.read_job(document(**changed), known=KNOWN)
    told = engine.prove_text(job, ASSETS, text)["findings"]
    return {(f["severity"], f["code"]) for f in told if f["code"] in ("edited", "stale")}


@pytest.mark.parametrize("kind", ["engrave", "air", "walk"])
@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_a_program_fits_the_job_that_it_was_made_for(kind, ends):
    assert found(PLAN.programs[kind].text.replace(b"\n", ends)) == set()


def test_a_changed_line_is_told_and_a_comment_of_the_header_is_not():
    text = PLAN.programs["engrave"].text
    assert found(text.replace(b"(stroke 1)\n", b"(stroke 1)\nM8\n")) == {("note", "edited")}
    assert found(text.replace(b"(job: Badge)", b"(job: Other)")) == set()


def test_a_changed_job_makes_its_program_stale_and_a_new_name_does_not():
    text = PLAN.programs["engrave"].text
    for changed in (
        {"art": {"depth_mm": 0.3}},
        {"blank": {"diameter_mm": 41}},
        {"machine": {"decimals": 3}},
        {"x_mm": 47},
    ):
        assert found(text, **changed) == {("warning", "stale")}
    other = copy.deepcopy(document())
    other["name"] = other["artwork"][0]["name"] = "Another"
    other["acknowledged"] = ["beside-art"]
    other["artwork"][0]["placement"]["turn_deg"] = 0  # what was taken by default, said
    assert job_code(engine.read_job(other, known=KNOWN)) == job_code(engine.read_job(document(), known=KNOWN))
    assert PLAN.report["program"]["job_code"] == job_code(engine.read_job(document(), known=KNOWN))


def test_the_code_counts_what_is_said_and_no_field_at_its_default():
    job = engine.read_job(document(), known=KNOWN)
    held = _said(job.machine)
    assert held == {"kind": "Profile"} and set(_said(job.items[0])) >= {"depth_mm", "placement", "tool"}
    turned = replace(job.machine, rotary=replace(job.machine.rotary, reversed=True), decimals=3)
    assert _said(turned) == {
        "kind": "Profile",
        "rotary": {"kind": "Axis", "letter": "A", "reversed": True, "rapid_per_min": 3600.0, "accel_per_s2": 720.0},
        "decimals": 3,
    }
    styles = [_said(style) for style in (Outline(), Hatch(pitch_mm=0.3))]
    assert styles == [{"kind": "Outline"}, {"kind": "Hatch", "pitch_mm": 0.3}]
    marks = {repr(_said(replace(job.machine, decimals=n))) for n in range(1, 7)}
    assert len(marks) == 6


def test_a_text_of_anothers_making_is_not_judged_by_codes_it_lacks():
    assert found(b"G21 G90 G94\nG0 Z30\nM2\n") == set()


@pytest.mark.parametrize("kind", ["air", "walk"])
def test_an_air_run_and_a_walk_are_proven_as_what_they_say_they_are(kind):
    job = engine.read_job(document(), known=KNOWN)
    text = PLAN.programs[kind].text
    assert [f for f in engine.prove_text(job, ASSETS, text)["findings"] if f["severity"] != "note"] == []
    low = re.sub(rb"Z(2\d\.\d+)", lambda m: b"Z%.4f" % (float(m[1]) - 5.0), text)
    told = {f["code"] for f in engine.prove_text(job, ASSETS, low)["findings"] if f["severity"] == "error"}
    assert "too-low" in told
    claimed = PLAN.programs["engrave"].text.replace(b"(program: engraving)", b"(program: air run)")
    told = {f["code"] for f in engine.prove_text(job, ASSETS, claimed)["findings"] if f["severity"] == "error"}
    assert {"too-low", "spindle-on"} <= told


@pytest.mark.parametrize("way", [bytes.lower, lambda text: text.replace(b"\n", b"\r")])
def test_a_text_in_other_letters_or_line_ends_is_bound_all_the_same(way):
    text = PLAN.programs["engrave"].text
    assert ("warning", "stale") in found(way(text), art={"depth_mm": 0.3})
    assert ("note", "edited") in found(way(text.replace(b"(stroke 1)\n", b"(stroke 1)\nM8\n")))
