"""Probing programs: read back by the proof's reader and by a controller written from the standard, and looked at from
the blank's side: heights, hardware, limits, play.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from engine.kernel.errors import ProgramError
from engine.kernel.values import KeepOut
from engine.machine import Axis, FeedRule, Park, Profile, ZZero
from engine.program import Guess, Order, Probe, probe_program
from engine.proof.rs274_reader import read
from tests.program.controller import run
from tests.program.paths import on_blank

FEW = settings(derandomize=True, deadline=None, max_examples=25)
JAWS = KeepOut(from_mm=-5.0, to_mm=9.0, why="jaws")
STRAP = KeepOut(from_mm=61.0, to_mm=63.0, why="strap")
STEADY = KeepOut(from_mm=41.0, to_mm=46.0, why="steady", radius_mm=34.0)


def lobed(rng, *, k=41, n=36, end=100.0):
    """A random skin: a bent profile with lobes, its table, and how it stands between the table's places."""
    x, theta = np.linspace(0, end, k), np.arange(n) * 2 * np.pi / n
    profile = 22 + 6 * np.sin(x / end * rng.uniform(1, 6) + rng.uniform(0, 6))
    lobes = sum(rng.normal(0, 1.2 / h) * np.cos(h * theta + rng.uniform(0, 6)) for h in range(1, 6))
    return x, np.clip(profile[:, None] + lobes * rng.uniform(0.2, 1.0, k)[:, None], 3.0, None)


def between(x, r):
    """Radius anywhere: linear between the table's places, by scipy, the ends held."""
    turn = np.linspace(0, 360, r.shape[1] + 1)
    inner = RegularGridInterpolator((x, turn), np.concatenate([r, r[:, :1]], axis=1))
    return lambda at, angle: inner((np.clip(at, x[0], x[-1]), np.mod(angle, 360.0)))


@st.composite
def machines(draw):
    """Every letter, sign, number of decimals, unit of the rotary, zero, play and feed rule."""
    per_turn = draw(st.sampled_from([None, None, 360.0, 125.66]))
    linear = draw(st.permutations("XYZ"))
    rotary = linear[2] if per_turn and draw(st.booleans()) else draw(st.sampled_from("ABC"))
    rule = draw(st.sampled_from(list(FeedRule)))

    def axis(letter, low, high, play):
        turned = draw(st.booleans())
        low, high = (-high, -low) if turned else (low, high)
        return Axis(
            letter=letter, reversed=turned, least=low, greatest=high, backlash=draw(st.sampled_from([0.0, play]))
        )

    return Profile(
        axial=axis(linear[0], -20.0, draw(st.sampled_from([70.0, 300.0])), 0.1),
        radial=axis(linear[1], -200.0, 200.0, 0.0),
        rotary=axis(rotary, draw(st.sampled_from([-180.0, -3600.0])), draw(st.sampled_from([200.0, 3600.0])), 0.7),
        feed_rule=rule,
        mm_per_turn=per_turn,
        z_zero=draw(st.sampled_from(list(ZZero))),
        decimals=draw(st.integers(2, 5)),
        park=draw(st.sampled_from([None, Park(x_mm=-10.0, angle_deg=0.0, lift_mm=5.0)])),
    )


def places(move, profile, zero_r_mm):
    """Start and end of a move on the blank: x mm, degrees, radius of the ball's lowest place."""
    return (np.array(on_blank(words, profile, zero_r_mm)) for words in (move.start, move.end))


