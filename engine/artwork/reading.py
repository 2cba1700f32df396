"""The two doors of the room: bytes to a `Drawing`, and a cheap look at bytes that have just come in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from engine.artwork.darkness import Darkness
from engine.artwork.drawing import Drawing, Note
from engine.artwork.dxf import DrawingChoice, describe_dxf, read_dxf
from engine.artwork.lettering import read_font
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.picture import Edits, Response, as_placed
from engine.artwork.raster import Picture, read_colours, read_header, read_picture
from engine.artwork.sniff import Kind, sniff
from engine.artwork.svg import describe_svg, read_svg
from engine.artwork.tone import Tone, curve, split_level
from engine.artwork.trace import trace
from engine.kernel.arrays import Bytes8
from engine.kernel.errors import EmptyError, NotArtworkError, TooBigError
from engine.kernel.ragged import Ragged, spread

__all__ = ["Description", "describe", "left_over", "read_artwork", "read_grey", "read_photograph"]

CHORD_MM = 0.005  # of flattened curves at the file's own size; half of what the tool path is allowed
LIMITS = Limits()
AS_IT_IS = Tone()
CHOICE_UNUSED = Note(code="drawing", message="only a DXF file has units and layers to choose", where="drawing")
EDITS_UNUSED = Note(code="picture", message="a drawing is no picture: its edits are not used", where="picture")
RESPONSE_UNUSED = Note(
    code="response", message="the response is not used: the picture is not drawn by its light and dark", where="picture"
)
TONE_UNUSED = Note(code="tone", message="a drawing has no greys: its tone is not used", where="tone")
GREY_STEP = 1 / 255  # of 8 bits: less is not said to be out of reach
SIDE_CHORDS = 20_000  # an unsized or small file may be enlarged: 100 mm at 0.005 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """What an uploaded file is. width, height : mm where `has_size`, else pixels or user units; a table's are its
    columns and its rows of readings, a text's of readings 0 and its lines, a mesh's its vertices and its triangles, a
    font's the units of its em and its letters. layers : the names of a DXF file's layers.
    """

    kind: Literal["raster", "vector", "table", "readings", "mesh", "font"]
    media_type: str
    width: float
    height: float
    has_size: bool
    layers: tuple[str, ...] = ()


def describe(data: bytes, *, limits: Limits = LIMITS) -> Description:
    """What the bytes are, at little cost; nothing is traced or painted.

    Raises
    ------
    NotArtworkError, TooBigError; ArtworkError where a drawing holds nothing that could be measured.
    """
    kind = sniff(data)
    if kind is Kind.SVG:
        width, height, has_size = describe_svg(data, limits)
        return Description(kind="vector", media_type=kind.value, width=width, height=height, has_size=has_size)
    if kind is Kind.DXF:
        width, height, has_size, layers = describe_dxf(data, limits)
        return Description(
            kind="vector", media_type=kind.value, width=width, height=height, has_size=has_size, layers=layers
        )
    if kind is Kind.TABLE:
        return _describe_table(data, limits)
    if kind.is_font:
        face = read_font(data, limits)
        across, down = float(face.upem), float(face.glyph_count)
        return Description(kind="font", media_type=kind.value, width=across, height=down, has_size=False)
    header = read_header(data, kind.name, limits)
    across, down = header.pitch_mm or (1.0, 1.0)
    return Description(
        kind="raster",
        media_type=kind.value,
        width=header.width * across,
        height=header.height * down,
        has_size=header.pitch_mm is not None,
    )


def read_artwork(
    data: bytes,
    *,
    tone: Tone | None = None,
    toned: bool = False,
    drawing: DrawingChoice | None = None,
    picture: Edits | None = None,
    size_mm: tuple[float | None, float | None] = (None, None),
    resolution_mm: float | None = None,
    limits: Limits = LIMITS,
) -> Drawing:
    """The drawing in the bytes of a picture (PNG, JPEG, WebP, BMP, GIF) or of an SVG or DXF file.

    tone : for pictures alone; None leaves them as they are, and one given for a drawing is noted. toned : a picture
    is read for its light and dark, and not parted in two by a threshold. drawing : for DXF files alone, likewise.
    picture : edits, for pictures alone, likewise. size_mm : as wide and high as it is to be placed; of use to edits,
    which take the file's own size without it, and to a DXF file without a unit, which asks for it without it.
    resolution_mm : the finest that can be engraved, of use to edits; without it the pixels count. Flattened curves lie
    within CHORD_MM of the true ones at the file's own size (a user unit counts as 1/96 inch), and never farther than a
    20,000th of the longer side.

    Raises
    ------
    NotArtworkError, TooBigError, EmptyError, QuestionError, ArtworkError.
    """
    kind = sniff(data)
    unused = left_over(tone, picture, drawing, is_picture=kind.is_picture, is_dxf=kind is Kind.DXF)
    if not kind.is_picture:
        sized = any(side is not None for side in size_mm)
        return _told(_drawn(data, kind, drawing or DrawingChoice(), limits, sized=sized), unused)
    notes, response = Notes(), None if picture is None else picture.response
    seen = read_picture(data, kind.name, limits, notes)
    has_size = seen.pitch_mm is not None
    if picture is not None:
        seen = as_placed(seen, picture, size_mm, resolution_mm, limits)
    if toned:
        return _told(_toned(seen, has_size, tone or AS_IT_IS, response, notes), unused)
    unused += [RESPONSE_UNUSED] if response is not None else []
    return _told(_traced(seen, has_size, tone or AS_IT_IS, limits, notes), unused)


def _drawn(data: bytes, kind: Kind, choice: DrawingChoice, limits: Limits, *, sized: bool) -> Drawing:
    """The drawing in an SVG or DXF file. NotArtworkError where the bytes are neither."""
    if kind is Kind.SVG:
        return read_svg(data, limits, chord_mm=CHORD_MM, chord_share=1.0 / SIDE_CHORDS)
    if kind is Kind.DXF:
        return read_dxf(data, limits, choice, sized=sized, chord_mm=CHORD_MM, chord_share=1.0 / SIDE_CHORDS)
    if kind is Kind.TABLE:
        raise NotArtworkError("a table of readings is no artwork", where="file", hint="use it as a measured blank")
    raise NotArtworkError("a font is no artwork", where="file", hint="name it as the font of a text")


def left_over(
    tone: Tone | None, picture: Edits | None, drawing: DrawingChoice | None, *, is_picture: bool, is_dxf: bool
) -> list[Note]:
    """Notes of what is said of a piece of art and is not for its kind."""
    notes = [TONE_UNUSED] if tone is not None and not is_picture else []
    notes += [EDITS_UNUSED] if picture is not None and not is_picture else []
    return notes + ([CHOICE_UNUSED] if drawing is not None and not is_dxf else [])


def _told(drawing: Drawing, unused: Sequence[Note]) -> Drawing:
    return replace(drawing, notes=(*drawing.notes, *unused)) if unused else drawing


def read_grey(data: bytes, edits: Edits, *, limits: Limits = LIMITS) -> Picture:
    """The greys of a photograph's bytes at its own size, edited.

    Raises
    ------
    NotArtworkError, TooBigError.
    """
    return as_placed(read_picture(data, _picture_kind(data), limits, Notes()), edits, (None, None), None, limits)


def read_photograph(data: bytes, *, limits: Limits = LIMITS) -> Bytes8:
    """(h, w, 3) sRGB of a photograph's bytes, row 0 on top, turned as its EXIF says.

    Raises
    ------
    NotArtworkError, TooBigError.
    """
    return read_colours(data, _picture_kind(data), limits)


def _picture_kind(data: bytes) -> str:
    """The format's name in Pillow. NotArtworkError where the bytes are no picture."""
    kind = sniff(data)
    if not kind.is_picture:
        raise NotArtworkError("the file is no photograph", where="file", hint="send a JPEG or PNG")
    return kind.name


