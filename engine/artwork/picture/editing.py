"""A picture and its edits to the edited picture, in the one order that `Edits` states."""

from dataclasses import replace
from math import inf

import numpy as np

from engine.artwork.darkness import BEND, OFFSET, POWER, SLOPE, linear
from engine.artwork.limits import Limits
from engine.artwork.picture.edits import Crop, Edits
from engine.artwork.picture.frame import Light, averaged, cropped, frame_mm, turned
from engine.artwork.picture.greys import (
    brought_out,
    curved,
    denoised,
    levelled,
    sharpened,
    without_background,
)
from engine.artwork.raster import Picture
from engine.kernel.arrays import Bytes8

__all__ = ["as_placed", "edited"]

UNSIZED = (1.0, 1.0)
LIMITS = Limits()


def edited(picture: Picture, edits: Edits, resolution_mm: float | None = None, *, limits: Limits = LIMITS) -> Picture:
    """The picture with its edits. `picture.pitch_mm` is that at the size used, as radii and resolution are; one without
    a size counts its pixels as mm.

    resolution_mm : pixels finer than this are averaged to it before anything heavy; None leaves them. Where there is
    nothing to do the picture comes back as it is.

    Raises
    ------
    TooBigError where a turned picture grows beyond the limit.
    """
    pitch = picture.pitch_mm or UNSIZED
    averages = resolution_mm is not None and resolution_mm > min(pitch) * (1 + 1e-9)
    if not (edits.moves_pixels or edits.changes_greys or averages):
        return picture
    if edits.moves_pixels or averages:
        light: Light = np.take(linear(np.arange(256) / 255.0).astype(np.float32), picture.grey)
        light, pitch = turned(light, pitch, edits.turn_deg % 360.0, limits.raster_pixels)
        light = cropped(light, edits.crop or Crop())
        if averages and resolution_mm is not None:
            light, pitch = averaged(light, pitch, resolution_mm)
        grey = _encoded(light)
    else:
        grey = (picture.grey / np.float32(255.0)).astype(np.float32)
    grey = _changed(grey, edits, pitch)
    stored: Bytes8 = np.rint(np.clip(grey, 0.0, 1.0) * 255.0).astype(np.uint8)
    return Picture(grey=stored, pitch_mm=None if picture.pitch_mm is None else pitch)


def as_placed(
    picture: Picture,
    edits: Edits,
    size_mm: tuple[float | None, float | None],
    resolution_mm: float | None,
    limits: Limits = LIMITS,
) -> Picture:
    """The edited picture at its own size, its edits done as they are at the size (width, height) at which it is placed.
    Of one without a size the pitch is in its own pixels.

    Raises
    ------
    TooBigError where a turned picture grows beyond the limit.
    """
    across, down = picture.pitch_mm or UNSIZED
    scale = _used_scale(picture, edits, *size_mm)
    used = Picture(grey=picture.grey, pitch_mm=(across * scale, down * scale))
    done = edited(used, edits, resolution_mm, limits=limits)
    across, down = done.pitch_mm or UNSIZED
    return replace(done, pitch_mm=(across / scale, down / scale))


def _used_scale(picture: Picture, edits: Edits, width_mm: float | None, height_mm: float | None) -> float:
    """How much larger than its own size the edited picture is used, where it is made so wide or so high; 1 for neither.

    Where both are given the picture is stretched, and the mean of the two counts.
    """
    shape = (picture.grey.shape[0], picture.grey.shape[1])
    width, height = frame_mm(shape, picture.pitch_mm or UNSIZED, edits.turn_deg)
    crop = edits.crop or Crop()
    asked = [
        used / own
        for used, own in (
            (width_mm, width * (crop.right - crop.left)),
            (height_mm, height * (crop.bottom - crop.top)),
        )
        if used is not None and 0 < own < inf
    ]
    return float(np.sqrt(np.prod(asked))) if len(asked) == 2 else (asked or [1.0])[0]


def _changed(grey: Light, edits: Edits, pitch: tuple[float, float]) -> Light:
    grey = denoised(grey, edits.denoise)
    if edits.background is not None:
        grey = without_background(grey, edits.background.tolerance)
    if edits.levels is not None:
        grey = levelled(grey, edits.levels)
    if edits.curve:
        grey = curved(grey, edits.curve)
    if edits.local_contrast is not None:
        grey = brought_out(grey, edits.local_contrast, pitch)
    return grey if edits.sharpen is None else sharpened(grey, edits.sharpen, pitch)


def _encoded(light: Light) -> Light:
    """Stored (sRGB) values, 0 to 1, of linear light."""
    light = np.clip(light, 0.0, 1.0)
    curve = (1.0 + OFFSET) * light ** np.float32(1.0 / POWER) - OFFSET
    return np.where(light <= BEND / SLOPE, light * np.float32(SLOPE), curve).astype(np.float32)
