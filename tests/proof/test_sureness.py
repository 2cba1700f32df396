"""How sure: closed forms of the normal distribution, and the proof itself on skins that are wrong as it is supposed."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from engine.blank import Sampled
from engine.kernel.values import Form, Tool
from engine.proof.sureness import how_sure
from tests.proof.programs import DEPTH, R, proof_of

PHI = NormalDist().cdf
STATIONS = np.arange(10.0, 81.0, 5.0)
WIDE = Tool(form=Form.BALL, diameter_mm=1.0)


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
    depth, at, square, way = places(0.02)
    assert how_sure(depth, at, square, way, asked_mm=0.2, sigma_mm=0.0, runout_mm=0.08).unmarked.mean == 0
    ran = how_sure(depth, at, np.full(400, 0.6), way, asked_mm=0.2, sigma_mm=0.0, runout_mm=0.1)
    assert ran.unmarked.mean == pytest.approx(0.25, abs=0.02)  # of -0.04 to 0.04 at a sine of 0.8, what is below -0.02


def test_long_waves_swing_more_between_draws_than_short_ones():
    wide, fine = (
        how_sure(*places(), asked_mm=0.2, sigma_mm=0.2, correlation_mm=length).unmarked for length in (200.0, 3.0)
    )
    assert wide.high - wide.low > 3 * (fine.high - fine.low)


def test_the_advice_marks_everything_or_says_why_it_cannot():
    sure = how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, wall_mm=3.0)
    told = sure.advice
    assert told.depth_mm is not None and 0.2 < told.depth_mm < 0.5 and told.passes == 2
    again = how_sure(*places(told.depth_mm), asked_mm=0.2, sigma_mm=0.1, wall_mm=3.0)
    assert again.unmarked.high <= 0.005 and again.too_deep.mean == 0
    none = how_sure(*places(), asked_mm=0.2, sigma_mm=0.1, wall_mm=0.4).advice
    assert none.depth_mm is None and "through the wall" in none.why
    calm = how_sure(*places(), asked_mm=0.2, sigma_mm=0.01).advice
    assert (calm.depth_mm, calm.passes) == (0.2, 1)


def test_the_same_seed_says_the_same():
    assert how_sure(*places(), asked_mm=0.2, sigma_mm=0.1) == how_sure(*places(), asked_mm=0.2, sigma_mm=0.1)


def wrong_skins(sigma, length, rng):
    """The bar with a normal field on it, and with its opposite, so that fewer draws do: made on a grid by its spectrum,
    in another way than the model draws it.
    """
    nx, nt = 61, 64
    x = np.linspace(0.0, 90.0, nx)
    wide = 4 * nx  # no wrapping along the axis
    kx = np.fft.fftfreq(wide, 1.5) * 2 * np.pi
    kt = np.fft.fftfreq(nt, 2 * np.pi * R / nt) * 2 * np.pi
    power = np.exp(-0.5 * length**2 * (kx[:, None] ** 2 + kt[None, :] ** 2))
    noise = np.fft.ifft2(np.fft.fft2(rng.standard_normal((wide, nt))) * np.sqrt(power)).real
    scale = math.sqrt(power.sum() / power.size)
    return [Sampled.of(R + sign * sigma * noise[:nx] / scale, x[0], x[-1]) for sign in (1.0, -1.0)]


def rings():
    """A stroke right round the bar every 5 mm."""
    out = ["G21 G90 G94", "S9000 M3", "G0 Z25"]
    for k, x in enumerate(STATIONS, 1):
        out += [f"(stroke {k})", f"G0 X{x:.1f} A0", f"G1 Z{R - DEPTH:.4f} F80", "G1 A360 F600", "G1 Z25 F80"]
    return [*out, "M5", "M2"]


@pytest.mark.parametrize("sigma", [0.1, 0.15, 0.3])
def test_the_proof_on_wrong_skins_leaves_as_much_unmarked_as_was_foretold(sigma):
    rng, length, draws = np.random.default_rng(5), 8.0, 10
    spots = [v.ravel() for v in np.meshgrid(STATIONS, np.radians(np.arange(-175.0, 176.0, 5.0)), indexing="ij")]
    left = deep = 0.0
    for skin in [skin for _ in range(draws // 2) for skin in wrong_skins(sigma, length, rng)]:
        carved = proof_of(rings(), skin=skin, wanted=None, tool=WIDE).carved
        i = np.rint((spots[0] - carved.x_mm[0]) / carved.frame.dx).astype(int)
        j = np.rint((spots[1] - carved.theta_rad[0]) / carved.frame.dth).astype(int) % len(carved.theta_rad)
        made = carved.depth_mm[i, j]
        left += float((made <= 0).mean()) / draws
        deep += float((made >= 2 * DEPTH).mean()) / draws
    n = len(spots[0])
    at = (*spots, np.full(n, R))
    known = {"asked_mm": DEPTH, "sigma_mm": sigma, "correlation_mm": length}
    sure = how_sure(np.full(n, DEPTH), at, np.ones(n), np.ones(n), **known)
    assert left == pytest.approx(sure.unmarked.mean, abs=0.02)
    assert deep == pytest.approx(sure.too_deep.mean, abs=0.02)
