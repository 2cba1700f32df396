"""A tip that cuts on its way from one stroke to the next is told, also between strokes that lie close."""

import pytest

from tests.proof.programs import DEPTH, TOOL, X, codes, lines, proof_of

GOOD = lines()


def test_a_good_program_keeps_to_the_art():
    assert codes(proof_of(GOOD)) == set()


@pytest.mark.parametrize("word", ["A64", "A62", "A-10"])
def test_a_stroke_that_overshoots_the_art_is_told_from_the_grace_on(word):
    # 2 degrees on a radius of 20 are 0.7 mm, 4 are 1.4.
    k = next(k for k, line in enumerate(GOOD) if line.startswith("G1 A60"))
    bad = [*GOOD[:k], GOOD[k].replace("A60.0000", word), *GOOD[k + 1 :]]
    assert ("error", "off-art") in codes(proof_of(bad))


def test_a_stroke_within_the_grace_is_not():
    k = next(k for k, line in enumerate(GOOD) if line.startswith("G1 A60"))
    near = [*GOOD[:k], GOOD[k].replace("A60.0000", "A60.3000"), *GOOD[k + 1 :]]  # 0.1 mm
    assert ("error", "off-art") not in codes(proof_of(near))


def test_a_lost_lift_between_lines_apart_is_told_at_its_line():
    k = GOOD.index("(stroke 8)")
    # From stroke 7's end back around to its start by a turn less: over bare skin.
    bad = [*GOOD[: k - 2], "G1 A-280 F0.5", *GOOD[k - 2 :]]
    found = next(f for f in proof_of(bad).findings if f.code == "off-art")
    assert found.where.line == k - 1 and found.severity.value == "error"


@pytest.mark.parametrize(("beside", "told"), [(0.1, False), (1.0, True), (2.0, True)])
def test_a_hole_beside_the_art_is_told_from_the_grace_on(beside, told):
    end = GOOD.index("M5") - 1
    half = 0.5 * TOOL.width_mm(DEPTH)
    x = X[-1] + half + beside
    hole = [f"G0 X{x:.4f} A40", "G0 Z20.3000", "G1 Z19.9 F160", "G1 Z20.3 F160", "G0 Z25.0000"]
    assert (("error", "off-art") in codes(proof_of([*GOOD[:end], *hole, *GOOD[end:]]))) is told
