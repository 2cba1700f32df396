"""The faces that are shipped, by names of our own: one table, and the way from a name to its face.

Outlines come from the package font-source-sans-pro (SIL Open Font License 1.1), strokes from hershey-fonts (MIT). Both
are data of installed packages, read once as code is; a person's own font comes in as the bytes of an asset.
"""

from functools import lru_cache
from importlib.resources import files

from engine.artwork.lettering.face import Face
from engine.artwork.lettering.outline_face import outline_face
from engine.artwork.lettering.stroke_face import stroke_face
from engine.artwork.limits import Limits
from engine.kernel.errors import ArtworkError

__all__ = ["FACES", "STROKE_FACES", "face_of"]

OUTLINE_FILES = {
    "sans": "Regular",
    "sans-black": "Black",
    "sans-bold": "Bold",
    "sans-bold-italic": "BoldIt",
    "sans-italic": "It",
    "sans-light": "Light",
    "sans-light-italic": "LightIt",
    "sans-semibold": "Semibold",
    "sans-thin": "ExtraLight",
}
STROKE_TABLES = {
    "single-line": "futural",
    "single-line-script": "scripts",
    "double-line": "futuram",
    "double-line-script": "scriptc",
    "double-line-serif": "timesr",
    "double-line-serif-italic": "timesi",
}
STROKE_FACES = tuple(STROKE_TABLES)
FACES = (*OUTLINE_FILES, *STROKE_FACES)


def face_of(font: str, data: bytes | None, limits: Limits) -> Face:
    """The face of a shipped name, or of an uploaded font's bytes.

    Raises
    ------
    ArtworkError.
    """
    if data is not None:
        return outline_face(data, "", limits)
    if font in OUTLINE_FILES:
        return outline_face(_shipped(OUTLINE_FILES[font]), font, limits)
    if font in STROKE_TABLES:
        return stroke_face(font, STROKE_TABLES[font])
    raise ArtworkError(f"there is no face {font[:40]}", where="text/font", hint=f"one of {', '.join(FACES)}")


@lru_cache(maxsize=len(OUTLINE_FILES))
def _shipped(weight: str) -> bytes:
    return files("font_source_sans_pro").joinpath("files", f"SourceSansPro-{weight}.otf").read_bytes()
