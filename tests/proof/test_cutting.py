"""Speeds beside published tables (REFERENCES section 5: V4, V7 and the ranges): advice, and only where they speak."""

import math

import pytest

from engine.kernel.values import Form, Tool
from engine.proof.cutting import rpm_of
from tests.proof.programs import FEED, lines, proof_of

FLAT = Tool(form=Form.FLAT, diameter_mm=3.0, flutes=2)


def told(material, *, rpm=9000, tool=FLAT):
    text = [line.replace("S9000", f"S{rpm}") for line in lines()]
    found = proof_of(text, tool=tool, material=material, wanted=None).findings
    return {f.code: f for f in found if f.code in ("chip-load", "surface-speed")}


def test_the_speed_is_the_programs_own():
    assert rpm_of(b"(S5)\nG21 S9000 M3\nS12000\n") == 12000
    assert rpm_of(b"G21\n") == 0
    for line in (b"G21G90S9000M3", b"g21 s9000 m3", b"(S5 x) S9000 M3", b"S 9000 M3 ; S20000"):
        assert rpm_of(line) == 9000


def test_v4_surface_speed():
    assert math.pi * 3 * 20000 / 1000 == pytest.approx(188.4955592)
    # Aluminium: 300 ft/min for high-speed steel, double for carbide: 183 m/min. A flat end of 3 mm runs at 188.
    found = told("aluminium tube", rpm=20000)["surface-speed"]
    assert found.severity.value == "warning" and "188 m/min" in found.message and "183 (carbide)" in found.message
    assert "19404 rev/min" in found.advice
    assert "surface-speed" not in told("aluminium tube", rpm=19000)


def test_chip_load_above_below_and_within():
    # V7: feed / (rpm x flutes). Hardwood: 0.003 to 0.005 inch, 0.076 to 0.127 mm.
    assert told("oak", rpm=600)["chip-load"].severity.value == "warning"  # 0.2 mm
    assert f"{FEED / 1200:.3f} mm a tooth" in told("oak", rpm=600)["chip-load"].message
    assert told("oak", rpm=9000)["chip-load"].severity.value == "note"
    assert "chip-load" not in told("oak", rpm=1200)  # 0.1 mm


@pytest.mark.parametrize("material", ["", "dried gourd", "duck egg", "glass", "oakum"])
def test_where_no_table_speaks_nothing_is_said(material):
    assert told(material, rpm=60) == {}


def test_a_cone_is_no_mill_of_three_millimetres():
    assert "chip-load" not in told("oak", rpm=600, tool=Tool())
