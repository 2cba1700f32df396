"""Pictures: tracing against closed forms, sizes, turns, depths of colour, limits."""

import zlib
from io import BytesIO

import numpy as np
import pytest
import shapely
from contourpy import contour_generator
from PIL import Image, ImageDraw

from engine.artwork import Limits, Tone, describe, read_artwork, read_photograph
from engine.kernel.errors import ArtworkError, EmptyError, NotArtworkError, TooBigError
from tests.artwork.pictures import check_rings, disc, encoded, region, smooth


@pytest.mark.parametrize(("x", "y", "radius"), [(60, 50, 40), (60.25, 50.5, 33.3), (61.125, 49.75, 20.5), (60, 50, 6)])
@pytest.mark.parametrize("threshold", [None, 128])
def test_a_disc_is_traced_to_a_tenth_of_a_pixel_without_bias(
    x: float, y: float, radius: float, threshold: int | None
) -> None:
    at = (np.arange(0, 120, 1 / 16) + 1 / 32)[None, :] - x, (np.arange(0, 100, 1 / 16) + 1 / 32)[:, None] - y
    share = (np.hypot(*at) < radius).reshape(100, 16, 120, 16).mean((1, 3))
    image = Image.fromarray(np.rint(255 * (1 - share)).astype(np.uint8))
    drawing = read_artwork(encoded(image), tone=Tone(threshold=threshold))
    check_rings(drawing)
    (ring,) = (drawing.rings[i] for i in range(len(drawing.rings)))
    reach = np.hypot(ring[:-1, 0] - (x - 60), ring[:-1, 1] - (50 - y))
    assert reach.std() < 0.1
    assert abs(reach.mean() - radius) < 0.05
    shape = region(drawing.rings)
    assert (shape.centroid.x, shape.centroid.y) == pytest.approx((x - 60, 50 - y), abs=0.03)
    assert shape.area == pytest.approx(np.pi * radius**2, rel=5e-3)


def test_a_ring_keeps_its_hole_and_its_island() -> None:
    def draw(pen: ImageDraw.ImageDraw, times: int) -> None:
        for radius, grey in ((45, 0), (30, 255), (15, 0)):
            disc(50, 50, radius, grey)(pen, times)

    drawing = read_artwork(encoded(smooth(100, 100, draw)))
    check_rings(drawing)
    assert len(drawing.rings) == 3
    assert region(drawing.rings).area == pytest.approx(np.pi * (45**2 - 30**2 + 15**2), rel=3e-3)


def test_a_hard_edged_square_lies_where_its_pixels_do() -> None:
    grey = np.full((40, 60), 255, np.uint8)
    grey[10:20, 5:25] = 0
    drawing = read_artwork(encoded(Image.fromarray(grey)))
    low, high = drawing.rings.points.min(0), drawing.rings.points.max(0)
    np.testing.assert_allclose([low, high], [[5 - 30, 20 - 20], [25 - 30, 20 - 10]], atol=0.01)


@pytest.mark.parametrize("edge", [0, 60])
def test_ink_to_the_picture_s_edge_ends_at_the_edge(edge: int) -> None:
    grey = np.full((30, 50), 255, np.uint8)
    grey[:, :20] = edge
    for image, left in ((grey, True), (grey[:, ::-1], False)):
        drawing = read_artwork(encoded(Image.fromarray(np.ascontiguousarray(image))))
        low, high = drawing.rings.points.min(0), drawing.rings.points.max(0)
        np.testing.assert_allclose([low[1], high[1]], [-15, 15], atol=1e-9)
        np.testing.assert_allclose([low[0], high[0]], [-25, -5] if left else [5, 25], atol=0.01)
        check_rings(drawing)


def test_noise_gives_valid_disjoint_regions() -> None:
    rng = np.random.default_rng(7)
    drawing = read_artwork(encoded(Image.fromarray(rng.integers(0, 256, (60, 60), dtype=np.uint8))))
    check_rings(drawing)
    assert len(drawing.rings) > 100