@FEW
@given(st.integers(0, 2**32 - 1), machines(), st.sampled_from(list(Order)), st.booleans(), st.booleans())
def test_the_ball_clears_skin_and_hardware_wherever_it_does_not_probe(seed, profile, order, fragile, twice):
    rng = np.random.default_rng(seed)
    x, r = lobed(rng)
    skin, doubt = between(x, r), rng.uniform(0, 2)
    probe = Probe(tip_radius_mm=rng.uniform(0.3, 3), search_mm=rng.uniform(0.1, 4), slow_mm_min=20 if twice else None)
    told = probe_program(
        [20.0, *np.linspace(2, 98, rng.integers(2, 9))],
        np.arange(rng.integers(2, 8)) * 360.0 / 7 + rng.uniform(-90, 90),
        guess=Guess(x_mm=x, radius_mm=r, doubt_mm=doubt),
        probe=probe,
        profile=profile,
        order=order,
        fragile=fragile,
        keep_out=[JAWS, STEADY, STRAP],
    )
    text, zero, ball = told.program.text, told.zero_r_mm, probe.tip_radius_mm
    moves = read(text, axes="".join(profile.letters))
    assert moves.fault is None and (moves.spindle == 0).all() and not moves.inverse.any()
    ran = run(text, profile.letters)
    assert ran.ended and len(ran.touches) == len(told.x_mm) * told.touches
    share, aside = np.linspace(0, 1, 41)[:, None], np.linspace(-ball, ball, 9)
    safe = max(r.max() + doubt, STEADY.radius_mm) + profile.clearance_mm
    for move in ran.moves:
        for axis in (profile.axial, profile.rotary, profile.radial):
            per = profile.mm_per_turn / 360 if axis is profile.rotary and profile.mm_per_turn else 1.0
            if axis.letter in move.end:
                value = move.end[axis.letter] / per
                assert math.isnan(value) or axis.least - 1e-9 <= value <= axis.greatest + 1e-9
        start, end = places(move, profile, zero)
        if move.code == 38.2:
            assert move.feed <= (30 if fragile else 60)
            continue
        if np.isnan(start).any():  # the first two moves: up from anywhere, over to the first point
            assert end[2] >= safe - 1e-9
            continue
        way = start + share * (end - start)
        sideways = move.start[profile.letters[0]] != move.end[profile.letters[0]]
        sideways |= move.start[profile.letters[1]] != move.end[profile.letters[1]]
        assert not sideways or (move.code == 0 and start[2] == end[2])
        if move.code == 1 and end[2] > start[2]:
            continue  # out of a touch, up the way it came
        gap = profile.clearance_mm if sideways else profile.approach_mm
        under = skin(way[:, :1] + aside, way[:, 1:2]).max(axis=1)
        assert (way[:, 2] >= under + doubt + gap - 1e-6).all()
        for stretch, over in ((JAWS, safe), (STRAP, safe), (STEADY, STEADY.radius_mm + profile.clearance_mm)):
            there = (way[:, 0] + ball >= stretch.from_mm) & (way[:, 0] - ball <= stretch.to_mm)
            assert (way[there, 2] >= over - 1e-6).all()
    assert not any(k.from_mm - ball <= at <= k.to_mm + ball for k in (JAWS, STEADY, STRAP) for at in told.x_mm)


@FEW
@given(st.integers(0, 2**32 - 1), machines(), st.sampled_from(list(Order)))
def test_points_are_where_they_were_asked_each_once_and_the_rotary_never_winds_up(seed, profile, order):
    rng = np.random.default_rng(seed)
    x, r = lobed(rng)
    stations, angles = np.linspace(10, 40, 4) + rng.uniform(0, 5), np.arange(5) * 72.0 + rng.uniform(-400, 400)
    told = probe_program(
        stations,
        angles,
        guess=Guess(x_mm=x, radius_mm=r, doubt_mm=1.0),
        probe=Probe(tip_radius_mm=1.0),
        profile=profile,
        order=order,
    )
    step = 10.0**-profile.decimals * (1 if profile.mm_per_turn is None else 360 / profile.mm_per_turn)
    wanted = {(i, j) for i in range(4) for j in range(5)}
    for at, angle in zip(told.x_mm, told.angle_deg, strict=True):
        i = int(np.abs(stations - at).argmin())
        off = np.abs((angles - angle + 180) % 360 - 180)
        assert abs(stations[i] - at) <= 10.0**-profile.decimals and off.min() <= step
        wanted.remove((i, int(off.argmin())))
    assert not wanted
    ran = run(told.program.text, profile.letters)
    touched = [places(m, profile, told.zero_r_mm) for m in ran.moves if m.code == 38.2]
    for (start, end), at, angle, expected in zip(touched, told.x_mm, told.angle_deg, told.expected_mm, strict=True):
        assert start[:2] == pytest.approx([at, angle], abs=1e-9)
        assert end[2] == pytest.approx(max(expected - 2.0, 0.0), abs=10.0**-profile.decimals)
        assert expected == pytest.approx(between(x, r)(at, angle), abs=1e-9)
    assert np.ptp(told.angle_deg) < 360.0
    key = told.x_mm if order is Order.STATION_BY_STATION else told.angle_deg
    assert (np.diff(key) >= 0).all()  # the slow one goes through once
    there = told.angle_deg if order is Order.STATION_BY_STATION else told.x_mm
    turns = np.diff(np.sign(np.diff(there)[np.diff(there) != 0]))
    assert np.abs(turns).sum() / 2 == len(np.unique(np.round(key, 6))) - 1  # the quick one there and back


