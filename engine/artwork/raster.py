"""Bytes of a picture to greys on a grid.

Takes PNG, JPEG, WebP, BMP or GIF; gives a `Picture`: 8-bit greys, row 0 on top, turned as its EXIF says, transparent
parts white, and the physical size where the file states one. Refuses other kinds, whatever passes the limits, bytes
that cannot be decoded to the end, and a PNG with a checksum that does not hold.
"""

import io
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from PIL import ExifTags, Image, ImageOps

from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.tone import LUMA
from engine.kernel.arrays import Bytes8, locked
from engine.kernel.errors import ArtworkError, NotArtworkError, TooBigError
from engine.kernel.units import INCH_MM

__all__ = ["Header", "Picture", "read_colours", "read_header", "read_picture"]

DPI_RANGE = (10.0, 20_000.0)  # outside, a stated resolution is a slip: a 1000 px picture 2.5 m wide or 1 mm
SIDEWAYS = (5, 6, 7, 8)  # EXIF 2.32, tag 0x0112: turned by a quarter
PNG_START, PNG_END = 8, b"IEND"  # W3C PNG, third edition, 5.2 and 5.3: after the signature, chunks to this one
WHITE = 255
DEEP_WHITE = 65535.0  # of 16 bits


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a picture says of itself, upright: its sides in pixels, and mm to a pixel across and down where stated."""

    width: int
    height: int
    pitch_mm: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """grey : (h, w) uint8, row 0 on top. pitch_mm : mm to a pixel (across, down), or None."""

    grey: Bytes8
    pitch_mm: tuple[float, float] | None

    def __post_init__(self) -> None:
        object.__setattr__(self, "grey", locked(self.grey))


def read_header(data: bytes, kind: str, limits: Limits) -> Header:
    """The header of a picture whose bytes are all there, at little cost. `kind` is a format's name in Pillow.

    Raises
    ------
    TooBigError, NotArtworkError.
    """
    image, header = _open(data, kind, limits, Notes())
    try:
        image.draft("L", (header.width // 8, header.height // 8))  # a JPEG is read whole but decoded small
        image.load()
    except Exception as exc:  # a decoder on broken bytes may raise anything
        raise _broken(kind, exc) from exc
    return header


def read_picture(data: bytes, kind: str, limits: Limits, notes: Notes) -> Picture:
    """The picture in greys. `kind` is a format's name in Pillow.

    Raises
    ------
    TooBigError, NotArtworkError.
    """
    image, header = _open(data, kind, limits, notes)
    pitch = header.pitch_mm
    try:
        image.load()
        image = ImageOps.exif_transpose(image)
        side = 1
        while image.width * image.height > limits.trace_pixels * side * side:
            side += 1
        if side > 1:
            notes.add("reduced", f"squares of {side} by {side} pixels are averaged before tracing", "file")
        grey = _grey(image, side)
    except Exception as exc:  # a decoder on broken bytes may raise anything
        raise _broken(kind, exc) from exc
    if pitch:
        pitch = (pitch[0] * header.width / grey.shape[1], pitch[1] * header.height / grey.shape[0])
    return Picture(grey=grey, pitch_mm=pitch)


def read_colours(data: bytes, kind: str, limits: Limits) -> Bytes8:
    """(h, w, 3) sRGB of a photograph, row 0 on top, turned as its EXIF says.

    Raises
    ------
    TooBigError, NotArtworkError.
    """
    image, _ = _open(data, kind, limits, Notes())
    try:
        image.load()
        return locked(np.asarray(ImageOps.exif_transpose(image).convert("RGB")))
    except Exception as exc:  # a decoder on broken bytes may raise anything
        raise _broken(kind, exc) from exc


def _open(data: bytes, kind: str, limits: Limits, notes: Notes) -> tuple[Image.Image, Header]:
    """The picture, not yet decoded, and its header, within the limits."""
    if len(data) > limits.raster_bytes:
        raise TooBigError(f"the picture has {len(data):,} bytes of at most {limits.raster_bytes:,}", where="file")
    if kind == "JPEG" and data.count(b"\xff\xda") > limits.jpeg_scans:
        raise TooBigError(f"the picture is stored in over {limits.jpeg_scans} scans", where="file")
    if kind == "PNG":
        _check_png(data)
    try:
        image: Image.Image = Image.open(io.BytesIO(data), formats=[kind])
        width, height = image.size
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as exc:
        raise TooBigError("the picture unpacks to far more than a picture needs", where="file") from exc
    except Exception as exc:  # a decoder on broken bytes may raise anything
        raise _broken(kind, exc) from exc
    if width * height > limits.raster_pixels or max(width, height) > limits.raster_side:
        raise TooBigError(
            f"the picture has {width:,} by {height:,} pixels; at most {limits.raster_pixels:,} in all and "
            f"{limits.raster_side:,} a side are taken",
            where="file",
            hint="save it smaller",
        )
    try:
        orientation = image.getexif().get(ExifTags.Base.Orientation, 1)
        moving = bool(getattr(image, "is_animated", False))
        pitch = _pitch(image, notes)
    except Exception as exc:  # a decoder on broken bytes may raise anything
        raise _broken(kind, exc) from exc
    if moving:
        notes.add("frames", "of several frames the first is used", "file")
    if orientation in SIDEWAYS:
        width, height = height, width
        pitch = (pitch[1], pitch[0]) if pitch else None
    return image, Header(width=width, height=height, pitch_mm=pitch)


def _check_png(data: bytes) -> None:
    """Refuse a PNG with a chunk that is cut short or has a wrong CRC: the decoder lets a wrong byte of the pixels pass.

    A chunk is its body's length, a name of four letters, the body, and the CRC-32 of name and body (W3C PNG, third
    edition, 5.3). What follows the last chunk is no part of the picture.
    """
    at, name = PNG_START, b""
    while name != PNG_END:
        name, end = data[at + 4 : at + 8], at + 8 + int.from_bytes(data[at : at + 4], "big")
        if end + 4 > len(data):
            raise _broken("PNG", None)
        if zlib.crc32(memoryview(data)[at + 4 : end]) != int.from_bytes(data[end : end + 4], "big"):
            told = name.decode("ascii") if name.isalpha() else "of no known name"
            raise NotArtworkError(
                f"the PNG picture is damaged: the checksum of a part ({told}) does not hold",
                where="file",
                hint="copy or save it again",
            )
        at = end + 4


def _pitch(image: Image.Image, notes: Notes) -> tuple[float, float] | None:
    """Mm to a pixel (across, down) as stored, or None; Pillow's own guess of 72 dots an inch is not a statement."""
    dpi: Any = image.info.get("dpi")
    if image.format in ("JPEG", "MPO") and image.info.get("jfif_unit") not in (1, 2):
        exif = image.getexif()
        across, down = exif.get(ExifTags.Base.XResolution), exif.get(ExifTags.Base.YResolution)
        unit = {2: 1.0, 3: INCH_MM / 10}.get(exif.get(ExifTags.Base.ResolutionUnit, 2))  # 2 inch, 3 centimetre
        try:
            dpi = (float(across) * unit, float(down) * unit) if across and down and unit else None
        except (TypeError, ValueError, ZeroDivisionError):
            dpi = None
    if not dpi:
        return None
    across, down = float(dpi[0]), float(dpi[1])
    if not all(DPI_RANGE[0] <= side <= DPI_RANGE[1] for side in (across, down)):
        if across or down:
            notes.add("resolution", f"a resolution of {across:g} by {down:g} dots an inch is not believed", "file")
        return None
    return INCH_MM / across, INCH_MM / down