def test_simplifying_shifts_no_edge_by_more_than_it_says() -> None:
    image = smooth(120, 100, disc(60, 50, 35))
    # the same tracer, nothing left out
    raw = contour_generator(z=np.asarray(image, np.float64)).lines(127.5)[0] + 0.5
    drawing = read_artwork(encoded(image), tone=Tone(threshold=128))
    ours = shapely.LinearRing(drawing.rings[0] * [1, -1] + [60, 50])
    assert len(drawing.rings.points) < len(raw) / 1.5
    assert shapely.distance(shapely.points(raw), ours).max() < 0.051


def marked(width: int = 60, height: int = 40) -> Image.Image:
    """A mark in the upper left quarter, upright."""
    grey = np.full((height, width), 255, np.uint8)
    grey[4:14, 6:26] = 0
    return Image.fromarray(grey)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_picture_stands_as_its_exif_says(orientation: int, kind: str) -> None:
    # what a camera held otherwise would have stored: the inverse of the turn that the tag asks for (EXIF 2.32, 0x0112)
    back = {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }[orientation]
    stored = marked() if back is None else marked().transpose(back)
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"exif": exif.tobytes(), "dpi": (100, 200)} if kind != "WEBP" else {"exif": exif.tobytes()}
    data = encoded(stored, kind, quality=95, **options) if kind != "PNG" else encoded(stored, kind, **options)
    drawing = read_artwork(data, tone=Tone(threshold=128))
    pitch = np.array([0.254, 0.127] if orientation < 5 else [0.127, 0.254]) if kind != "WEBP" else np.ones(2)
    np.testing.assert_allclose([drawing.width_mm, drawing.height_mm], pitch * [60, 40], rtol=1e-3)
    low, high = drawing.rings.points.min(0) / pitch, drawing.rings.points.max(0) / pitch
    np.testing.assert_allclose([low, high], [[-24, 6], [-4, 16]], atol=0.3)
    described = describe(data)
    assert (described.width, described.height) == pytest.approx((drawing.width_mm, drawing.height_mm))


@pytest.mark.parametrize(
    ("kind", "options", "size"),
    [
        ("PNG", {"dpi": (254, 254)}, (6, 4)),
        ("PNG", {}, None),
        ("JPEG", {"dpi": (254, 127)}, (6, 8)),
        ("JPEG", {}, None),
        ("BMP", {"dpi": (254, 254)}, (6, 4)),
        ("GIF", {}, None),
        ("WEBP", {"lossless": True}, None),
        ("PNG", {"dpi": (1, 1)}, None),
    ],
)
def test_a_size_is_known_where_the_file_states_it(
    kind: str, options: dict[str, object], size: tuple[float, float] | None
) -> None:
    data = encoded(marked(), kind, **options)
    drawing, described = read_artwork(data), describe(data)
    assert drawing.has_size is described.has_size is (size is not None)
    # PNG and BMP hold whole dots a metre
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx(size or (60, 40), rel=1e-3)
    assert (described.width, described.height) == (drawing.width_mm, drawing.height_mm)
    assert described.kind == "raster"
    assert described.media_type == f"image/{kind.lower()}"


def test_exif_states_a_size_where_jfif_does_not() -> None:
    exif = Image.Exif()
    exif[0x011A], exif[0x011B], exif[0x0128] = 100.0, 50.0, 3  # dots a centimetre
    drawing = read_artwork(encoded(marked(), "JPEG", exif=exif.tobytes()))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((6, 8))
    exif = Image.Exif()
    exif[0x010E] = "dill"  # a description, no resolution
    assert not read_artwork(encoded(marked(), "JPEG", exif=exif.tobytes())).has_size


MODES = {
    "1": lambda im: im.convert("1"),
    "L": lambda im: im,
    "LA": lambda im: im.convert("LA"),
    "P": lambda im: im.convert("P"),
    "RGB": lambda im: im.convert("RGB"),
    "RGBA": lambda im: im.convert("RGBA"),
    "I;16": lambda im: Image.fromarray(np.asarray(im, np.uint16) * 257),
}


