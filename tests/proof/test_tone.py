"""Light and dark of the carving beside what was asked: lines cut by hand, their shares in closed form."""

import numpy as np
import pytest

from engine.blank import Cylinder, sample
from engine.kernel.findings import Severity
from engine.kernel.values import Ask, Form, Tool, Wanted
from engine.machine import Profile
from engine.proof.carve_field import carve_window, window_of
from engine.proof.depths import Cuts
from engine.proof.sureness import judge_sure, sureness_of
from engine.proof.tone import judge_tone, toned

SKIN = Cylinder(diameter_mm=40, length_mm=60)
CONE = Tool(tip_mm=0.1, angle_deg=60.0)
PITCH = 0.3


def lines(width_at):
    """Moves along theta at x = 20 to 40, PITCH apart, each as wide as `width_at(x)`, over 0.6 rad."""
    moves = []
    for x in np.arange(20.0, 40.0, PITCH) + 0.5 * PITCH:
        width = width_at(x)
        if width > 0:
            r = 20.0 - (width - CONE.tip_mm) / (2 * np.tan(np.radians(30)))
            moves.append([x, -0.3, r, x, 0.3, r])
    return np.array(moves).reshape(-1, 6)


def carved(moves, tool=CONE):
    near = sample(SKIN, 5.0, 55.0, 2e-5)
    window = window_of(SKIN, [tool], (20.0, 40.0), np.linspace(-0.3, 0.3, 50), reach_mm=0.3)
    return carve_window(near, window, [(tool, moves)])[0], near


def asked(dark_at):
    x, theta = np.arange(20.025, 40.0, 0.05), np.arange(-0.2975, 0.3, 0.0025)
    dark = np.repeat(dark_at(x)[:, None], len(theta), axis=1).astype(np.float32)
    art = dark > 0
    return Wanted(
        x_mm=x,
        theta_rad=theta,
        depth_mm=np.where(art, 0.5, 0.0),
        feed_mm_min=240,
        plunge_mm_min=80,
        asks=np.where(art, Ask.TONE, Ask.NOTHING).astype(np.uint8),
        darkness=dark,
    )


@pytest.mark.parametrize("share", [0.4, 0.6, 0.85])
def test_lines_as_wide_as_a_share_of_their_pitch_are_as_dark(share):
    field, near = carved(lines(lambda x: share * PITCH))
    tone = toned(asked(lambda x: np.full(len(x), share)), field, near, CONE)
    assert abs(tone.bias) < 0.003
    assert np.abs(tone.made - share).max() < (0.04 if share < 0.5 else 0.01)  # a flank in half a cell is not seen
    assert not judge_tone(tone)
    assert tone.met_mm2 == pytest.approx(tone.asked_mm2, rel=0.03)


BALL = Tool(form=Form.BALL, diameter_mm=1.0)


@pytest.mark.parametrize("pitch", [0.3, 0.31, 0.6])
@pytest.mark.parametrize("share", [0.6, 0.85, 0.95, 1.0])
def test_grooves_of_a_ball_are_told_within_a_cell_and_ridges_thinner_than_one_are_seen(share, pitch):
    """Along rings of a cylinder the skin is straight across: a groove w wide is R - sqrt(R2 - w2 / 4) deep. At 0.95 of
    0.3 mm a ridge of 0.015 mm is left, in cells of 0.05 mm.
    """
    half = 0.5 * share * pitch
    r = 20.0 - (0.5 - np.sqrt(0.25 - half**2))
    at = np.arange(20.0, 40.0, pitch) + 0.5 * pitch
    moves = np.stack([at, at * 0 - 0.3, at * 0 + r, at, at * 0 + 0.3, at * 0 + r], axis=1)
    field, near = carved(moves, BALL)
    assert field.note == "cells of 0.05 mm"
    tone = toned(asked(lambda x: np.full(len(x), share)), field, near, BALL)
    inner = (tone.x_mm > 22) & (tone.x_mm < 38)
    assert np.abs(tone.made - share)[inner].max() < 0.015
    assert abs(float(tone.made[inner].mean()) - share) < 0.008


