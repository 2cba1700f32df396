"""Compiled or not, a loop gives the same numbers; without the compiler the plain loop is used."""

import importlib.util
import math
import sys

import numpy as np
import pytest

from engine.kernel import compiled as module
from engine.kernel.compiled import COMPILED, compiled


def walk_length(x, y):
    total = 0.0
    for k in range(1, len(x)):
        total += math.sqrt((x[k] - x[k - 1]) ** 2 + (y[k] - y[k - 1]) ** 2)
    return total


def share(a, b):
    return a / b


@pytest.fixture
def plain(monkeypatch):
    """The module as it is where numba cannot be had."""
    monkeypatch.setitem(sys.modules, "numba", None)
    spec = importlib.util.spec_from_file_location("compiled_without", module.__file__)
    without = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(without)
    return without


def test_without_the_compiler_a_function_is_itself(plain):
    assert not plain.COMPILED and plain.compiled(walk_length) is walk_length


def test_both_give_the_same_bits():
    assert COMPILED
    x, y = np.random.default_rng(1).normal(size=(2, 500))
    assert compiled(walk_length)(x, y) == walk_length(x, y)


def test_division_by_zero_is_numpys():
    quick = compiled(share)
    with np.errstate(divide="ignore", invalid="ignore"):
        assert quick(1.0, 0.0) == np.float64(1.0) / np.float64(0.0) == np.inf
        assert np.isnan(quick(0.0, 0.0))
