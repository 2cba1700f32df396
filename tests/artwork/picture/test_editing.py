"""Edits of pictures: each against the same definition in Pillow, scipy or scikit-image, or in closed form."""

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy.interpolate import PchipInterpolator
from skimage.filters import unsharp_mask

from engine.artwork import Background, Crop, Detail, Edits, Levels, Limits, Tone, picture_preview, read_artwork
from engine.artwork.picture.editing import as_placed, edited
from engine.artwork.picture.frame import averaged, turned
from engine.artwork.picture.greys import brought_out
from engine.artwork.raster import Picture
from engine.kernel.errors import ArtworkError, NotArtworkError, TooBigError
from tests.artwork.pictures import encoded, svg

PITCH = (0.1, 0.1)


def hills(rows: int, columns: int) -> NDArray[np.float64]:
    """(rows, columns) smooth linear light from 0.2 to 0.8, a function of place alone, so alike at any size."""
    y, x = (np.arange(rows)[:, None] + 0.5) / rows, (np.arange(columns)[None, :] + 0.5) / columns
    out: NDArray[np.float64] = 0.5 + 0.15 * np.sin(5 * x + 2 * y) + 0.15 * np.cos(4 * y - 1.5 * x)
    return out


def stored(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    """sRGB by the numbers of IEC 61966-2-1."""
    share = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * share).astype(np.uint8)


def picture(grey: NDArray[np.uint8], pitch: tuple[float, float] | None = PITCH) -> Picture:
    return Picture(grey=grey, pitch_mm=pitch)


