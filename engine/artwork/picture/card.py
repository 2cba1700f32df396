"""A card of steps from bare to dark, to be cut with a tool in a material and read back from a photograph of it.

Each step is a patch with bare skin around it; the darkness it asks is that of its stored grey, so that the card is what
it says to the last digit. What was measured goes into a job as its picture's response.
"""

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image

from engine.artwork.darkness import linear
from engine.artwork.raster import Picture
from engine.kernel.arrays import Bytes8, Floats
from engine.kernel.errors import ArtworkError
from engine.kernel.units import INCH_MM

__all__ = ["ToneCard", "measured_card", "tone_card"]

PATCH_PX, GAP_PX, HIGH_PX = 10, 2, 20
PIXEL_MM = 0.5  # a patch is 5 by 10 mm: many rows of any tool that draws tones
MIDDLE = 0.6  # of a patch or gap, each way, is read: the edges of a photographed patch are neither
MOST_STEPS = 64  # a card of 385 mm: longer than most pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneCard:
    """png : the picture, to be used as artwork like any other. asked : (k,) darkness of its patches, left to right."""

    png: bytes
    asked: tuple[float, ...]


def tone_card(steps: int = 16) -> ToneCard:
    """A card of `steps` patches, evenly from darkness 0 to 1 in linear light.

    Raises
    ------
    ArtworkError for fewer than 2 or more than 64 steps.
    """
    grey = _greys(steps)
    card = np.full((HIGH_PX + 2 * GAP_PX, steps * (PATCH_PX + GAP_PX) + GAP_PX), 255, np.uint8)
    for k, value in enumerate(grey.tolist()):
        left = GAP_PX + k * (PATCH_PX + GAP_PX)
        card[GAP_PX:-GAP_PX, left : left + PATCH_PX] = value
    held = io.BytesIO()
    dots = INCH_MM / PIXEL_MM
    Image.fromarray(card).save(held, "PNG", dpi=(dots, dots))
    return ToneCard(png=held.getvalue(), asked=tuple(_darkness(grey).tolist()))


def measured_card(picture: Picture, steps: int = 16) -> tuple[tuple[float, float], ...]:
    """(asked, measured) of each step, from a photograph of a cut card: upright, cropped to the card's own edge.

    Measured is the share of light that does not come back, in linear light, against the bare skin on both sides of
    the patch, so that light that falls unevenly along the card counts for little.

    Raises
    ------
    ArtworkError where the bare skin is black.
    """
    asked = _darkness(_greys(steps))
    light = np.take(linear(np.arange(256) / 255.0), picture.grey)
    whole, tall = steps * (PATCH_PX + GAP_PX) + GAP_PX, HIGH_PX + 2 * GAP_PX
    starts = [k * (PATCH_PX + GAP_PX) for k in range(steps)]
    rows = _middle(GAP_PX / tall, HIGH_PX / tall, light.shape[0])

    def mean(left: int, wide: int) -> float:
        return float(light[rows, _middle(left / whole, wide / whole, light.shape[1])].mean())

    patch = np.array([mean(s + GAP_PX, PATCH_PX) for s in starts])
    bare = np.array([mean(s, GAP_PX) for s in [*starts, whole - GAP_PX]])
    around = (bare[:-1] + bare[1:]) / 2
    if not (around > 0).all():
        raise ArtworkError("between the patches the picture is black", where="picture", hint="crop it to the card")
    measured = np.clip(1.0 - patch / around, 0.0, 1.0)
    return tuple(zip(asked.tolist(), measured.tolist(), strict=True))


def _middle(start: float, size: float, pixels: int) -> slice:
    """The middle pixels of a stretch that is given in shares of the whole; one at least."""
    low = (start + size * (1 - MIDDLE) / 2) * pixels
    first = min(round(low), pixels - 1)
    return slice(first, max(first + 1, round(low + size * MIDDLE * pixels)))


def _greys(steps: int) -> Bytes8:
    if not 2 <= steps <= MOST_STEPS:
        raise ArtworkError(f"a card has 2 to {MOST_STEPS} steps", where="steps")
    dark = 1.0 - linear(np.arange(256) / 255.0)
    wanted = np.linspace(0.0, 1.0, steps)
    return np.abs(dark[None, :] - wanted[:, None]).argmin(1).astype(np.uint8)


def _darkness(grey: Bytes8) -> Floats:
    return 1.0 - linear(grey / 255.0)
