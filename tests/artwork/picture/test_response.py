"""What tool and material give, and the card by which it is measured: laws, and the whole way round."""

import io

import numpy as np
import pytest
from PIL import Image
from scipy.interpolate import PchipInterpolator

from engine.artwork import Edits, Response, measured_card, read_artwork, tone_card
from engine.artwork.raster import Picture
from engine.kernel.errors import ArtworkError
from tests.artwork.pictures import encoded

ASKED = tuple(np.linspace(0, 1, 16).tolist())
GAINED = tuple((0.8 * np.linspace(0, 1, 16) ** 0.6).tolist())  # dots run together in the lights, dark stops at 0.8


def gain(dark: np.ndarray) -> np.ndarray:
    return PchipInterpolator(ASKED, GAINED)(dark)


def test_what_is_asked_gives_what_is_wanted() -> None:
    response = Response(asked=ASKED, measured=GAINED)
    assert response.reach == pytest.approx((0.0, 0.8))
    wanted = np.linspace(0, 0.8, 1001)
    np.testing.assert_allclose(gain(response.to_ask(wanted)), wanted, atol=3e-3 / 16)
    np.testing.assert_allclose(response.given(np.linspace(0, 1, 500)), gain(np.linspace(0, 1, 500)), atol=1e-4)
    assert (np.diff(response.to_ask(np.linspace(0, 1, 1001))) >= 0).all()
    assert response.to_ask(np.array([0.95, 1.0])).tolist() == [1.0, 1.0]  # out of reach: all there is


def test_steps_that_fall_are_levelled_and_bare_skin_stays_bare() -> None:
    response = Response(asked=(0.1, 0.4, 0.6, 1.0), measured=(0.2, 0.5, 0.4, 0.9))
    given = response.given(np.linspace(0, 1, 1001))
    assert (np.diff(given) >= 0).all()
    assert given[0] == 0.0
    assert response.given(np.array([0.4, 0.6])) == pytest.approx([0.45, 0.45])  # their mean, by least squares
    assert response.to_ask(np.array([0.45]))[0] == pytest.approx(0.4, abs=0.01)  # the least that gives it
    spotted = Response(asked=(0.0, 1.0), measured=(0.1, 0.9))
    assert spotted.to_ask(np.array([0.0, 0.05])).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("asked", "measured"),
    [((0.5,), (0.5,)), ((0.5, 0.4), (0.1, 0.2)),
     ((0.0, 1.0), (0.0, 1.5)), ((0.0, 1.0), (0.0,)), ((0.0, float("nan")), (0.0, 1.0))],
)  # fmt: skip
def test_steps_that_are_no_card_are_refused(asked: tuple[float, ...], measured: tuple[float, ...]) -> None:
    with pytest.raises(ArtworkError) as caught:
        Response(asked=asked, measured=measured)
    assert caught.value.where == "picture/response/steps"


def test_a_picture_is_asked_for_through_the_response_and_what_is_out_of_reach_is_told() -> None:
    grey = np.arange(256, dtype=np.uint8)[None, :].repeat(4, 0)
    data = encoded(Image.fromarray(grey))
    plain = read_artwork(data, toned=True)
    drawing = read_artwork(data, toned=True, picture=Edits(response=Response(asked=ASKED, measured=GAINED)))
    within = plain.darkness.cells <= 0.8
    np.testing.assert_allclose(gain(drawing.darkness.cells)[within], plain.darkness.cells[within], atol=1e-3)
    (told,) = [note for note in drawing.notes if note.code == "response"]
    assert told.where == "picture" and "80%" in told.message
    share = (plain.darkness.cells > 0.8 + 1 / 255).mean()
    assert f"{share:.1%}" in told.message
    other = read_artwork(data, picture=Edits(response=Response(asked=ASKED, measured=GAINED)))
    assert "response" in [note.code for note in other.notes]


def test_the_card_asks_for_what_it_says() -> None:
    card = tone_card()
    assert len(card.asked) == 16
    np.testing.assert_allclose(card.asked, np.linspace(0, 1, 16), atol=0.005)
    assert (np.diff(card.asked) > 0).all() and card.asked[0] == 0 and card.asked[-1] == 1
    drawing = read_artwork(card.png, toned=True)
    assert drawing.has_size
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((97, 12), rel=1e-3)
    cells = np.unique(drawing.darkness.cells)
    np.testing.assert_allclose(cells, np.float32(card.asked), atol=1e-6)
    with pytest.raises(ArtworkError):
        tone_card(1)


@pytest.mark.parametrize("scale", [(1, 1), (3, 3), (7, 5)])
def test_a_cut_card_is_read_back_in_uneven_light(scale: tuple[int, int]) -> None:
    """A photograph made of the card: each patch as dark as the gain says, on skin of 0.6, lit from one side."""
    card = tone_card()
    light = np.asarray(Image.open(io.BytesIO(card.png))).astype(np.float64) / 255
    dark = 1 - np.where(light <= 0.04045, light / 12.92, ((light + 0.055) / 1.055) ** 2.4)
    dark = np.repeat(np.repeat(dark, scale[0], 0), scale[1], 1)
    lit = 0.6 * np.linspace(0.7, 1.3, dark.shape[1])[None, :] * (1 - gain(dark))
    stored = np.rint(255 * np.where(lit <= 0.0031308, 12.92 * lit, 1.055 * lit ** (1 / 2.4) - 0.055)).astype(np.uint8)
    steps = measured_card(Picture(grey=stored, pitch_mm=None))
    assert [asked for asked, _ in steps] == list(card.asked)
    np.testing.assert_allclose([m for _, m in steps], gain(np.array(card.asked)), atol=0.01)
    response = Response(asked=card.asked, measured=tuple(m for _, m in steps))
    wanted = np.linspace(0.05, 0.75, 50)
    np.testing.assert_allclose(gain(response.to_ask(wanted)), wanted, atol=0.015)
