"""Greys, their curve and the threshold, against published values and scikit-image."""

from typing import Any

import numpy as np
import pytest
import skimage.color
import skimage.data
from PIL import Image
from skimage.filters import threshold_otsu

from engine.artwork import Limits, Tone
from engine.artwork.notes import Notes
from engine.artwork.raster import read_picture
from engine.artwork.tone import curve, otsu, split_level
from engine.kernel.arrays import Ints
from engine.kernel.errors import ArtworkError
from tests.artwork.pictures import encoded


def counts_of(image: object) -> Ints:
    return np.bincount(np.asarray(image).ravel(), minlength=256)


@pytest.mark.parametrize(
    ("name", "mean", "t", "above"),
    [
        ("camera", 129.060726, 102, 177984),
        ("coins", 96.855516, 107, 45117),
        ("page", 171.544830, 157, 46818),
        ("moon", 112.169571, 87, 254144),
        ("clock", 146.331533, 174, 7790),
    ],
)
def test_otsu_on_pictures_with_known_thresholds(name: str, mean: float, t: int, above: int) -> None:
    image = getattr(skimage.data, name)()  # values of scikit-image's own tests and data
    assert image.mean() == pytest.approx(mean, abs=1e-5)
    assert otsu(counts_of(image)) == t == threshold_otsu(image)
    assert (image > t).sum() == above
    level = split_level(counts_of(image), None)
    assert (image > level).sum() == above


def test_otsu_on_five_by_five() -> None:
    image = [[0, 0, 1, 3, 5], [0, 1, 4, 3, 4], [1, 2, 5, 4, 1], [2, 4, 5, 2, 1], [4, 5, 1, 0, 0]]
    assert otsu(counts_of(image)) == 2  # scikit-image's own test


def test_of_two_greys_the_least_threshold_is_found_and_the_edge_lies_halfway() -> None:
    counts = np.zeros(256, np.int64)
    counts[[10, 200]] = 60, 40
    assert otsu(counts) == 10
    assert split_level(counts, None) == 105.5


def test_one_grey_has_no_threshold() -> None:
    counts = np.zeros(256, np.int64)
    counts[77] = 9
    with pytest.raises(ArtworkError, match="one grey"):
        otsu(counts)
    assert split_level(counts, 78) == 77.5


@pytest.mark.parametrize("seed", range(20))
def test_otsu_is_scikit_images_on_any_counts(seed: int) -> None:
    rng = np.random.default_rng(seed)
    image = np.clip(rng.normal(rng.uniform(40, 200, 3), rng.uniform(1, 40, 3), (400, 3)), 0, 255).astype(np.uint8)
    assert otsu(counts_of(image)) == threshold_otsu(image)
    level = split_level(counts_of(image), None)
    assert ((image < level) == (image <= otsu(counts_of(image)))).all()
    assert level % 1 == 0.5


def test_the_curve() -> None:
    assert (curve(Tone()) == np.arange(256)).all()
    assert (curve(Tone(invert=True)) == np.arange(255, -1, -1)).all()
    assert set(curve(Tone(contrast=-1)).tolist()) == {128}
    assert (curve(Tone(contrast=1)) == np.where(np.arange(256) < 128, 0, 255)).all()
    # tan(67.5 degrees) = 1 + sqrt 2 is the slope halfway up
    assert curve(Tone(contrast=0.5))[140] == round(127.5 + 12.5 * (1 + 2**0.5))
    assert curve(Tone(gamma=2.0))[64] == round(255 * (64 / 255) ** 0.5)
    both = curve(Tone(contrast=0.2, gamma=0.7))
    assert (np.diff(both.astype(int)) >= 0).all()
    assert (curve(Tone(contrast=0.2, gamma=0.7, invert=True)) == 255 - both).all()


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ({"threshold": 256}, "threshold"),
        ({"threshold": -1}, "threshold"),
        ({"contrast": 1.5}, "contrast"),
        ({"contrast": float("nan")}, "contrast"),
        ({"gamma": 0.0}, "gamma"),
        ({"gamma": float("inf")}, "gamma"),
    ],
)
def test_a_tone_out_of_range_is_refused(wrong: dict[str, Any], where: str) -> None:
    with pytest.raises(ArtworkError) as caught:
        Tone(**wrong)
    assert caught.value.where == f"tone/{where}"


def test_greys_are_the_luma_that_scikit_image_reckons() -> None:
    rng = np.random.default_rng(3)
    rgb = rng.integers(0, 256, (40, 50, 3), dtype=np.uint8)
    rgb[0, 0] = 200, 100, 50
    grey = read_picture(encoded(Image.fromarray(rgb)), "PNG", Limits(), Notes()).grey
    # its weights are 0.2125, 0.7154, 0.0721: 3e-4 of 255 apart at most, and half a grey by rounding
    assert np.abs(grey / 255 - skimage.color.rgb2gray(rgb)).max() < 0.5 / 255 + 3e-4
    assert grey[0, 0] == round(0.46135294 * 255)
