"""How sure: closed forms of the normal distribution, and the proof itself on skins that are wrong as it is supposed."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from engine.blank import Sampled, tilt_cos
from engine.kernel.values import Tool
from engine.machine import Profile
from engine.proof.skin_error import chance_below, draw_fields
from engine.proof.sureness import how_sure
from tests.blank.skins import SKINS
from tests.proof.programs import DEPTH, proof_of

PHI = NormalDist().cdf


def places(depth=0.2, n=400):
    x, theta = np.linspace(10, 80, n), np.linspace(-3, 3, n)
    return np.full(n, depth), (x, theta, np.full(n, 20.0)), np.ones(n), np.ones(n)


def shares(depth=0.2, asked=0.2, draws=2000, **known):
    sure = how_sure(*places(depth), asked_mm=asked, draws=draws, **{"sigma_mm": 0.0, **known})
    return sure.unmarked.mean, sure.too_deep.mean


def test_what_is_known_exactly_is_sure():
    assert shares() == (0.0, 0.0)
    assert shares(depth=-0.01) == (1.0, 0.0)
    assert shares(wall_mm=0.15) == (0.0, 1.0)


@pytest.mark.parametrize("sigma", [0.1, 0.2, 0.5])
@pytest.mark.parametrize("how", ["zero_sigma_mm", "sigma_mm"])
def test_the_mean_shares_are_those_of_the_normal_distribution(how, sigma):
    unmarked, deep = shares(**{how: sigma})
    assert unmarked == pytest.approx(PHI(-0.2 / sigma), abs=0.02)
    assert deep == pytest.approx(1 - PHI(0.2 / sigma), abs=0.02)


def test_a_steep_skin_feels_less_of_a_radial_error_and_runout_is_even():
    depth, at, _, way = places()
    flat = how_sure(depth, at, np.full(400, 0.5), way, asked_mm=0.2, sigma_mm=0.2, draws=1000)
    assert flat.unmarked.mean == pytest.approx(PHI(-2.0), abs=0.01)
    level = how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, draws=1000)
    assert (flat.unmarked.high, flat.advice) == (level.unmarked.high, level.advice)
    depth, at, square, way = places(0.02)
    assert how_sure(depth, at, square, way, asked_mm=0.2, sigma_mm=0.0, runout_mm=0.08).unmarked.mean == 0
    ran = how_sure(depth, at, np.full(400, 0.6), way, asked_mm=0.2, sigma_mm=0.0, runout_mm=0.1)
    assert ran.unmarked.mean == pytest.approx(0.25)  # of -0.04 to 0.04 at a sine of 0.8, what lies below -0.02


def test_long_waves_swing_more_between_draws_than_short_ones():
    wide, fine = (
        how_sure(*places(), asked_mm=0.2, sigma_mm=0.2, correlation_mm=length).unmarked for length in (200.0, 3.0)
    )
    assert wide.high - wide.low > 3 * (fine.high - fine.low)


def test_the_advice_marks_everything_or_says_why_it_cannot():
    sure = how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, wall_mm=3.0)
    told = sure.advice
    assert told.depth_mm is not None and 0.2 < told.depth_mm < 0.5 and told.passes == 2
    again = how_sure(*places(told.depth_mm), asked_mm=told.depth_mm, sigma_mm=0.1, wall_mm=3.0)
    assert again.unmarked.high <= 0.005 and again.too_deep.mean < 0.005
    none = how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, wall_mm=0.4).advice
    assert none.depth_mm is None and "too little of the wall" in none.why
    calm = how_sure(*places(), asked_mm=0.2, sigma_mm=0.01).advice
    assert (calm.depth_mm, calm.passes) == (0.2, 1)


def test_shares_rise_with_the_error_and_fall_with_the_depth():
    by_sigma = [shares(sigma_mm=sigma, zero_sigma_mm=0.02) for sigma in (0.0, 0.05, 0.1, 0.2, 0.4)]
    assert np.all(np.diff(by_sigma, axis=0) > 0)
    by_depth = np.array([shares(depth=depth, sigma_mm=0.1) for depth in (0.05, 0.1, 0.2, 0.3)])
    assert np.all(np.diff(by_depth[:, 0]) < 0) and np.all(np.diff(by_depth[:, 1]) > 0)


def test_an_error_alike_everywhere_marks_all_or_nothing():
    chance = PHI(-1.0)
    told = how_sure(*places(), asked_mm=0.2, sigma_mm=0.0, zero_sigma_mm=0.2).unmarked
    assert (told.mean, told.low, told.high) == (pytest.approx(chance), 0.0, 1.0)
    rare = how_sure(*places(), asked_mm=0.2, sigma_mm=0.0, zero_sigma_mm=0.1).unmarked
    assert rare.low == 0.0 and rare.high == rare.mean == pytest.approx(PHI(-2.0))


def test_every_length_of_cut_counts_alike():
    n = 40
    depth, way = np.where(np.arange(n) % 2, 0.3, 0.1), np.where(np.arange(n) % 2, 3.0, 1.0)
    at = (np.linspace(0, 50, n), np.zeros(n), np.full(n, 20.0))
    told = how_sure(depth, at, np.ones(n), way, asked_mm=0.3, sigma_mm=0.2).unmarked.mean
    assert told == pytest.approx(0.75 * PHI(-1.5) + 0.25 * PHI(-0.5), abs=0.002)


@pytest.mark.parametrize(("sigma", "half"), [(0.1, 0.0), (0.1, 0.05), (0.02, 0.3), (0.0, 0.1)])
def test_the_chance_is_the_two_errors_added_up(sigma, half):
    z = np.linspace(-0.45, 0.45, 7)
    told = chance_below(z, np.full(7, sigma), np.full(7, half))
    if half == 0:
        assert told == pytest.approx([PHI(v / sigma) for v in z])
    elif sigma == 0:
        assert told == pytest.approx(np.clip((z + half) / (2 * half), 0, 1))
    else:  # the even error by the middles of 2,000 slices
        even = half * (2 * (np.arange(2000) + 0.5) / 2000 - 1)
        assert told == pytest.approx([np.mean([PHI((v - e) / sigma) for e in even]) for v in z], abs=1e-6)
    assert list(chance_below(np.array([-1e-9, 0.0]), np.zeros(2), np.zeros(2))) == [0.0, 1.0]


@pytest.mark.parametrize("length", [8.0, 15.0, 60.0])
def test_the_field_is_alike_over_its_length_along_and_around(length):
    x, theta, r = np.array([0.0, 0.0, 0.0, 5.0, 12.0, 40.0]), np.array([0.0, 0.4, 6.2, 0.2, 3.0, -3.1]), 20.0
    turned = r * (theta[:, None, None] - theta[None, :, None] + 2 * np.pi * np.arange(-9, 10))
    around = np.exp(-0.5 * (turned / length) ** 2).sum(2)
    want = np.exp(-0.5 * ((x[:, None] - x) / length) ** 2) * around / around[0, 0]
    drawn = draw_fields(x, theta, r, length, 40_000, np.random.default_rng(1))
    assert np.cov(drawn.T) == pytest.approx(want, abs=0.03)
    below = [(drawn[:, 3] <= t).mean() for t in (-2.0, -1.0, 0.0, 1.5)]
    assert below == pytest.approx([PHI(t) for t in (-2.0, -1.0, 0.0, 1.5)], abs=0.006)
    round_again = draw_fields(
        np.array([7.0, 7.0]), np.array([-1.0, 2 * np.pi - 1.0]), r, length, 20, np.random.default_rng(1)
    )
    assert round_again[:, 0] == pytest.approx(round_again[:, 1])


def test_a_very_short_length_still_has_its_deviation():
    drawn = draw_fields(np.linspace(0, 200, 50), np.linspace(0, 6, 50), 40.0, 0.5, 2000, np.random.default_rng(2))
    assert drawn.std() == pytest.approx(1.0, abs=0.02)


def test_the_advice_heeds_the_wall_where_strokes_cross_and_counts_passes():
    depth, at, cos, way = places()
    deep = depth.copy()
    deep[7] = 0.5
    way = np.where(deep > 0.4, 1e-6, way)
    known = {"asked_mm": 0.2, "sigma_mm": 0.1, "wall_mm": 0.85}
    assert how_sure(depth, at, cos, way, **known).advice.depth_mm is not None
    assert how_sure(deep, at, cos, way, **known).advice.depth_mm is None
    lost = how_sure(*places(0.02), asked_mm=0.02, sigma_mm=0.2).advice
    assert lost.depth_mm is None and "10 passes" in lost.why
    thin = how_sure(*places(), asked_mm=0.2, sigma_mm=0.02, wall_mm=0.21).advice
    assert (thin.passes, 0.05 < thin.depth_mm < 0.17) == (1, True) and "leaves enough of the wall" in thin.why
    again = how_sure(*places(thin.depth_mm), asked_mm=thin.depth_mm, sigma_mm=0.02, wall_mm=0.21)
    assert again.unmarked.high < 0.001 and again.too_deep.high < 0.001
    assert again.advice.depth_mm == thin.depth_mm
    assert "any depth" in how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, wall_mm=0.1).advice.why


def test_shallower_tones_are_cut_deeper_in_proportion():
    depth, at, cos, way = places()
    told = how_sure(np.where(np.arange(400) < 200, 0.1, depth), at, cos, way, asked_mm=0.2, sigma_mm=0.04).advice
    alike = how_sure(depth * 0.5, at, cos, way, asked_mm=0.1, sigma_mm=0.04).advice
    assert told.depth_mm == pytest.approx(2 * alike.depth_mm, abs=0.04)


def test_the_same_seed_says_the_same():
    assert how_sure(*places(), asked_mm=0.2, sigma_mm=0.1) == how_sure(*places(), asked_mm=0.2, sigma_mm=0.1)


LENGTH, SIGMA, ZERO = 4.0, 0.16, 0.05
TIP = Tool(tip_mm=0.2)
STEP_DEG = 5.0
STRETCH = {"cylinder": (30.0, 51.0), "ovoid": (18.0, 39.0), "grid": (30.0, 45.0)}


def grid_of(name):
    """A blank of the suite as a grid of radii over the stretch that is cut and 5 mm beside it; its stations, angles."""
    low, high = STRETCH[name]
    x, theta = np.linspace(low - 5.0, high + 5.0, 32), np.arange(128) * (2 * np.pi / 128)
    return SKINS[name].radius(x[:, None], theta[None, :]), x, theta


def skin_of(radii, x):
    return Sampled.of(radii, x[0], x[-1], sigma_mm=SIGMA)


def rings(skin, name, depth=DEPTH):
    """A stroke right round every 3 mm, everywhere so deep, in short moves; and the moves' ends (x, theta)."""
    theta = np.radians(np.arange(0.0, 360.0 + STEP_DEG, STEP_DEG))
    out, spots = ["G21 G90 G94", "S9000 M3", "G0 Z45"], []
    for k, station in enumerate(np.arange(*STRETCH[name], 3.0), 1):
        x = np.full(len(theta), station)
        r = skin.radius(x, theta) - depth / tilt_cos(skin.radius(x, theta), *skin.slopes(x, theta))
        out += [f"(stroke {k})", f"G0 X{station:.4f} A0", f"G1 Z{r[0]:.4f} F80"]
        out += [f"G1 A{math.degrees(t):.4f} Z{z:.4f} F600" for t, z in zip(theta[1:], r[1:], strict=True)]
        out += ["G1 Z45 F80"]
        spots.append(np.stack([x, theta], axis=1)[1:])
    return [*out, "M5", "M2"], np.concatenate(spots)