def _toned(picture: Picture, has_size: bool, tone: Tone, response: Response | None, notes: Notes) -> Drawing:
    (height, width), (across, down) = picture.grey.shape, picture.pitch_mm or (1.0, 1.0)
    darkness = Darkness.of_greys(np.take(curve(tone), picture.grey), (across, down))
    if response is not None:
        darkness = _asked(darkness, response, notes)
    return Drawing(
        width_mm=width * across,
        height_mm=height * down,
        has_size=has_size,
        darkness=darkness,
        notes=notes.all(),
    )


def _asked(darkness: Darkness, response: Response, notes: Notes) -> Darkness:
    """The darkness to ask for, so that the picture's comes of it."""
    beyond = float((darkness.cells > response.reach[1] + GREY_STEP).mean())
    if beyond > 0:
        notes.add(
            "response",
            f"{beyond:.1%} of the picture is darker than {response.reach[1]:.0%}, the most that was measured",
            "picture",
        )
    asked = response.to_ask(darkness.cells.astype(np.float64)).astype(np.float32)
    return Darkness(cells=asked, to_cells=darkness.to_cells)


def _traced(picture: Picture, has_size: bool, tone: Tone, limits: Limits, notes: Notes) -> Drawing:
    grey = np.take(curve(tone), picture.grey)
    level = split_level(np.bincount(grey.ravel(), minlength=256), tone.threshold)
    if tone.threshold is None:
        notes.add("threshold", f"greys below {level + 0.5:g} are cut", "tone")
    regions = trace(grey, level, limits)
    if not len(regions):
        raise EmptyError(
            "no part of the picture is darker than the threshold",
            where="tone/threshold",
            hint="raise the threshold, or invert the picture",
        )
    (height, width), (across, down) = grey.shape, picture.pitch_mm or (1.0, 1.0)
    # rows run down and the sheet's y runs up: both ring orders turn round, so each ring is turned back
    points = (regions.points - np.array([width, height]) / 2) * np.array([across, -down])
    backwards = spread(regions.offsets[:-1], regions.sizes, back=np.ones(len(regions), np.bool_))
    return Drawing(
        width_mm=width * across,
        height_mm=height * down,
        has_size=has_size,
        rings=Ragged(points=points[backwards], offsets=regions.offsets),
        notes=notes.all(),
    )


def _describe_table(data: bytes, limits: Limits) -> Description:
    if len(data) > limits.table_bytes:
        raise TooBigError(f"the table has {len(data):,} bytes of at most {limits.table_bytes:,}", where="file")
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as exc:
        raise NotArtworkError("the table is not UTF-8 text", where=f"byte {exc.start}") from exc
    rows = sum(1 for line in lines[1:] if line.strip())
    return Description(
        kind="table", media_type=Kind.TABLE.value, width=lines[0].count(",") + 1, height=rows, has_size=False
    )
