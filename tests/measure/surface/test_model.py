"""The model of a round part and a deviation: places, penalties and variances, against dense matrices."""

import numpy as np
import pytest

from engine.measure.spline import Basis
from engine.measure.surface.blocks import Blocks, Inverse
from engine.measure.surface.model import ROWS, Model
from engine.measure.surface.sureness import neighbour_growth, over_grid, spread
from tests.measure.surface.skins import grid

RNG = np.random.default_rng(3)
MODEL = Model.on(Basis(x0_mm=2.0, x1_mm=50.0, nx=9, nt=8))
SIZE = ROWS * MODEL.width


def whole(blocks):
    count = len(blocks.diagonal)
    out = np.zeros((count * SIZE, count * SIZE))
    for k in range(count):
        out[k * SIZE : (k + 1) * SIZE, k * SIZE : (k + 1) * SIZE] = blocks.diagonal[k]
    for k in range(count - 1):
        out[(k + 1) * SIZE : (k + 2) * SIZE, k * SIZE : (k + 1) * SIZE] = blocks.below[k]
        out[k * SIZE : (k + 1) * SIZE, (k + 1) * SIZE : (k + 2) * SIZE] = blocks.below[k].T
    return out


def test_a_place_is_the_round_part_and_the_deviation_together():
    coefficients = RNG.normal(size=(9, 9))
    x, theta = RNG.uniform(2, 50, 40), RNG.uniform(-7, 7, 40)
    line = Basis(x0_mm=2.0, x1_mm=50.0, nx=9, nt=1)
    want = line.at(coefficients[:, :1], x, theta)[0] + MODEL.basis.at(coefficients[:, 1:], x, theta)[0]
    assert MODEL.matrix(x, theta) @ coefficients.ravel() == pytest.approx(want, abs=1e-12)
    sx, st = np.linspace(2, 50, 6), np.arange(10) * 0.6
    gx, gt = np.meshgrid(sx, st, indexing="ij")
    want = MODEL.matrix(gx.ravel(), gt.ravel()) @ coefficients.ravel()
    assert MODEL.grid(coefficients.ravel(), sx, st).ravel() == pytest.approx(want, abs=1e-12)


def test_penalties_see_their_own_part_only():
    part = np.zeros((9, 9))
    part[:, 0] = RNG.normal(size=9)
    round_ = part.ravel()
    third = np.diff(part[:, 0], 3)
    assert round_ @ whole(MODEL.round_) @ round_ == pytest.approx(third @ third)
    assert round_ @ whole(MODEL.along) @ round_ == round_ @ whole(MODEL.around) @ round_ == 0
    rest = RNG.normal(size=(9, 9))
    rest[:, 0] = 0
    flat = rest.ravel()
    assert flat @ whole(MODEL.round_) @ flat == 0
    assert flat @ whole(MODEL.along) @ flat == pytest.approx((np.diff(rest, 3, axis=0) ** 2).sum())
    around = np.diff(np.hstack([rest[:, 1:], rest[:, 1:4]]), 3, axis=1)
    assert flat @ whole(MODEL.around) @ flat == pytest.approx((around**2).sum())


def test_variances_are_those_of_the_dense_inverse():
    x, theta = RNG.uniform(2, 50, 400), RNG.uniform(0, 7, 400)
    rows = MODEL.matrix(x, theta)
    matrix = Blocks.of(rows.T @ rows, SIZE).plus((0.3, MODEL.round_), (0.1, MODEL.along), (0.2, MODEL.around))
    matrix = matrix.plus((1.0, MODEL.tie))
    near, inverse = Inverse(matrix).near(), np.linalg.inv(whole(matrix))
    want = np.einsum("ka,ab,kb->k", rows.toarray(), inverse, rows.toarray())
    assert spread(MODEL, near, *MODEL.rows(x, theta)) == pytest.approx(want, rel=1e-6)
    sx, st = np.linspace(2, 50, 7), np.arange(11) * 0.55
    gx, gt = np.meshgrid(sx, st, indexing="ij")
    at = MODEL.matrix(gx.ravel(), gt.ravel()).toarray()
    want = np.einsum("ka,ab,kb->k", at, inverse, at).reshape(7, 11)
    assert over_grid(MODEL, near, sx, st) == pytest.approx(want, rel=1e-6)


def test_residuals_that_go_together_raise_the_error_and_others_do_not():
    x, theta = grid(0, 19, 20, 24)
    places, box = np.stack([x, theta / (2 * np.pi) * 24 * 0.9], axis=1), np.array([0.0, 24 * 0.9])
    alone = RNG.normal(size=480)
    assert neighbour_growth(places, alone, box) == 1.0
    shared = np.repeat(RNG.normal(size=20), 24)  # one shift a station: neighbours around have it in common
    c = 1 / (1 + 0.5**2)
    assert neighbour_growth(places, shared + 0.5 * alone, box) == pytest.approx(np.sqrt((1 + c) / (1 - c)), rel=0.25)
    assert neighbour_growth(places[:5], shared[:5], box) == 1.0