def root(covariance):
    return np.linalg.cholesky(covariance + 1e-9 * np.eye(len(covariance)))


def wrong_skins(name, pairs, rng):
    """The blank with an error of its radius and with the opposite one, so that fewer do. The errors are of the model's
    law, made in another way than the model draws them: by the Cholesky roots of both covariances on the grid.
    """
    radii, x, theta = grid_of(name)
    along = root(np.exp(-0.5 * ((x[:, None] - x) / LENGTH) ** 2))
    turns = 2 * np.pi * np.arange(-3, 4)
    circle = np.exp(-0.5 * ((theta[:, None, None] - theta[None, :, None] + turns) * radii.mean() / LENGTH) ** 2).sum(2)
    around = root(circle / circle[0, 0])
    zeros = [NormalDist(0.0, ZERO).inv_cdf((k + 0.5) / (2 * pairs)) for k in range(pairs)]
    for zero in rng.permutation(zeros):
        error = SIGMA * along @ rng.standard_normal(radii.shape) @ around.T + zero
        yield skin_of(radii + error, x)
        yield skin_of(radii - error, x)


def made_at(carved, spots):
    """Greatest carved depth under the tip's flat at places, 0 beside the field."""
    reach = math.ceil(TIP.flat_mm / carved.frame.dx)
    i = np.rint((spots[:, 0] - carved.x_mm[0]) / carved.frame.dx).astype(int)
    turned = np.mod(spots[:, 1] - carved.theta_rad[0], 2 * np.pi)
    j = np.rint(turned / carved.frame.dth).astype(int)
    made = np.zeros(len(spots))
    nx, nt = carved.depth_mm.shape
    for di in range(-reach, reach + 1):
        for dj in range(-reach, reach + 1):
            row, column = i + di, (j + dj) % nt if carved.whole else j + dj
            on = (row >= 0) & (row < nx) & (column >= 0) & (column < nt)
            found = carved.depth_mm[np.clip(row, 0, nx - 1), np.clip(column, 0, nt - 1)]
            made = np.maximum(made, np.where(on, found, 0.0))
    return made