@FEW
@given(st.integers(0, 2**32 - 1), machines())
def test_play_is_taken_up_on_the_same_side_before_every_touch(seed, profile):
    x, r = lobed(np.random.default_rng(seed))
    told = probe_program(
        [20.0, 30.0, 50.0],
        [-60.0, 0.0, 60.0],
        guess=Guess(x_mm=x, radius_mm=r, doubt_mm=1.0),
        probe=Probe(tip_radius_mm=1.0),
        profile=profile,
    )
    ran = run(told.program.text, profile.letters)
    least = {a.letter: a.backlash for a in (profile.axial, profile.rotary)}
    for k, axis in enumerate((profile.axial, profile.rotary)):
        way, play = 0.0, least[axis.letter]
        for move in ran.moves:
            if move.code == 38.2:
                assert way >= play or not play  # since it last turned round it came up further than its play
                continue
            start, end = places(move, profile, told.zero_r_mm)
            step = 1e9 if np.isnan(start[k]) and way == 0.0 else end[k] - start[k]
            if np.isnan(start[k]):
                step = 0.0
            way = max(way, 0.0) + step if step > 0 else way if step == 0 else step


def plain(**more):
    told = {
        "guess": Guess(x_mm=[0.0, 100.0], radius_mm=[20.0, 30.0], doubt_mm=1.5),
        "probe": Probe(tip_radius_mm=1.0),
        "profile": Profile(),
    } | more
    return probe_program(told.pop("stations", [20.0, 60.0]), told.pop("angles", [0.0, 90.0]), **told)


def test_the_text_of_one_point_is_what_the_standard_has_for_it():
    told = plain(stations=[20.0], angles=[90.0], probe=Probe(tip_radius_mm=1.0, search_mm=2.5, slow_mm_min=25.0))
    body = told.program.text.decode().split("\n", told.program.header_lines)[-1].split("\n")
    # r = 22 at x 20; the table's two stations alone bound the ball: 30 + 1.5 + 2 and + 0.3
    assert body == [
        *("G21 G90 G94", "G54 G17 G40 G49 G80", "M5", "G0 Z33.5000", "(point 1 of 1: x 20, angle 90)"),
        *("G0 X20.0000 A90.0000", "G1 Z31.8000 F300", "G38.2 Z19.5000 F60", "G1 Z31.8000 F300"),
        *("G38.2 Z19.5000 F25", "G1 Z31.8000 F300", "G0 Z33.5000", "M5", "M2", ""),
    ]
    assert told.program.line_row[told.program.text.decode().split("\n").index("G38.2 Z19.5000 F60")] == 0


@pytest.mark.parametrize("zero", list(ZZero))
def test_the_header_says_zero_log_ball_and_cautions(zero):
    told = plain(
        profile=Profile(z_zero=zero, touch_off=(50.0, 30.0)),
        about=[("job", "Plum gourd")],
        cautions=["keep a hand on the stop"],
        fragile=True,
    )
    text = told.program.text.decode().replace(")\n(", " ")
    assert "job: Plum gourd" in text and "caution: keep a hand on the stop" in text
    assert "switch on the controller's log" in text and "ball of radius 1 mm" in text
    assert ("on the axis of rotation" in text) == (zero is ZZero.AXIS)
    assert ("touch off: ball on the skin at x 50, angle 30, there 25.000 mm from the axis" in text) == (
        zero is ZZero.SURFACE
    )
    assert told.zero_r_mm == (0.0 if zero is ZZero.AXIS else 25.0)
    assert [f.code for f in told.findings] == ["fragile-blank"] and "warning: thin or brittle" in text
    assert told.program.check_code in text


def test_a_ball_over_a_neck_thinner_than_itself_clears_it_all_round():
    neck = Guess(x_mm=[0.0, 50.0, 100.0], radius_mm=[[0.8, 0.5, 0.5, 0.5]] * 3, doubt_mm=0.1)
    small, great = (neck.highest_mm((20.0, 20.0), (180.0, 180.0), ball) for ball in (0.1, 1.0))
    assert (small, great) == (pytest.approx(0.6), pytest.approx(0.9))


def test_hardware_that_the_ball_comes_over_only_to_take_up_play_is_cleared_too():
    told = plain(
        stations=[47.05, 60.0],
        profile=Profile(axial=Axis(letter="X", backlash=0.5)),
        order=Order.ANGLE_BY_ANGLE,
        keep_out=[STEADY],
    )
    passing = [m for m in run(told.program.text, "XAZ").moves if m.end["X"] == 46.425 and m.start["X"] == 60.0]
    assert [m.end["Z"] for m in passing] == [36.0]


