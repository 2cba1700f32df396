"""Pictures of the carved field lie as a person sees the blank: +x up, +theta right; small faults stay to be seen."""

from io import BytesIO

import numpy as np
from PIL import Image

from engine.outcome.picture import MATCHES, PAPER, difference_png, unwrapped_png


def pixels(data):
    return np.asarray(Image.open(BytesIO(data)).convert("RGB"))


def test_both_pictures_lie_alike_and_to_scale():
    field = np.zeros((100, 300))
    field[80:, :60] = 0.2  # at high x, at low theta: the upper left corner
    for data in (
        unwrapped_png(field, height_mm=20, width_mm=30),
        difference_png((field > 0).astype(np.uint8), height_mm=20, width_mm=30),
    ):
        seen = pixels(data)
        assert seen.shape[1] / seen.shape[0] == 1.5
        assert tuple(seen[2, 2]) != PAPER
        assert all(tuple(seen[at]) == PAPER for at in ((-3, 2), (2, -3), (-3, -3)))


def test_one_cell_of_a_large_field_is_seen_in_its_own_colour():
    match = np.ones((2000, 5000), np.uint8)
    match[700, 3000] = 2
    seen = pixels(difference_png(match, height_mm=20, width_mm=50))
    assert (seen == MATCHES[2]).all(axis=2).any() and (seen == MATCHES[1]).all(axis=2).mean() > 0.99
