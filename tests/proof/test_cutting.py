"""Feed and speed against published ranges: the figures, the words matched, and no nagging."""

import re

import numpy as np
import pytest

from engine.kernel.values import Form, Tool
from engine.machine import Profile
from engine.proof.cutting import judge_cutting
from engine.proof.cutting_table import material_of
from engine.proof.depths import Cuts
from engine.proof.replay import replay
from engine.proof.rs274_reader import read
from tests.proof.programs import codes, lines, proof_of

FLAT = Tool(form=Form.FLAT, diameter_mm=3.175, flutes=2)


def found(feed, rpm, material, *, tool=FLAT, depth=0.5, turning="M3"):
    """What is told of a cut along a bar."""
    text = (
        f"G21 G90 G94\nS{rpm} {turning}\nG0 Z25\nG0 X10 A0\nG1 Z{20 - depth} F60\nG1 X40 F{feed}\nG0 Z25\nM2\n".encode()
    )
    told = replay(read(text), Profile(), zero_r_mm=0.0)
    cuts = Cuts(
        place=told.end,
        depth_mm=np.full(len(told), depth),
        cuts=(told.line == 6),
        final_mm=np.zeros(0),
        final_at=np.zeros((0, 3)),
        final_cos=np.zeros(0),
        final_way_mm=np.zeros(0),
    )
    return judge_cutting(told, cuts, tool, material)


def kinds(*args, **words):
    return [(f.severity.value, f.code) for f in found(*args, **words)]


def test_a_tooth_takes_what_the_published_example_says():  # V7: 600 / (20000 x 2) = 0.015 mm
    (told,) = found(600, 20_000, "oak")
    assert (told.severity.value, told.code) == ("note", "chip-load") and "0.015 mm" in told.message
    assert "0.076 to 0.127" in told.message and "two vendors" in told.message and "hardwood" in told.message
    assert told.advice.startswith("feed 3100 to 5000 mm/min") and told.where.line == 6


@pytest.mark.parametrize(
    ("chip", "told"),
    [(0.07, [("note", "chip-load")]), (0.08, []), (0.12, []), (0.14, [("warning", "chip-load")])],
)
def test_the_range_is_the_published_one(chip, told):
    assert kinds(chip * 2 * 12_000, 12_000, "lime wood") == told


def test_the_advice_leads_back_into_the_range():
    (told,) = found(6000, 10_000, "beech")
    feed, rpm = (float(v) for v in re.findall(r"([\d.]+) (?:mm|rev)/min", told.advice))
    assert kinds(feed, 10_000, "beech") == [] == kinds(6000, rpm, "beech")
    (told,) = found(6000, 10_000, "beech", tool=Tool(form=Form.FLAT, diameter_mm=3.175, flutes=2, rpm_max=12_000))
    assert "rev/min" not in told.advice  # the tool may not turn so fast


def test_a_slimmer_tool_is_told_of_too_much_alone_and_a_wider_one_of_too_little():
    slim, wide = Tool(), Tool(form=Form.FLAT, diameter_mm=12)
    assert kinds(100, 12_000, "wood", tool=slim, depth=0.2) == []
    assert kinds(2000, 12_000, "wood", tool=slim, depth=0.2) == [("warning", "chip-load")]
    assert kinds(2000, 6_000, "wood", tool=wide) == []
    assert kinds(200, 6_000, "wood", tool=wide) == [("note", "chip-load")]


def test_the_edge_runs_as_fast_as_the_published_example_says():  # V4: D 3 at 20000 is 188.5 m/min
    three = Tool(form=Form.FLAT, diameter_mm=3, flutes=1)
    (told,) = found(100, 20_000, "brass", tool=three)
    assert (told.severity.value, told.code) == ("warning", "surface-speed") and "at 188 m/min" in told.message
    assert "46 to 92" in told.message and "Machinery's Handbook" in told.message
    assert told.advice == "turn at 9700 rev/min or less"
    assert kinds(100, 9_700, "brass", tool=three) == []


def test_slower_than_a_single_figure_is_no_matter_and_slower_than_a_range_is_a_note():
    three = Tool(form=Form.FLAT, diameter_mm=3, flutes=1)
    assert kinds(100, 2_000, "brass", tool=three) == []
    assert kinds(400, 4_000, "plastic", tool=three) == [("note", "surface-speed")]