def test_a_stated_radius_at_the_touch_off_shifts_the_words_alone():
    surface = Profile(z_zero=ZZero.SURFACE, touch_off=(50.0, 0.0))
    near, far = (run(plain(profile=surface, zero_r_mm=z).program.text, "XAZ").moves for z in (24.0, 25.5))
    assert [a.end["Z"] - b.end["Z"] for a, b in zip(near, far, strict=True)] == pytest.approx([1.5] * len(near))


def test_what_is_left_out_is_told_with_its_place():
    carriage = Axis(letter="X", least=0.0, greatest=70.0)
    turn = Axis(letter="A", least=-100.0, greatest=100.0)
    told = plain(
        stations=[5.0, 20.0, 43.0, 60.0, 80.0, 110.0],
        angles=[0.0, 90.0, 180.0, 270.0],
        keep_out=[JAWS, STEADY],
        profile=Profile(axial=carriage, rotary=turn),
    )
    where = [(f.code, f.where.x_mm, f.where.angle_deg) for f in told.findings]
    assert where == [
        *(("kept-out", 5.0, None), ("kept-out", 43.0, None), ("out-of-reach", 80.0, None)),
        *(("beside-the-blank", 110.0, None), ("out-of-reach", None, 180.0)),
    ]
    assert sorted(set(told.angle_deg)) == [-90.0, 0.0, 90.0]  # 270 is reached the other way round


def test_steep_places_are_told():
    shoulder = Guess(x_mm=[0.0, 49.0, 51.0, 100.0], radius_mm=[20.0, 20.0, 30.0, 30.0], doubt_mm=0.0)
    told = plain(stations=[20.0, 50.0], guess=shoulder)
    assert [(f.code, f.where.x_mm) for f in told.findings] == [("steep-places", 50.0)]
    assert "79 at most" in told.findings[0].message  # arctan 5 = 78.7


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ({"stations": []}, "/stations"),
        ({"stations": [math.nan]}, "/stations"),
        ({"stations": [1e15]}, ""),
        ({"stations": [20.0, 20.0]}, "/stations"),
        ({"angles": [0.0, 360.0]}, "/angles"),
        ({"stations": [3.0], "keep_out": [JAWS]}, "/stations"),
        ({"stations": np.linspace(10, 90, 300), "angles": np.arange(100.0)}, "/stations"),
        ({"zero_r_mm": 20.0}, "/machine/z_zero"),
        ({"zero_r_mm": -1.0, "profile": Profile(z_zero=ZZero.SURFACE)}, "/machine/touch_off"),
        ({"profile": Profile(radial=Axis(letter="Z", greatest=25.0))}, "/machine/axes"),
        ({"profile": Profile(radial=Axis(letter="Z", least=21.0))}, "/machine/axes"),
    ],
)
def test_what_cannot_be_written_is_refused_with_its_place(more, where):
    with pytest.raises(ProgramError) as told:
        plain(**more)
    assert told.value.where == where


@pytest.mark.parametrize("name", ["tip_radius_mm", "search_mm", "feed_mm_min", "approach_mm_min", "slow_mm_min"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_probes_numbers_are_above_0(name, value):
    with pytest.raises(ProgramError):
        replace(Probe(tip_radius_mm=1.0), **{name: value})


@pytest.mark.parametrize(
    ("x", "r", "doubt"),
    [
        ([0.0], [1.0], 0.0),
        ([1.0, 0.0], [1.0, 1.0], 0.0),
        ([0.0, 1.0], [1.0, -1.0], 0.0),
        ([0.0, 1.0], [1.0, math.nan], 0.0),
        ([0.0, 1.0], [1.0, 1.0], -0.1),
        ([0.0, 1.0], [1.0, 1.0, 1.0], 0.0),
    ],
)
def test_a_guess_that_is_no_skin_is_refused(x, r, doubt):
    with pytest.raises(ProgramError):
        Guess(x_mm=x, radius_mm=r, doubt_mm=doubt)


def test_touches_take_the_time_their_feeds_say():
    quick, slow = (plain(probe=Probe(tip_radius_mm=1.0, feed_mm_min=f)).time_s for f in (60.0, 30.0))
    # down from 31.8 to the guessed skin, 22 and 26 mm, twice each: at 60 mm/min a second a mm
    assert slow - quick == pytest.approx(2 * (31.8 - 22) + 2 * (31.8 - 26), rel=1e-6)


def test_the_points_of_a_program_cannot_be_changed_afterwards():
    told = plain()
    for array in (told.x_mm, told.angle_deg, told.expected_mm):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