def grainy(rows: int = 40, columns: int = 52) -> NDArray[np.uint8]:
    rng = np.random.default_rng(3)
    return np.clip(stored(hills(rows, columns)) + rng.normal(0, 12, (rows, columns)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    "edits",
    [
        Edits(),
        Edits(turn_deg=360.0, crop=Crop(), levels=Levels()),
        Edits(sharpen=Detail(amount=0, radius_mm=1), local_contrast=Detail(amount=0, radius_mm=1)),
    ],
)
def test_edits_that_do_nothing_change_nothing(edits: Edits) -> None:
    held = picture(grainy())
    for resolution in (None, 0.05, 0.1):
        assert edited(held, edits, resolution) is held
    assert (edited(held, Edits(curve=((0, 0), (1, 1)))).grey == held.grey).all()
    data = encoded(Image.fromarray(held.grey), dpi=(254, 254))
    plain, with_edits = read_artwork(data, toned=True), read_artwork(data, toned=True, picture=edits)
    assert (plain.darkness.cells == with_edits.darkness.cells).all()
    assert (plain.width_mm, plain.has_size) == (with_edits.width_mm, with_edits.has_size)


@pytest.mark.parametrize("quarters", [1, 2, 3, -1])
def test_whole_quarters_move_pixels_and_nothing_else(quarters: int) -> None:
    held = picture(grainy(), (0.1, 0.2))
    turned_once = edited(held, Edits(turn_deg=90.0 * quarters))
    theirs = Image.fromarray(held.grey).rotate(90 * quarters, expand=True)
    assert (turned_once.grey == np.asarray(theirs)).all()
    assert turned_once.pitch_mm == ((0.2, 0.1) if quarters % 2 else (0.1, 0.2))


@pytest.mark.parametrize("turn_deg", [7.0, -33.5, 100.0, 215.0])
def test_a_turn_and_a_crop_are_those_of_pillow_on_linear_light(turn_deg: float) -> None:
    light = hills(240, 300)
    crop = Crop(left=0.3, top=0.32, right=0.7, bottom=0.66)
    ours = edited(picture(stored(light)), Edits(turn_deg=turn_deg, crop=crop))
    # theirs grows the frame in its own way: turned about the middle of a sheet large enough for both
    large = Image.new("F", (600, 600), 1.0)
    large.paste(Image.fromarray(light.astype(np.float32)), (150, 180))
    theirs = np.asarray(large.rotate(turn_deg, Image.Resampling.BICUBIC))
    c, s = abs(np.cos(np.radians(turn_deg))), abs(np.sin(np.radians(turn_deg)))
    width, height = round(300 * c + 240 * s), round(300 * s + 240 * c)
    rows, columns = ours.grey.shape
    top, left = 300 - height / 2 + round(crop.top * height), 300 - width / 2 + round(crop.left * width)
    assert (rows, columns) == (
        round(crop.bottom * height) - round(crop.top * height),
        round(crop.right * width) - round(crop.left * width),
    )
    i, j = int(np.floor(top)), int(np.floor(left))
    weights = [
        ((1 - top + i) if a == 0 else top - i) * ((1 - left + j) if b == 0 else left - j)
        for a in (0, 1)
        for b in (0, 1)
    ]
    parts = [theirs[i + a : i + a + rows, j + b : j + b + columns] for a in (0, 1) for b in (0, 1)]
    expected = stored(sum(w * part.astype(np.float64) for w, part in zip(weights, parts, strict=True)))
    assert np.abs(ours.grey.astype(int) - expected.astype(int)).max() <= 1


def test_the_frame_of_a_turned_picture_holds_it_and_its_corners_are_white() -> None:
    black = np.zeros((40, 80), np.float32)
    light, pitch = turned(black, (1.0, 1.0), 30.0, 10**6)
    assert light.shape == (round(80 * 0.5 + 40 * np.cos(np.pi / 6)), round(80 * np.cos(np.pi / 6) + 40 * 0.5))
    assert pitch == (1.0, 1.0)
    assert (light[[0, 0, -1, -1], [0, -1, 0, -1]] == 1.0).all()
    assert (1.0 - light).sum() == pytest.approx(40 * 80, rel=0.01)  # all of its darkness is there
    # counter-clockwise: what was at the right end is up
    mark = np.ones((40, 80), np.float32)
    mark[:, 70:] = 0.0
    up, _ = turned(mark, (1.0, 1.0), 30.0, 10**6)
    assert np.average(np.arange(len(up)), weights=(1.0 - up).sum(1)) < len(up) / 2 - 10


def test_uneven_pixels_turn_as_they_lie_on_the_sheet() -> None:
    disc = np.ones((100, 50), np.float32)  # pixels twice as wide as high: a circle is 20 by 40 of them
    y, x = np.indices(disc.shape)
    disc[np.hypot((x - 24.5) * 2, y - 49.5) < 20] = 0.0
    light, pitch = turned(disc, (0.2, 0.1), 45.0, 10**6)
    assert pitch == (0.1, 0.1)
    dark = np.argwhere(light < 0.5)
    assert np.abs(np.ptp(dark, axis=0) - 39).max() <= 1


@pytest.mark.parametrize(("rows", "columns", "to"), [(60, 90, 30), (61, 83, 17), (50, 50, 49)])
def test_averaging_keeps_all_the_light_and_weighs_by_area(rows: int, columns: int, to: int) -> None:
    rng = np.random.default_rng(1)
    light = rng.uniform(0, 1, (rows, columns)).astype(np.float32)
    out, pitch = averaged(light, (1.0, 1.0), rows / to)
    assert out.shape[0] == to
    assert out.mean() == pytest.approx(light.mean(), rel=1e-5)
    assert pitch[1] * out.shape[0] == pytest.approx(rows)
    # by hand: a fine copy of each pixel, cut at whole numbers of its parts
    fine = np.repeat(np.repeat(light.astype(np.float64), to, 0), out.shape[1], 1)
    by_hand = fine.reshape(to, rows, out.shape[1], columns).mean((1, 3))
    np.testing.assert_allclose(out, by_hand, atol=2e-6)


def test_averaging_is_of_light_and_not_of_stored_greys() -> None:
    board = np.indices((64, 64)).sum(0) % 2
    out = edited(picture((255 * board).astype(np.uint8)), Edits(), 0.2)
    assert out.grey.shape == (32, 32)
    assert (out.grey == 188).all()  # half the light; the mean of the stored values would be 128


def test_levels_and_curve_in_closed_form() -> None:
    grey = np.arange(256, dtype=np.uint8)[None, :].repeat(2, 0)
    out = edited(picture(grey), Edits(levels=Levels(black=40, white=220, middle=1.8))).grey[0]
    assert (out == np.rint(255 * np.clip((np.arange(256) - 40) / 180, 0, 1) ** (1 / 1.8))).all()
    points = ((0.1, 0.0), (0.4, 0.2), (0.5, 0.7), (0.9, 1.0))
    out = edited(picture(grey), Edits(curve=points)).grey[0]
    true = PchipInterpolator(*zip(*points, strict=True))(np.clip(np.arange(256) / 255, 0.1, 0.9))
    assert np.abs(out - 255 * true).max() <= 0.5 + 1e-4
    assert (np.diff(out.astype(int)) >= 0).all()


def test_sharpening_is_that_of_scikit_image() -> None:
    grey = grainy()
    out = edited(picture(grey), Edits(sharpen=Detail(amount=1.3, radius_mm=0.2)))
    theirs = unsharp_mask(grey / 255.0, radius=2.0, amount=1.3)
    assert np.abs(out.grey - 255 * theirs).max() <= 0.51
    wide = grainy(300, 260)
    out = edited(picture(wide), Edits(sharpen=Detail(amount=1.0, radius_mm=3.0)))
    theirs = unsharp_mask(wide / 255.0, radius=30.0, amount=1.0)
    assert np.abs(out.grey - 255 * theirs).max() <= 1.5


def test_the_filter_against_noise_is_the_bilateral_one() -> None:
    """By its paper's formula, window by window (scikit-image's own lays its spatial weights out askew)."""
    grey = grainy(20, 26)
    wide = np.pad(grey / 255.0, 3, mode="edge")
    y, x = np.mgrid[-3:4, -3:4]
    expected = np.zeros(grey.shape)
    for i in range(20):
        for j in range(26):
            window = wide[i : i + 7, j : j + 7]
            weight = np.exp(-(x**2 + y**2) / (2 * 1.5**2) - (window - wide[i + 3, j + 3]) ** 2 / (2 * 0.12**2))
            expected[i, j] = (weight * window).sum() / weight.sum()
    out = edited(picture(grey), Edits(denoise=0.6))
    assert np.abs(out.grey - 255 * expected).max() <= 0.55


def test_noise_goes_and_edges_stay() -> None:
    rng = np.random.default_rng(2)
    step = np.where(np.arange(60) < 30, 60, 190)[None, :].repeat(60, 0)
    out = edited(picture((step + rng.normal(0, 10, step.shape)).astype(np.uint8)), Edits(denoise=0.7)).grey.astype(
        float
    )
    assert out[:, :25].std() < 5
    assert abs(out[:, 29].mean() - 60) < 6 and abs(out[:, 30].mean() - 190) < 6


def test_local_contrast_by_windows_counted_out() -> None:
    """The guided filter as its paper writes it, window by window."""
    grey = (grainy(22, 26) / 255.0).astype(np.float32)
    r, wide = 2, np.pad(grey.astype(float), 4, mode="edge")
    a, b = np.zeros((26, 30)), np.zeros((26, 30))
    for i in range(26):
        for j in range(30):
            window = wide[i : i + 5, j : j + 5]
            a[i, j] = window.var() / (window.var() + 0.01)
            b[i, j] = window.mean() * (1 - a[i, j])
    # their means are taken within the picture: its edge is repeated
    a, b = (np.pad(v[2:-2, 2:-2], r, mode="edge") for v in (a, b))
    base = np.zeros_like(grey, dtype=float)
    for i in range(22):
        for j in range(26):
            base[i, j] = a[i : i + 5, j : j + 5].mean() * grey[i, j] + b[i : i + 5, j : j + 5].mean()
    out = brought_out(grey, Detail(amount=0.7, radius_mm=0.2), PITCH)
    np.testing.assert_allclose(out, np.clip(grey + 0.7 * (grey - base), 0, 1), atol=1e-5)


def test_local_contrast_brings_out_veins_without_a_halo_beside_an_edge() -> None:
    x = np.arange(200)
    leaf = 0.55 + 0.03 * np.sin(x / 3.0)
    grey = np.where(x < 100, leaf, 0.05)[None, :].repeat(60, 0).astype(np.float32)
    out = brought_out(grey, Detail(amount=1.0, radius_mm=1.5), PITCH)[30]
    assert np.ptp(out[20:60]) > 1.5 * np.ptp(grey[30, 20:60])
    assert np.abs(out[110:] - 0.05).max() < 0.02
    assert out[90:99].max() < leaf.max() + 0.08


def test_a_plain_ground_in_uneven_light_becomes_white() -> None:
    y, x = np.indices((120, 160))
    ground = 150 + 0.3 * x + 0.2 * y
    leaf = np.hypot(x - 80, (y - 60) * 1.4) < 40
    hole = np.hypot(x - 80, y - 60) < 8  # of the ground's own grey, but inside
    stalk = (np.abs(x - 80) < 4) & (y > 60)  # runs out of the picture
    grey = np.where((leaf & ~hole) | stalk, 90, ground)
    grey = grey + np.random.default_rng(4).normal(0, 2, grey.shape)
    out = edited(picture(grey.astype(np.uint8)), Edits(background=Background(tolerance=0.06))).grey
    white = ~((leaf & ~hole) | stalk) & ~(hole & ~stalk)
    assert (out[white] == 255).mean() > 0.998
    assert (out[leaf & ~hole] < 110).all()
    assert (out[hole & ~stalk] < 220).all()  # what the border does not reach stays


def test_the_order_of_the_edits_is_as_stated() -> None:
    """Levels come before the curve and both before sharpening: told by a picture on which the order matters."""
    grey = grainy()
    levels, curve, sharpen = Levels(black=60, white=200), ((0.0, 0.2), (1.0, 0.9)), Detail(amount=1.0, radius_mm=0.15)
    at_once = edited(picture(grey), Edits(levels=levels, curve=curve, sharpen=sharpen))
    step = edited(edited(picture(grey), Edits(levels=levels)), Edits(curve=curve))
    one_by_one = edited(step, Edits(sharpen=sharpen))
    assert np.abs(at_once.grey.astype(int) - one_by_one.grey.astype(int)).max() <= 3  # rounded twice more
    other = edited(edited(picture(grey), Edits(sharpen=sharpen)), Edits(levels=levels, curve=curve))
    assert np.abs(at_once.grey.astype(int) - other.grey.astype(int)).max() > 20


def test_edits_in_mm_do_the_same_at_every_resolution() -> None:
    edits = Edits(
        turn_deg=12,
        crop=Crop(left=0.25, top=0.25, right=0.75, bottom=0.75),
        levels=Levels(black=30, white=230),
        local_contrast=Detail(amount=0.8, radius_mm=4),
        sharpen=Detail(amount=1.0, radius_mm=2),
    )
    coarse = edited(picture(stored(hills(240, 300)), (0.2, 0.2)), edits, 0.4)
    fine = edited(picture(stored(hills(960, 1200)), (0.05, 0.05)), edits, 0.4)
    rows, columns = (min(a, b) for a, b in zip(coarse.grey.shape, fine.grey.shape, strict=True))
    away = np.abs(coarse.grey[:rows, :columns].astype(int) - fine.grey[:rows, :columns].astype(int))
    assert abs(coarse.grey.shape[0] - fine.grey.shape[0]) <= 1
    assert np.quantile(away, 0.99) <= 3


def test_the_size_used_is_what_radii_are_measured_by() -> None:
    grey = grainy()
    sharpen = Detail(amount=1.0, radius_mm=0.4)
    placed = as_placed(picture(grey, (0.1, 0.1)), Edits(sharpen=sharpen), (52 * 0.2, None), None)
    assert (placed.grey == edited(picture(grey, (0.2, 0.2)), Edits(sharpen=sharpen)).grey).all()
    assert placed.pitch_mm == pytest.approx((0.1, 0.1))
    data = encoded(Image.fromarray(grey))
    drawing = read_artwork(data, toned=True, picture=Edits(sharpen=sharpen), size_mm=(52 * 0.2, None))
    assert not drawing.has_size
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((52, 40))
    cropped = read_artwork(
        data, toned=True, picture=Edits(crop=Crop(left=0.5)), size_mm=(20.0, None), resolution_mm=2.0
    )
    assert cropped.darkness.cells.shape == (16, 10)
    assert cropped.width_mm / cropped.height_mm == pytest.approx(26 / 40)


def test_a_drawing_says_that_edits_are_not_for_it() -> None:
    drawing = read_artwork(svg('<rect width="50" height="50"/>'), picture=Edits(turn_deg=5))
    assert [note.code for note in drawing.notes] == ["picture"]


def test_the_preview_is_what_the_marking_is_given_at_the_engravings_resolution() -> None:
    data = encoded(Image.fromarray(stored(hills(300, 400))), dpi=(254, 254))
    edits, tone = Edits(crop=Crop(right=0.5), levels=Levels(black=20)), Tone(gamma=1.2)
    png = picture_preview(data, edits, tone, size_mm=(10.0, None), resolution_mm=0.25)
    seen = np.asarray(Image.open(io.BytesIO(png)))
    assert seen.shape == (60, 40)
    given = read_artwork(data, tone=tone, toned=True, picture=edits, size_mm=(10.0, None), resolution_mm=0.25)
    light = seen / 255.0
    linear = np.where(light <= 0.04045, light / 12.92, ((light + 0.055) / 1.055) ** 2.4)
    np.testing.assert_allclose(given.darkness.cells, 1 - linear, atol=1e-6)
    png = picture_preview(data, edits, Tone(threshold=150), size_mm=(10.0, None), resolution_mm=1.0, toned=False)
    parted = np.asarray(Image.open(io.BytesIO(png)))
    assert set(np.unique(parted)) == {0, 255}
    with pytest.raises(NotArtworkError):
        picture_preview(svg(""), edits, tone, size_mm=(10.0, None), resolution_mm=0.25)


@pytest.mark.parametrize(
    ("make", "where"),
    [
        (lambda: Crop(left=0.6, right=0.4), "picture/crop"),
        (lambda: Crop(top=float("nan")), "picture/crop"),
        (lambda: Levels(black=200, white=100), "picture/levels"),
        (lambda: Levels(middle=0), "picture/levels"),
        (lambda: Detail(amount=1, radius_mm=0), "picture"),
        (lambda: Background(tolerance=2), "picture/background/tolerance"),
        (lambda: Edits(curve=((0.0, 0.5), (1.0, 0.2))), "picture/curve"),
        (lambda: Edits(curve=((0.5, 0.5),)), "picture/curve"),
        (lambda: Edits(denoise=float("nan")), "picture/denoise"),
        (lambda: Edits(turn_deg=float("inf")), "picture/turn_deg"),
    ],
)
def test_what_makes_no_sense_is_refused(make, where: str) -> None:
    with pytest.raises(ArtworkError) as caught:
        make()
    assert caught.value.where == where


def test_hostile_sizes_are_bounded() -> None:
    with pytest.raises(TooBigError):
        edited(picture(np.zeros((300, 300), np.uint8)), Edits(turn_deg=45), limits=Limits(raster_pixels=120_000))
    thin = picture(np.zeros((1, 4000), np.uint8))
    assert edited(thin, Edits(crop=Crop(right=1e-9), denoise=1, background=Background())).grey.shape == (1, 1)
    assert edited(thin, Edits(local_contrast=Detail(amount=1, radius_mm=1e9)), 1e6).grey.shape == (1, 1)
    assert edited(thin, Edits(turn_deg=1e-12)).grey.shape == (1, 4000)


def test_any_edits_of_any_picture_give_a_picture() -> None:
    """Sixty pictures of odd sizes with edits by chance: greys, at least one, the same twice over."""
    rng = np.random.default_rng(11)
    for _ in range(60):
        rows, columns = rng.integers(1, 40, 2).tolist()
        pitch = tuple(rng.uniform(0.01, 2, 2).tolist())
        left, right = sorted(rng.uniform(0, 1, 2).tolist())
        edits = Edits(
            turn_deg=float(rng.choice([0, 90, -450, rng.uniform(-720, 720)])),
            crop=Crop(left=left, right=right) if left < right else None,
            denoise=float(rng.choice([0, rng.uniform()])),
            background=Background(tolerance=float(rng.uniform())) if rng.uniform() < 0.5 else None,
            levels=Levels(black=float(rng.uniform(0, 100)), white=float(rng.uniform(101, 255)), middle=0.5),
            curve=((0.2, 0.1), (0.7, 0.7)) if rng.uniform() < 0.5 else (),
            local_contrast=Detail(amount=float(rng.uniform()), radius_mm=float(10 ** rng.uniform(-3, 3))),
            sharpen=Detail(amount=float(rng.uniform(0, 5)), radius_mm=float(10 ** rng.uniform(-3, 3))),
        )
        held = Picture(grey=rng.integers(0, 256, (rows, columns)).astype(np.uint8), pitch_mm=pitch)
        resolution = None if rng.uniform() < 0.3 else float(10 ** rng.uniform(-2, 1))
        once, twice = (edited(held, edits, resolution) for _ in range(2))
        assert once.grey.dtype == np.uint8 and once.grey.size >= 1
        assert (once.grey == twice.grey).all()
        assert all(side > 0 for side in once.pitch_mm)