def brute_force(name, pairs, seed=5):
    """(foretold, the same for errors alike over LENGTH, shares (2 pairs, 2)): what the proof of a text foretells, and
    the shares of its cut that are left unmarked and come out twice as deep where the text is proven on wrong skins.
    """
    radii, x, _ = grid_of(name)
    program, spots = rings(skin_of(radii, x), name)
    known = {"wanted": None, "tool": TIP, "machine": Profile(zero_error_mm=ZERO)}
    proof = proof_of(program, skin=skin_of(radii, x), **known)
    most = 2 * proof.depth_mm[1]
    found = []
    for skin in wrong_skins(name, pairs, np.random.default_rng(seed)):
        made = made_at(proof_of(program, skin=skin, **known).carved, spots)
        found.append(((made <= 0).mean(), (made >= most).mean()))
    skin = skin_of(radii, x)
    r = skin.radius(*spots.T)
    asked, cos, ones = proof.depth_mm[1], tilt_cos(r, *skin.slopes(*spots.T)), np.ones(len(spots))
    known = {"asked_mm": asked, "sigma_mm": SIGMA, "zero_sigma_mm": ZERO, "correlation_mm": LENGTH}
    made = made_at(proof.carved, spots)
    return proof.sure, how_sure(made, (*spots.T, r), cos, ones, **known), np.array(found)


