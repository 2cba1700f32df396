"""How a picture will look when it is engraved: its edits and its tone, at the resolution of the engraving."""

import io

import numpy as np
from PIL import Image

from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.picture.editing import as_placed
from engine.artwork.picture.edits import Edits
from engine.artwork.raster import read_picture
from engine.artwork.sniff import sniff
from engine.artwork.tone import Tone, curve, split_level
from engine.kernel.errors import NotArtworkError

__all__ = ["picture_preview"]

LIMITS = Limits()


def picture_preview(
    data: bytes,
    edits: Edits,
    tone: Tone,
    *,
    size_mm: tuple[float | None, float | None],
    resolution_mm: float,
    toned: bool = True,
    limits: Limits = LIMITS,
) -> bytes:
    """PNG of the greys that the marking is given, a pixel for each place that can be engraved (never finer than the
    picture's own pixels). size_mm : width and height as placed. toned : greys; else black where it is cut.

    Raises
    ------
    NotArtworkError, TooBigError; ArtworkError where no threshold can be found.
    """
    kind = sniff(data)
    if not kind.is_picture:
        raise NotArtworkError("a drawing is no picture", where="file", hint="the edits are for photographs")
    picture = as_placed(read_picture(data, kind.name, limits, Notes()), edits, size_mm, resolution_mm, limits)
    grey = np.take(curve(tone), picture.grey)
    if not toned:
        level = split_level(np.bincount(grey.ravel(), minlength=256), tone.threshold)
        grey = np.where(grey < level, 0, 255).astype(np.uint8)
    held = io.BytesIO()
    Image.fromarray(grey).save(held, "PNG")
    return held.getvalue()
