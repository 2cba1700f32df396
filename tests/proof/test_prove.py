"""A good program is proved good, to figures worked out by hand; seeded faults are told."""

import numpy as np
import pytest

from engine.machine import FeedRule, Profile
from tests.proof.programs import BAR, DEPTH, FROM_DEG, TO_DEG, R, X, codes, lines, proof_of


@pytest.mark.parametrize("rule", list(FeedRule))
def test_a_good_program_has_no_findings_and_the_figures_worked_out_by_hand(rule):
    proof = proof_of(lines(rule), machine=Profile(feed_rule=rule))
    assert proof.findings == ()
    assert proof.depth_mm == pytest.approx((DEPTH, DEPTH), abs=2e-5)
    way = np.radians(TO_DEG - FROM_DEG) * (R - DEPTH)
    assert proof.cut_mm == pytest.approx(len(X) * way, rel=1e-6)
    assert proof.extent.x_mm == (40.0, 46.0)
    assert proof.extent.angle_deg == pytest.approx((FROM_DEG, TO_DEG))
    assert proof.extent.radius_mm == pytest.approx((R - DEPTH, R - DEPTH))
    assert proof.fidelity.cut_on_art > 0.999
    assert proof.fidelity.art_cut > 0.98
    assert proof.depth_median_share == pytest.approx(1.0, abs=1e-4)
    assert BAR.radius(np.array([45.0]), np.zeros(1))[0] == R


def test_nothing_in_a_text_raises():
    for text in (b"", b"\n", b"%", b"\xff\xfe", b"G0 X", b"M2", b"(never closed", b"G21 G90 G94\nG1 X1 F1\nM2"):
        proof = proof_of([])
        proof = proof_of([text.decode("latin-1")])
        assert any(severity == "error" for severity, _ in codes(proof))