@pytest.mark.parametrize("mode", MODES)
def test_every_depth_of_colour_gives_the_same_mark(mode: str) -> None:
    image = MODES[mode](marked())
    assert image.mode == mode
    drawing = read_artwork(encoded(image))
    np.testing.assert_allclose(drawing.rings.points.min(0), [-24, 6], atol=0.01)
    np.testing.assert_allclose(drawing.rings.points.max(0), [-4, 16], atol=0.01)


def test_a_print_shop_s_jpeg_is_not_read_as_its_negative() -> None:
    drawing = read_artwork(encoded(marked().convert("CMYK"), "JPEG", quality=95), tone=Tone(threshold=128))
    np.testing.assert_allclose(drawing.rings.points.max(0), [-4, 16], atol=0.3)


def test_what_is_transparent_counts_as_white() -> None:
    rgba = np.zeros((40, 60, 4), np.uint8)  # black, but for its see-through
    rgba[4:14, 6:26, 3] = 255
    rgba[20:30, 6:26, 3] = 100  # over white 155: lighter than mid grey
    assert region(read_artwork(encoded(Image.fromarray(rgba)), tone=Tone(threshold=128)).rings).area == pytest.approx(
        200, abs=2
    )
    palette = marked().convert("P")
    assert region(read_artwork(encoded(palette, transparency=255)).rings).area == pytest.approx(200, abs=2)
    with pytest.raises(EmptyError):
        read_artwork(encoded(palette, transparency=0), tone=Tone(threshold=128))


@pytest.mark.parametrize("kind", ["GIF", "WEBP", "PNG"])
def test_of_a_moving_picture_the_first_frame_is_used_and_it_is_told(kind: str) -> None:
    second = Image.new("L", (60, 40), 0)
    data = encoded(marked(), kind, save_all=True, append_images=[second])
    drawing = read_artwork(data, tone=Tone(threshold=128))
    assert region(drawing.rings).area == pytest.approx(200, abs=6)
    assert [note.code for note in drawing.notes] == ["frames"]


def test_the_threshold_that_was_found_is_told() -> None:
    (note,) = read_artwork(encoded(marked())).notes
    assert (note.code, note.message) == ("threshold", "greys below 128 are cut")


def test_darker_than_the_threshold_is_cut_and_the_threshold_itself_is_not() -> None:
    grey = np.full((20, 40), 255, np.uint8)
    grey[5:15, 5:15], grey[5:15, 25:35] = 99, 100
    areas = [
        region(read_artwork(encoded(Image.fromarray(grey)), tone=Tone(threshold=t)).rings).area for t in (100, 101)
    ]
    assert areas[1] > 1.9 * areas[0] > 100
    with pytest.raises(EmptyError):
        read_artwork(encoded(Image.fromarray(grey)), tone=Tone(threshold=99))
    turned = read_artwork(encoded(Image.fromarray(255 - grey)), tone=Tone(threshold=100, invert=True))
    assert region(turned.rings).area == pytest.approx(areas[0])


def test_a_picture_of_one_grey_needs_a_threshold() -> None:
    data = encoded(Image.new("L", (30, 20), 90))
    with pytest.raises(ArtworkError, match="one grey"):
        read_artwork(data)
    drawing = read_artwork(data, tone=Tone(threshold=128))
    assert region(drawing.rings).area == pytest.approx(600, abs=2)


def test_a_large_picture_is_averaged_in_squares_and_keeps_its_size() -> None:
    data = encoded(smooth(201, 150, disc(100, 75, 50), times=4), dpi=(254, 254))
    drawing = read_artwork(data, limits=Limits(trace_pixels=8000))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((20.1, 15.0), rel=1e-3)
    assert "reduced" in [note.code for note in drawing.notes]
    low, high = drawing.rings.points.min(0), drawing.rings.points.max(0)
    np.testing.assert_allclose([low, high], [[-5.05, -5], [4.95, 5]], atol=0.15)


