"""Feeds as each place of the art asks for them, sinking on the way, and the first moves from an unknown place."""

from dataclasses import replace

import numpy as np
import pytest

from engine.blank import Stations
from engine.kernel.values import Form, Tool
from engine.toolpath import tip_radius
from tests.proof.programs import DEPTH, FEED, PLUNGE, X, codes, lines, proof_of, wanted

GOOD = lines()
SLOW = 40.0


def two_paces(split_mm):
    """The same patch, its part below a station asked at FEED, the rest at SLOW."""
    asked = wanted()
    beyond = asked.x_mm[:, None] > split_mm
    bits = np.where(asked.depth_mm > 0, np.where(beyond, 1, 2), 0)
    return replace(asked, paces=((SLOW, 20.0), (FEED, PLUNGE)), pace=bits.astype(np.uint8))


def test_each_piece_of_art_is_held_to_its_own_feed():
    assert codes(proof_of(GOOD, wanted=two_paces(X[-1] + 1.0))) == set()
    found = proof_of(GOOD, wanted=two_paces(43.05)).findings
    told = {f.code: f for f in found}
    assert set(told) == {"feed-too-fast", "plunge-too-fast"}
    assert (
        "where 40 is asked" in told["feed-too-fast"].message
        and f"({sum(X > 43.05)} moves" in told["feed-too-fast"].message
    )
    assert told["feed-too-fast"].where.x_mm > 43.05 and told["plunge-too-fast"].where.x_mm > 43.05


def test_two_feeds_cut_as_asked_are_not_called_slow():
    asked = replace(two_paces(40.1), paces=((FEED, PLUNGE), (30 * FEED, PLUNGE)))
    few = replace(asked, feed_mm_min=30 * FEED, pace=np.where(asked.pace == 2, 1, asked.pace).astype(np.uint8))
    assert codes(proof_of(GOOD, wanted=few)) == set()
    assert ("warning", "feed-too-slow") in codes(proof_of(GOOD, wanted=replace(few, pace=None, paces=())))


def test_a_plunge_on_a_slant_is_held_to_the_plunge():
    k = next(k for k, line in enumerate(GOOD) if line.startswith("G1 Z19.8"))
    minutes = (DEPTH + 0.3) / FEED  # at the feed of a cut
    slant = [*GOOD[:k], f"G1 A20.002 Z19.8 F{1 / minutes:.4f}", *GOOD[k + 1 :]]
    assert codes(proof_of(slant)) == {("error", "plunge-too-fast")}
    slow = [*GOOD[:k], f"G1 A20.002 Z19.8 F{PLUNGE / (DEPTH + 0.3):.4f}", *GOOD[k + 1 :]]
    assert codes(proof_of(slow)) == set()


@pytest.mark.parametrize("first", ["G0 Z10", "G0 Z21.5", "G0 Z-40"])
def test_a_rapid_straight_down_at_an_unknown_place_is_told(first):
    assert ("error", "rapid-too-low") in codes(proof_of([*GOOD[:2], first, *GOOD[2:]]))


def test_a_rapid_straight_up_from_an_unknown_place_is_right():
    assert codes(proof_of([*GOOD[:2], "G0 Z22", *GOOD[2:]])) == set()


@pytest.mark.parametrize("tool", [Tool(form=Form.BALL, diameter_mm=3.0), Tool(form=Form.FLAT, diameter_mm=1.0)])
def test_a_wide_tip_that_runs_off_a_shoulder_at_its_depth_does_not_plunge(tool):
    skin = Stations(
        x_mm=np.array([0.0, 38.0, 43.0, 90.0]), diameter_mm=np.array([40.0, 40.0, 48.0, 48.0]), sigma_mm=0.0
    )
    x = np.arange(46.0, 34.0, -0.5)
    r = tip_radius(skin, tool, x, np.zeros(len(x)), np.full(len(x), DEPTH))
    program = ["G21 G90 G94", "S9000 M3", "G0 Z35", f"G0 X{x[0]} A0", f"G1 Z{r[0]:.4f} F60"]
    program += [f"G1 X{a:.1f} Z{b:.4f} F240" for a, b in zip(x[1:], r[1:], strict=True)] + ["G0 Z35", "M5", "M2"]
    asked = replace(wanted(), plunge_mm_min=60.0)
    told = codes(proof_of(program, skin=skin, tool=tool, wanted=asked))
    assert ("error", "plunge-too-fast") not in told
