"""Broken bytes: a reader refuses them as an `EngineError` or reads them; it never falls over."""

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from engine.artwork import describe, read_artwork
from engine.kernel.errors import EngineError, NotArtworkError
from tests.artwork.pictures import disc, encoded, smooth, svg
from tests.artwork.test_svg import CASES

PICTURE = smooth(48, 40, disc(24, 20, 15))
TURNED = Image.Exif()
TURNED[0x0112] = 6
SEEDS = {
    "png": encoded(PICTURE, dpi=(300, 300)),
    "apng": encoded(PICTURE, save_all=True, append_images=[PICTURE.rotate(90)]),
    "palette": encoded(PICTURE.convert("P"), transparency=0),
    "jpeg": encoded(PICTURE, "JPEG", dpi=(300, 300), exif=TURNED.tobytes()),
    "scans": encoded(PICTURE, "JPEG", progressive=True),
    "webp": encoded(PICTURE, "WEBP"),
    "gif": encoded(PICTURE, "GIF", save_all=True, append_images=[PICTURE.rotate(90)]),
    "bmp": encoded(PICTURE, "BMP"),
    "svg": CASES["style sheet"],
    "clip": CASES["clip of a clip"],
    "paths": CASES["numbers glued"] + CASES["arcs"][-60:],
    "dashes": CASES["light stroke erases"],
    "table": b"x_mm,angle_deg,radius_mm\n0,0,20\n",
}


def broken(data: bytes, rng: np.random.Generator, how: int) -> bytes:
    """One of five ways of going wrong: cut, bits turned, a piece doubled, a piece lost, bytes overwritten."""
    held = bytearray(data)
    at, to = sorted(rng.integers(0, len(held), 2).tolist())
    if how == 0:
        return bytes(held[:at])
    if how == 1:
        for place in rng.integers(0, len(held), 4).tolist():
            held[place] ^= 1 << int(rng.integers(8))
    elif how == 2:
        held[at:at] = held[at:to]
    elif how == 3:
        del held[at : min(to, at + 9)]
    else:
        held[at : at + 4] = rng.integers(0, 256, 4, dtype=np.uint8).tobytes()
    return bytes(held)


@pytest.mark.filterwarnings("ignore")  # a decoder may warn of what it mends; the server's log is where that belongs
@pytest.mark.parametrize("name", SEEDS)
def test_bytes_that_went_wrong_are_refused_or_read(name: str) -> None:
    rng = np.random.default_rng(len(name))
    refused: list[EngineError] = []
    for turn in range(40):
        data = broken(SEEDS[name], rng, turn % 5)
        for door in (describe, read_artwork):
            try:
                door(data)
            except EngineError as error:
                refused.append(error)
    assert refused
    assert all(error.message and error.where for error in refused)


@pytest.mark.parametrize("name", SEEDS)
def test_the_seeds_themselves_are_whole(name: str) -> None:
    if name != "paths":
        describe(SEEDS[name])


BOMBS = {
    "laughs": svg(
        "",
        prolog="<!DOCTYPE svg ["
        + "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10 if i else "ha"}">' for i in range(9))
        + "]>",
    ),
    "outside": svg(
        '<image href="file:///etc/hostname"/><use href="http://127.0.0.1:1/a.svg#b"/>',
        prolog='<!DOCTYPE svg SYSTEM "http://127.0.0.1:1/a.dtd">',
    ),
    "brackets": svg('<rect width="9" height="9" fill="white" style="clip-path:' + "(" * 30_000 + '"/>'),
    "selectors": svg("<style>" + "a:not(" * 3_000 + "</style><g/>"),
    "digits": svg('<rect width="' + "1" * 100_000 + '!" height="9"/><path d="M' + "1" * 100_000 + ' 5L6 6"/>'),
    "brackets in a transform": svg('<rect width="9" height="9" transform="' + "matrix(" * 20_000 + '"/>'),
    "huge arc": svg('<path d="M0 0A1e200 1e200 0 0 1 5 5L9 0z"/>'),
    "tiny view": svg('<path d="M0 0A1 1 0 0 1 5 5L9 0z"/>', 'viewBox="0 0 1e-300 1e-300" width="5mm" height="5mm"'),
    "flat": svg('<g transform="scale(0)"><circle cx="5" cy="5" r="5" stroke="black"/></g>'),
    "clips": svg(
        '<clipPath id="a" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>'
        '<g clip-path="url(#a)"/><path clip-path="url(#a)" d="M0 0"/>'
    ),
    "null": svg('<rect width="9"\x00 height="9"/>'),
    "wide stroke": svg(
        '<path d="M0 0h9" stroke="white" stroke-width="1e300"/><path d="M0 0h9" stroke="white" stroke-width="1e308in"/>'
    ),
}


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_are_refused(name: str) -> None:
    with pytest.raises(EngineError) as caught:
        read_artwork(BOMBS[name])
    assert len(str(caught.value)) < 400


def test_a_picture_full_of_hidden_text_is_refused_or_read_quickly() -> None:
    info = PngInfo()
    info.add_text("note", "0" * 3_000_000, zip=True)
    data = encoded(Image.new("L", (8, 8)), pnginfo=info)
    assert len(data) < 10_000
    with pytest.raises(NotArtworkError):
        describe(data)