def test_pictures_past_a_limit_are_refused_before_they_are_unpacked() -> None:
    data = encoded(marked())
    for limits in (Limits(raster_bytes=50), Limits(raster_pixels=2399), Limits(raster_side=59)):
        for door in (describe, read_artwork):
            with pytest.raises(TooBigError):
                door(data, limits=limits)
    flood = encoded(Image.new("1", (13_000, 13_000)))
    for door in (describe, read_artwork):
        with pytest.raises(TooBigError):
            door(flood)
    scans = encoded(marked(), "JPEG")
    with pytest.raises(TooBigError, match="scans"):
        describe(scans[:-2] + b"\xff\xda" * 200)
    with pytest.raises(TooBigError, match="points"):
        read_artwork(data, limits=Limits(points=3))


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "GIF", "BMP"])
def test_a_picture_cut_short_is_refused_at_both_doors(kind: str) -> None:
    rng = np.random.default_rng(1)
    data = encoded(Image.fromarray(rng.integers(0, 256, (50, 50), dtype=np.uint8)), kind)
    for door in (describe, read_artwork):
        with pytest.raises(NotArtworkError):
            door(data[: len(data) * 2 // 3])


def chunk(name: bytes, body: bytes) -> bytes:
    """A PNG chunk (W3C PNG, third edition, section 5.3)."""
    return len(body).to_bytes(4, "big") + name + body + zlib.crc32(name + body).to_bytes(4, "big")


def test_a_png_is_refused_at_both_doors_wherever_a_byte_of_it_is_wrong() -> None:
    data = encoded(marked(), dpi=(254, 254))
    for at in range(len(data)):
        wrong = bytearray(data)
        wrong[at] ^= 0x10
        for door in (describe, read_artwork):
            with pytest.raises(NotArtworkError):
                door(bytes(wrong))


def test_a_png_is_refused_wherever_it_is_cut_and_read_with_what_follows_its_end() -> None:
    data = encoded(marked())
    for end in range(8, len(data)):
        with pytest.raises(NotArtworkError):
            describe(data[:end])
    noted = data[:33] + chunk(b"teXt", b"anything") + data[33:] + b"more"
    assert describe(noted) == describe(data)
    np.testing.assert_array_equal(read_artwork(noted).rings.points, read_artwork(data).rings.points)
    with pytest.raises(NotArtworkError, match="teXt"):
        describe(noted.replace(b"anything", b"somethin"))


@pytest.mark.parametrize("mode", ["RGB", "L", "CMYK", "P", "RGBA"])
def test_a_photograph_is_read_in_colours_whatever_its_mode(mode: str) -> None:
    plain = Image.new("RGB", (5, 4), (200, 60, 10))
    picture = plain.quantize(4) if mode == "P" else plain.convert(mode)
    data = BytesIO()
    picture.save(data, "JPEG" if mode in ("RGB", "L", "CMYK") else "PNG", quality=95)
    read = read_photograph(data.getvalue())
    grey = mode == "L"
    assert read.shape == (4, 5, 3) and read.dtype == np.uint8
    assert np.abs(read.astype(int) - ((96, 96, 96) if grey else (200, 60, 10))).max() <= 6


def test_a_photograph_is_turned_as_its_exif_says() -> None:
    picture = Image.new("RGB", (6, 4))
    picture.putpixel((0, 0), (255, 255, 255))
    exif = Image.Exif()
    exif[274] = 6  # EXIF 2.32: the first row is the right side, the first column the top
    data = BytesIO()
    picture.save(data, "PNG", exif=exif)
    read = read_photograph(data.getvalue())
    assert read.shape == (6, 4, 3) and read[0, 3].tolist() == [255, 255, 255] and int(read.sum()) == 765


@pytest.mark.parametrize(
    "data", [b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"x_mm,angle_deg,radius_mm\n", b"", b"\xff\xd8\xff"]
)
def test_what_is_no_photograph_is_refused(data: bytes) -> None:
    with pytest.raises(NotArtworkError):
        read_photograph(data)
