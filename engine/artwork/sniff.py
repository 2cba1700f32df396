"""What bytes are, by what they begin with; a name's ending is never looked at.

Gives a `Kind` that a reader exists for, or refuses with the name of what the bytes look like.
"""

import re
from enum import Enum

from engine.artwork.dxf_tags import is_dxf
from engine.kernel.errors import NotArtworkError

__all__ = ["Kind", "sniff"]


class Kind(Enum):
    """The kinds that are read; the value is the media type (IANA registry; BMP by RFC 7903)."""

    PNG = "image/png"
    JPEG = "image/jpeg"
    WEBP = "image/webp"
    BMP = "image/bmp"
    GIF = "image/gif"
    SVG = "image/svg+xml"
    DXF = "image/vnd.dxf"
    TABLE = "text/csv"
    TRUETYPE = "font/ttf"
    OPENTYPE = "font/otf"
    FONTS = "font/collection"

    @property
    def is_picture(self) -> bool:
        """Whether it is made of pixels."""
        return self in (Kind.PNG, Kind.JPEG, Kind.WEBP, Kind.BMP, Kind.GIF)

    @property
    def is_font(self) -> bool:
        """Whether lettering can be set in it; the media types are those of RFC 8081."""
        return self in (Kind.TRUETYPE, Kind.OPENTYPE, Kind.FONTS)


READ = "PNG, JPEG, WebP, BMP, GIF, SVG, DXF, TrueType and OpenType are read"
TABLE_COLUMNS = {"x_mm", "angle_deg", "radius_mm"}
CELL_MARKS = ",;\t"
TABLE_START = "begin a table of readings with the line x_mm,angle_deg,radius_mm"
TEXT_START = 4096  # bytes looked at for a table's header
_REFUSED = (  # the signature, from which byte, what it is, what to do
    (b"\x1f\x8b", 0, "gzip-packed", "unpack it first; a packed SVG too"),
    (b"PK\x03\x04", 0, "a zip archive", "unpack it first"),
    (b"%PDF", 0, "a PDF", "export it as SVG or PNG"),
    (b"%!PS", 0, "PostScript", "export it as SVG or PNG"),
    (b"II*\x00", 0, "TIFF", "save it as PNG"),
    (b"MM\x00*", 0, "TIFF", "save it as PNG"),
    (b"8BPS", 0, "a layered picture file", "export it as PNG"),
    (b"BZh", 0, "bzip2-packed", "unpack it first"),
    (b"\xfd7zXZ", 0, "xz-packed", "unpack it first"),
    (b"\x28\xb5\x2f\xfd", 0, "zstd-packed", "unpack it first"),
    (b"\x00\x00\x01\x00", 0, "an icon file", "save it as PNG"),
    (b"wOFF", 0, "a packed web font", "unpack it to TrueType or OpenType"),
    (b"wOF2", 0, "a packed web font", "unpack it to TrueType or OpenType"),
)
_FONTS = {
    b"\x00\x01\x00\x00": Kind.TRUETYPE,
    b"true": Kind.TRUETYPE,
    b"OTTO": Kind.OPENTYPE,
    b"ttcf": Kind.FONTS,
}
_HEIF = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis")
_XML_START = re.compile(rb"(?:\xef\xbb\xbf)?\s*<")


def sniff(data: bytes) -> Kind:
    """The kind of the bytes.

    Raises
    ------
    NotArtworkError where no reader takes them.
    """
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return Kind.PNG
    if data.startswith(b"\xff\xd8\xff"):
        return Kind.JPEG
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Kind.WEBP
    if data.startswith((b"GIF87a", b"GIF89a")):
        return Kind.GIF
    if data.startswith(b"BM"):
        return Kind.BMP
    if data[:4] in _FONTS:
        return _FONTS[data[:4]]
    _refuse(data)
    if _XML_START.match(data) or data.startswith((b"\xff\xfe<\x00", b"\xfe\xff\x00<")):
        return Kind.SVG
    if is_dxf(data):
        return Kind.DXF
    line = _first_line(data)
    if _is_table(line):
        return Kind.TABLE
    if max(line.count(mark) for mark in CELL_MARKS) >= len(TABLE_COLUMNS) - 1:
        raise NotArtworkError("line 1 names no columns of a measured grid", where="line 1", hint=TABLE_START)
    raise NotArtworkError("the file is of no kind that is read", where="file", hint=f"{READ}; {TABLE_START}")


def _refuse(data: bytes) -> None:
    if not data:
        raise NotArtworkError("the file is empty", where="file", hint=READ)
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF:
        raise NotArtworkError("the file is HEIC or AVIF", where="file", hint="save it as JPEG or PNG")
    for signature, at, what, hint in _REFUSED:
        if data.startswith(signature, at):
            raise NotArtworkError(f"the file is {what}", where="file", hint=f"{hint}; {READ}")


def _first_line(data: bytes) -> str:
    """The first line of a text; empty where the bytes do not begin like one."""
    try:
        line = data[:TEXT_START].removeprefix(b"\xef\xbb\xbf").split(b"\n", 1)[0].decode("ascii").strip()
    except UnicodeDecodeError:
        return ""
    return line if line.replace("\t", " ").isprintable() else ""


def _is_table(line: str) -> bool:
    """Whether a text's first line names the columns of a measured grid."""
    return {name.strip().strip('"').strip() for name in line.split(",")} >= TABLE_COLUMNS
