"""Colour and threshold against the reference library, and pictures made smaller."""

import numpy as np
import pytest
from skimage.color import rgb2lab
from skimage.filters import threshold_otsu

from engine.measure.photographs.background import distance, fit_background
from engine.measure.photographs.body import otsu
from engine.measure.photographs.lab import LINEAR, coded, lab, reduced

RNG = np.random.default_rng(8)


def test_lab_is_that_of_the_reference_library():
    picture = RNG.integers(0, 256, (40, 50, 3), dtype=np.uint8)
    assert lab(picture) == pytest.approx(rgb2lab(picture), abs=0.01)


def test_coding_light_undoes_decoding_it():
    assert coded(LINEAR) * 255 == pytest.approx(np.arange(256), abs=0.01)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6])
def test_the_automatic_threshold_is_that_of_the_reference_library(share):
    values = np.where(RNG.random(20000) < share, RNG.normal(40, 6, 20000), RNG.normal(5, 2, 20000))
    bin_width = np.ptp(values) / 256
    assert otsu(values) == pytest.approx(threshold_otsu(values, nbins=256), abs=0.51 * bin_width)


def test_a_smaller_picture_holds_the_means():
    picture = RNG.integers(0, 256, (31, 46, 3), dtype=np.uint8)
    small = reduced(picture, 4)
    assert small.shape == (7, 11, 3)
    assert np.abs(small[2, 3] - picture[8:12, 12:16].mean(axis=(0, 1))).max() <= 0.5
    assert reduced(picture, 1) is picture


def test_the_background_is_followed_though_a_body_crosses_the_border():
    y, x = np.mgrid[0:90, 0:120]
    colours = np.stack([80 + 0.05 * x - 0.0003 * y * y, 1 + 0.01 * y, -2 + 0.0001 * x * y], -1).astype(np.float32)
    plain = colours.copy()
    colours[30:60] = (40, 20, 25)
    found = fit_background(colours)
    assert found.field == pytest.approx(plain, abs=0.02)
    assert 0.6 < found.share < 0.9 and found.spread < 0.1
    assert distance(colours, found)[45, 60] == pytest.approx(np.linalg.norm(colours[45, 60] - plain[45, 60]), abs=0.05)
