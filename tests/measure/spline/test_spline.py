"""Penalised tensor splines: their values against scipy's, what their penalties leave alone, and their solutions."""

import numpy as np
import pytest
from scipy import sparse
from scipy.interpolate import BSpline

from engine.measure.spline import Basis, Factor, Smoothing, covariance, pattern_search, penalties

RNG = np.random.default_rng(4)
BASIS = Basis(x0_mm=5.0, x1_mm=65.0, nx=9, nt=12)


def by_scipy(basis, coefficients, x, theta):
    """The same surface by scipy's own B-splines."""
    step = (basis.x1_mm - basis.x0_mm) / (basis.nx - 3)
    knots = basis.x0_mm + step * np.arange(-3, basis.nx + 1)
    turn = 2 * np.pi / basis.nt
    wrapped = np.concatenate([coefficients, coefficients[:, :3]], axis=1)
    round_knots = turn * np.arange(-3, basis.nt + 4)
    out = []
    for a, b in zip(x, np.mod(theta, 2 * np.pi), strict=True):
        rows = BSpline(knots, wrapped, 3)(a)
        out.append(BSpline(round_knots, rows, 3)(b))
    return np.array(out)


def places(k=200):
    return RNG.uniform(BASIS.x0_mm, BASIS.x1_mm, k), RNG.uniform(-10, 10, k)


def test_values_are_those_of_the_reference_library():
    coefficients = RNG.normal(size=(BASIS.nx, BASIS.nt))
    x, theta = places()
    assert BASIS.at(coefficients, x, theta)[0] == pytest.approx(by_scipy(BASIS, coefficients, x, theta), abs=1e-12)


def test_rows_values_and_slopes_agree():
    coefficients = RNG.normal(size=(BASIS.nx, BASIS.nt))
    x, theta = places()
    value, along, around = BASIS.at(coefficients, x, theta)
    assert BASIS.matrix(x, theta, np.full(len(x), 2.0)) @ coefficients.ravel() == pytest.approx(2 * value, abs=1e-12)
    h = 1e-6
    assert along == pytest.approx(
        (BASIS.at(coefficients, x + h, theta)[0] - BASIS.at(coefficients, x - h, theta)[0]) / (2 * h), abs=1e-6
    )
    assert around == pytest.approx(
        (BASIS.at(coefficients, x, theta + h)[0] - BASIS.at(coefficients, x, theta - h)[0]) / (2 * h), abs=1e-6
    )


def test_the_surface_closes_and_ends_hold():
    coefficients = RNG.normal(size=(BASIS.nx, BASIS.nt))
    x = np.array([5.0, 65.0, 30.0])
    assert BASIS.at(coefficients, x, np.zeros(3))[0] == pytest.approx(
        BASIS.at(coefficients, x, np.full(3, 2 * np.pi))[0], abs=1e-12
    )
    beyond = BASIS.at(coefficients, np.array([-3.0, 80.0]), np.zeros(2))[0]
    assert beyond == pytest.approx(BASIS.at(coefficients, np.array([5.0, 65.0]), np.zeros(2))[0], abs=1e-12)


def test_penalties_leave_quadratics_along_and_constants_around():
    along, around = penalties(BASIS)
    i = np.arange(float(BASIS.nx))[:, None] + np.zeros((1, BASIS.nt))
    quadratic = (3 - 2 * i + 0.7 * i**2).ravel()
    assert quadratic @ (along @ quadratic) == pytest.approx(0, abs=1e-9)
    assert quadratic @ (around @ quadratic) == pytest.approx(0, abs=1e-9)
    waves = np.tile(np.cos(3 * 2 * np.pi * np.arange(BASIS.nt) / BASIS.nt), (BASIS.nx, 1)).ravel()
    third = abs(np.exp(1j * 3 * 2 * np.pi / BASIS.nt) - 1) ** 6  # eigenvalue of squared third differences
    assert waves @ (around @ waves) == pytest.approx(third * waves @ waves, rel=1e-12)


@pytest.mark.parametrize("nt", [1, 4, 12])
def test_the_banded_solution_is_the_dense_one(nt):
    basis = Basis(x0_mm=0.0, x1_mm=40.0, nx=8, nt=nt)
    x, theta = RNG.uniform(0, 40, 300), RNG.uniform(0, 7, 300)
    B = basis.matrix(x, theta, np.ones(300))
    normal = sparse.csr_matrix(B.T @ B)
    smoothing = Smoothing(along=0.3, around=0.05)
    right = RNG.normal(size=(basis.size, 2))
    along, around = penalties(basis)
    dense = (normal + (0.3 * along + 0.05 * around + 1e-9 * sparse.identity(basis.size)) * 2.0).toarray()
    got = Factor(basis, normal, along, around, smoothing, 2.0).solve(right)
    assert got == pytest.approx(np.linalg.solve(dense, right), rel=1e-7, abs=1e-9)
    assert covariance(dense) == pytest.approx(np.linalg.inv(dense), rel=1e-7, abs=1e-9)


def test_the_search_finds_the_least_of_a_bowl_and_stays_in_range():
    assert pattern_search(lambda a, b: 1 + (a - 3) ** 2 + (b + 2) ** 2, (-2.0, -1.0), (2.0, 1.0), round_body=False) == (
        3.0,
        -2.0,
    )
    assert pattern_search(lambda a, b: 10.0 ** -(a + b), (0.0, 0.0), (2.0, 1.0), round_body=True) == (7.0, 0.0)