def test_nothing_is_said_of_rubbing_below_a_depth_of_one_width():
    assert kinds(600, 20_000, "oak", depth=3.0) == [("note", "chip-load")]
    assert kinds(600, 20_000, "oak", depth=3.3) == []
    assert kinds(6000, 20_000, "oak", depth=3.3) == [("warning", "chip-load")]


def test_a_balls_width_counts_at_its_depth():  # a table of a maker: D 6, ap 0.5 is 3.317 wide
    ball = Tool(form=Form.BALL, diameter_mm=6)
    (told,) = found(100, 30_000, "stainless steel", tool=ball, depth=0.5)
    assert "3.32 mm wide" in told.message and "at 313 m/min" in told.message


def test_too_slow_is_told_only_where_a_spindle_gets_there():
    wheel = Tool(form=Form.FLAT, diameter_mm=10)
    assert kinds(100, 10_000, "glass float", tool=wheel) == [("note", "surface-speed")]  # 8 m/s is 15 280 (V3)
    assert kinds(100, 15_280, "glass float", tool=wheel) == []
    assert kinds(100, 10_000, "glass float", tool=Tool(form=Form.BALL, diameter_mm=1)) == []


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("turned pear wood", "hardwood"),
        ("Turned PEAR-wood, oiled", "hardwood"),
        ("pine", "softwood"),
        ("wooden bowl", "wood"),
        ("clear acrylic plastic", "acrylic"),
        ("blown duck egg, rinsed and dried", "glass, ceramic, stone or shell"),
        ("6061 aluminum", "aluminium"),
        ("stainless steel", "stainless steel"),
    ],
)
def test_plain_words_name_a_row(words, name):
    row = material_of(words)
    assert row is not None and row.name == name


@pytest.mark.parametrize(
    "words", ["", "oakum", "dried gourd", "bone", "steel", "pear", "glass-filled plastic", "oak and pine", "pineapple"]
)
def test_words_that_name_no_row_or_several_are_left_alone(words):
    assert material_of(words) is None and kinds(9000, 9000, words) == []


def test_a_spindle_that_stands_still_is_no_matter_of_speed():
    assert kinds(9000, 9000, "oak", turning="M5") == []


def test_speeds_are_read_as_the_program_says_them():
    text = b"(Seed swap, S99)\r\nG21 G90 S8000 M3\r\nG0 X1 s9000\r\n(stroke 1) S7000\r\nG0 X2\r\n/S4\r\nG0 X3\r\nM2\r\n"
    assert replay(read(text), Profile(), zero_r_mm=0.0).rpm.tolist() == [9000, 7000, 7000]
    for line in (
        b"G21G90S9000M3",
        b"g21 g90 s9000 m3",
        b"G21 G90 (S5 x) S9000 M3",
        b"G21 G90 S 90 00. M3",
        b"G21G90s+9000m3",
    ):
        told = replay(read(line + b"\n" + b"G0 X1\n" * 30 + b"M2\n"), Profile(), zero_r_mm=0.0)
        assert set(told.rpm) == {9000.0} and len(told) == 30
    assert np.isnan(replay(read(b"G21 G90\nG0 X1\nM2\n"), Profile(), zero_r_mm=0.0).rpm).all()


def test_the_speed_in_force_counts_from_its_own_line_on():
    program = lines()
    k = next(k for k, line in enumerate(program) if line == "(stroke 10)")
    assert codes(proof_of(program, material="oak")) == set()
    slow = [*program[:k], "S500", *program[k:]]
    (told,) = proof_of(slow, material="oak").findings
    assert told.code == "chip-load" and told.where.line > k and told.where.stroke >= 10
    assert proof_of(slow).findings == ()
    cut = next(j for j, line in enumerate(program[k:], k) if line.startswith("G1 A"))
    beside = [*program[:cut], program[cut] + " S500", "S9000", *program[cut + 1 :]]
    (told,) = proof_of(beside, material="oak").findings
    assert (told.code, told.where.line, told.where.stroke) == ("chip-load", cut + 1, 10)