def _grey(image: Image.Image, side: int) -> Bytes8:
    """(h, w) luma on white, squares of `side` pixels averaged; see `engine.artwork.tone` for the weights."""
    if image.mode.startswith("I"):
        deep = np.asarray(image, np.float64)  # 16 bits of grey, in whichever of Pillow's modes
        image = Image.fromarray(np.rint(np.clip(deep / DEEP_WHITE, 0.0, 1.0) * WHITE).astype(np.uint8))
    if image.has_transparency_data:
        image = image.convert("RGBA")
        sheet = Image.new("RGBA", image.size, (WHITE, WHITE, WHITE, WHITE))
        sheet.alpha_composite(image)
        image = sheet
    if image.mode not in ("L", "1"):
        image = image.convert("RGB")
    if side > 1:
        image = image.convert("L" if image.mode == "1" else image.mode).reduce(side)
    if image.mode in ("L", "1"):
        return np.asarray(image.convert("L"))
    matrix = (*LUMA, 0.0)
    return np.asarray(image.convert("L", matrix))


def _broken(kind: str, exc: Exception | None) -> ArtworkError:
    if isinstance(exc, MemoryError):
        return TooBigError("the picture needs more memory than there is", where="file")
    return NotArtworkError(
        f"the {kind} picture cannot be read to its end",
        where="file",
        hint="it may have been cut short; save it again",
    )
