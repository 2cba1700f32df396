"""Pictures of the carved field lie as a person sees the blank: +x up, +theta right; small faults stay to be seen."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from engine.outcome.picture import MATCHES, PAPER, difference_png, opened, unwrapped_png


def pixels(data):
    return np.asarray(Image.open(BytesIO(data)).convert("RGB"))


def test_both_pictures_lie_alike_and_to_scale():
    field = np.zeros((100, 300))
    field[80:, :60] = 0.2  # at high x, at low theta: the upper left corner
    for data in (
        unwrapped_png(field, height_mm=20, width_mm=30, around_mm=np.full(100, 0.1), whole=False),
        difference_png((field > 0).astype(np.uint8), height_mm=20, width_mm=30),
    ):
        seen = pixels(data)
        assert seen.shape[1] / seen.shape[0] == 1.5
        assert tuple(seen[2, 2]) != PAPER
        assert all(tuple(seen[at]) == PAPER for at in ((-3, 2), (2, -3), (-3, -3)))


def test_nothing_cut_is_plain_paper_and_the_same_field_the_same_bytes():
    field = np.zeros((60, 90))
    laid = {"height_mm": 6, "width_mm": 9, "around_mm": np.full(60, 0.1), "whole": False}
    assert (pixels(unwrapped_png(field, **laid)) == PAPER).all()
    field[20:30] = 0.1
    assert unwrapped_png(field, **laid) == unwrapped_png(field.copy(), **laid)


@pytest.mark.parametrize(("high", "wide"), [(300, 420), (900, 3000)])
def test_the_lamp_stands_at_the_upper_left_and_the_middle_colour_tells_the_light(high, wide):
    """A groove along and one around: walls that look to the lamp are brighter than the flat would be, others darker."""
    v = np.maximum(0.0, 0.3 - np.abs(np.linspace(-1.2, 1.2, 24)))
    along, around = np.zeros((high, wide)), np.zeros((high, wide))
    along[:, wide // 2 - 12 : wide // 2 + 12] = v
    around[high // 2 - 12 : high // 2 + 12] = v[:, None]
    laid = {"height_mm": high * 0.1, "width_mm": wide * 0.1, "around_mm": np.full(high, 0.1), "whole": False}
    seen = pixels(unwrapped_png(along, **laid)).mean(axis=0)[:, 1]
    dark, bright = seen[: len(seen) // 2].min(), seen[len(seen) // 2 :].min()
    assert dark < bright - 40
    seen = pixels(unwrapped_png(around, **laid)).mean(axis=1)[:, 1]
    assert seen[: len(seen) // 2].min() < seen[len(seen) // 2 :].min() - 30  # the upper wall looks down


@pytest.mark.parametrize(("high", "wide"), [(300, 420), (900, 3000)])
def test_the_two_ends_of_a_whole_turn_match(high, wide):
    """The picture of a field turned by some columns is the picture turned: scaling sees no edge at the seam."""
    theta = np.linspace(0, 2 * np.pi, wide, endpoint=False)
    field = 0.1 * np.maximum(0.0, np.sin(60 * theta + 0.4)) * np.ones((high, 1))
    step = 2 * np.pi * 4 / wide
    laid = {"height_mm": step * high, "width_mm": step * wide, "around_mm": np.full(high, step), "whole": True}
    here = pixels(unwrapped_png(field, **laid)).astype(int)
    there = pixels(unwrapped_png(np.roll(field, wide // 2, axis=1), **laid)).astype(int)
    np.testing.assert_allclose(np.roll(there, here.shape[1] // 2, axis=1), here, atol=1)


def test_one_cell_of_a_large_field_is_seen_in_its_own_colour():
    match = np.ones((2000, 5000), np.uint8)
    match[700, 3000] = 2
    seen = pixels(difference_png(match, height_mm=20, width_mm=50))
    assert (seen == MATCHES[2]).all(axis=2).any() and (seen == MATCHES[1]).all(axis=2).mean() > 0.99


@pytest.mark.parametrize("seam", [np.pi, 0.0, 1.0, -2.5, 11.0])
@pytest.mark.parametrize("first", [-np.pi, 0.3, 40.0])
def test_a_field_that_goes_once_round_is_opened_at_the_seam(seam, first):
    theta = first + 2 * np.pi * np.arange(360) / 360
    field = np.mod(theta - seam, 2 * np.pi)[None].repeat(3, axis=0)
    shown = opened(field, theta, seam)
    assert (np.diff(shown, axis=1) > 0).all() and shown[0, 0] < 2 * np.pi / 360
    window = theta[:300]
    assert opened(field[:, :300], window, seam) is not None
    assert (opened(field[:, :300], window, seam) == field[:, :300]).all()
