"""What bytes are said to be, whatever a name claims, and what is refused with which words."""

import gzip
import io
import zipfile

import pytest
from PIL import Image

from engine.artwork import Description, Limits, describe, read_artwork
from engine.kernel.errors import ArtworkError, NotArtworkError, TooBigError
from tests.artwork.pictures import encoded, svg

GRID = b"x_mm,angle_deg,radius_mm\n0,0,20\n0,45,20.5\n"


def zipped() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("a.svg", svg(""))
    return held.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (gzip.compress(svg("")), "gzip"),
        (zipped(), "zip"),
        (b"%PDF-1.7\n", "PDF"),
        (b"%!PS-Adobe", "PostScript"),
        (encoded(Image.new("L", (4, 4)), "TIFF"), "TIFF"),
        (encoded(Image.new("L", (64, 64)), "ICO"), "icon"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", "HEIC"),
        (b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00", "AVIF"),
        (b"8BPS\x00\x01", "layered"),
        (b"hello, gourd", "no kind"),
        (b"x_mm,angle_deg\n1,2\n", "no kind"),
        (b"0,0,20\n0,45,20.5\n", "line 1 names no columns"),
        (b"x_mm;angle_deg;radius_mm\n0;0;20\n", "x_mm,angle_deg,radius_mm"),
        (b"\xef\xbb\xbfx\ttheta\tr\r\n0\t0\t20\r\n", "line 1"),
        (b"\x00" * 64, "no kind"),
        (b"<?xml version='1.0'?><html/>", "<svg>"),
    ],
)
def test_what_is_not_read_is_refused_by_name(data: bytes, says: str) -> None:
    for door in (describe, read_artwork):
        with pytest.raises(NotArtworkError) as caught:
            door(data)
        assert says in str(caught.value)
        assert caught.value.where


def test_descriptions() -> None:
    assert describe(svg("")) == Description(
        kind="vector", media_type="image/svg+xml", width=pytest.approx(80), height=pytest.approx(80), has_size=True
    )
    assert describe(encoded(Image.new("RGB", (7, 5)), "GIF")) == Description(
        kind="raster", media_type="image/gif", width=7, height=5, has_size=False
    )
    for table in (
        GRID,
        b"\xef\xbb\xbf" + GRID.replace(b"\n", b"\r\n"),
        b'"angle_deg", "x_mm",radius_mm\n0,0,1\n\n0,1,1',
    ):
        assert describe(table) == Description(kind="table", media_type="text/csv", width=3, height=2, has_size=False)


def test_a_table_is_no_artwork() -> None:
    with pytest.raises(NotArtworkError, match="measured blank"):
        read_artwork(GRID)
    with pytest.raises(TooBigError):
        describe(GRID, limits=Limits(table_bytes=20))
    with pytest.raises(NotArtworkError, match="UTF-8"):
        describe(GRID + b"\xff\xfe")


def test_a_vector_past_a_limit_is_refused_at_both_doors() -> None:
    data = svg('<rect width="5" height="5"/>' * 20)
    for limits in (Limits(vector_bytes=50), Limits(elements=20), Limits(depth=1)):
        for door in (describe, read_artwork):
            with pytest.raises(TooBigError):
                door(data, limits=limits)
    for limits in (Limits(points=50), Limits(paint_work=50), Limits(css_bytes=9)):
        with pytest.raises(TooBigError):
            read_artwork(data.replace(b"<rect", b'<rect style="fill:black"'), limits=limits)
    sheet = svg("<style>" + "".join(f".a{i}{{fill:red}}" for i in range(50)) + "</style>" + "<g/>" * 50)
    with pytest.raises(TooBigError, match="rules"):
        read_artwork(sheet, limits=Limits(css_tries=2000))


def test_without_a_size_a_vector_is_refused_at_both_doors() -> None:
    for door in (describe, read_artwork):
        with pytest.raises(ArtworkError, match="no size"):
            door(svg("", ""))