def test_every_cell_of_the_art_counts_once(monkeypatch):
    """The places' areas are the art's, 20 mm along, 0.6 rad around at a radius of 20 mm, where none is left out."""
    monkeypatch.setattr("engine.proof.tone.LEAST_SHARE", 1e-6)
    field, near = carved(lines(lambda x: 0.6 * PITCH))
    tone = toned(asked(lambda x: np.full(len(x), 0.6)), field, near, CONE)
    assert tone.area_mm2.sum() == pytest.approx(20 * 20 * 0.6, rel=0.01)
    assert tone.asked_mm2 == pytest.approx(0.6 * 20 * 20 * 0.6, rel=0.01)


def test_wide_rows_do_not_beat_with_the_places_that_are_looked_at():
    """Rows 0.7 mm apart, places 1.5 mm: counted in squares, places would be a row more or less, a fifth off."""
    at = np.arange(20.0, 40.0, 0.7) + 0.35
    r = 20.0 - (0.35 - CONE.tip_mm) / (2 * np.tan(np.radians(30)))
    moves = np.stack([at, at * 0 - 0.3, at * 0 + r, at, at * 0 + 0.3, at * 0 + r], axis=1)
    field, near = carved(moves)
    tone = toned(asked(lambda x: np.full(len(x), 0.5)), field, near, CONE)
    inner = (tone.x_mm > 22) & (tone.x_mm < 38)
    assert np.abs(tone.made - 0.5)[inner].max() < 0.03


def test_a_ramp_comes_out_as_the_ramp_it_was():
    def ramp(x):
        return 0.35 + 0.6 * (x - 20) / 20

    field, near = carved(lines(lambda x: ramp(x) * PITCH))
    tone = toned(asked(ramp), field, near, CONE)
    assert tone.correlation > 0.99
    assert tone.off < 0.03


@pytest.mark.parametrize(("made", "side"), [(0.95, "dark"), (0.4, "light")])
def test_art_that_comes_out_too_dark_or_too_light_is_told_with_its_place(made, side):
    field, near = carved(lines(lambda x: (made if x > 30 else 0.65) * PITCH))
    tone = toned(asked(lambda x: np.full(len(x), 0.65)), field, near, CONE)
    (found,) = judge_tone(tone)
    assert (found.code, found.severity) == ("tone-off", Severity.WARNING)
    assert f"too {side}" in found.message
    assert found.where.x_mm > 29.0


def test_nothing_opened_is_nothing_cut():
    field, near = carved(lines(lambda x: 0.0).reshape(0, 6))
    (found,) = judge_tone(toned(asked(lambda x: np.full(len(x), 0.5)), field, near, CONE))
    assert (found.code, found.severity) == ("nothing-cut", Severity.ERROR)


def test_art_without_a_tone_has_none():
    field, near = carved(lines(lambda x: 0.2))
    even = Wanted(
        x_mm=np.arange(20.0, 22.0, 0.05),
        theta_rad=np.arange(0, 0.1, 0.0025),
        depth_mm=np.ones((40, 40)),
        feed_mm_min=240,
        plunge_mm_min=80,
    )
    assert toned(even, field, near, CONE) is None


def test_more_depth_is_no_advice_where_depth_draws_the_tone():
    """A cut so shallow that the zero's error leaves half of it unmarked."""
    cuts = shallow_cuts()
    machine = Profile(zero_error_mm=0.05)
    plain, graded = (
        sureness_of(cuts, SKIN, machine, asked_mm=0.02, wall_mm=None, runout_mm=0.0, is_graded=is_graded)
        for is_graded in (False, True)
    )
    assert plain.advice.depth_mm is None or plain.advice.depth_mm > 0.02
    assert graded.advice.depth_mm is None
    assert graded.unmarked == plain.unmarked
    (told,) = judge_sure(graded)
    assert "deep in" not in told.advice


def shallow_cuts(n=50):
    x = np.linspace(20.0, 40.0, n)
    at = np.stack([x, np.zeros(n), np.full(n, 19.98)], axis=1)
    return Cuts(
        place=at,
        depth_mm=np.full(n, 0.02),
        cuts=np.ones(n, np.bool_),
        final_mm=np.full(n, 0.02),
        final_at=at,
        final_cos=np.ones(n),
        final_way_mm=np.ones(n),
    )


def test_nearly_even_art_has_no_correlation_to_tell():
    field, near = carved(lines(lambda x: 0.6 * PITCH))
    tone = toned(asked(lambda x: 0.6 + 0.004 * np.sin(x)), field, near, CONE)
    assert tone.correlation is None and tone.off < 0.02