@pytest.mark.parametrize("name", STRETCH)
def test_the_proof_on_wrong_skins_leaves_as_much_unmarked_as_was_foretold(name):
    sure, alike, found = brute_force(name, 15)
    unmarked, deep = found.mean(axis=0)
    assert unmarked == pytest.approx(sure.unmarked.mean, abs=0.02)
    assert deep == pytest.approx(sure.too_deep.mean, abs=0.02)
    assert alike.unmarked.mean == pytest.approx(sure.unmarked.mean, abs=0.01)
    low, high = np.quantile(found[:, 0], [0.05, 0.95])
    assert (alike.unmarked.low, alike.unmarked.high) == pytest.approx((low, high), abs=0.06)
    assert 0.05 < unmarked < 0.3 and deep > 0.005  # something to foretell


def test_cut_as_deep_as_advised_wrong_skins_are_marked_all_over():
    radii, x, _ = grid_of("cylinder")
    skin = skin_of(radii, x)
    spots = rings(skin, "cylinder")[1]
    ones, r = np.ones(len(spots)), skin.radius(*spots.T)
    known = {"asked_mm": DEPTH, "sigma_mm": SIGMA, "zero_sigma_mm": ZERO, "correlation_mm": LENGTH}
    advice = how_sure(DEPTH * ones, (*spots.T, r), ones, ones, **known).advice
    for depth, least in ((advice.depth_mm, 7), (0.6 * advice.depth_mm, 0)):
        program, spots = rings(skin, "cylinder", depth)
        found = [
            (made_at(proof_of(program, skin=wrong, wanted=None, tool=TIP).carved, spots) > 0).mean()
            for wrong in wrong_skins("cylinder", 4, np.random.default_rng(8))
        ]
        marked = sum(share >= 0.995 for share in found)
        assert marked >= least and (least or marked < 6)
