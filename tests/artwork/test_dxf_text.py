"""Texts of DXF files: where their letters stand, how high, and what of their formatting is read."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.artwork import Limits, read_artwork
from engine.artwork.dxf_blocks import read_blocks
from engine.artwork.dxf_tags import sections
from engine.artwork.notes import Notes
from engine.kernel.errors import ArtworkError, TooBigError
from tests.artwork.dxf_files import Tags, block, dxf, entity, insert, line
from tests.artwork.pictures import check_rings, region

H = 3.0


def text(string: str, *more: tuple[int, object], at: tuple[float, float] = (0.0, 0.0), kind: str = "TEXT") -> Tags:
    return entity(kind, (10, at[0]), (20, at[1]), (40, H), (1, string), *more)


def box(*entities: Tags) -> NDArray[np.float64]:
    """(2, 2) least and greatest x and y of everything filled, in the file's own coordinates."""
    _, held = sections(dxf(*entities), Limits())
    root = read_blocks(held, Limits(), Notes())[""]
    points = np.concatenate([np.array(runs.rows)[:, :8].reshape(-1, 2) for runs in root.fills.values()])
    return np.array([points.min(0), points.max(0)])


def test_capitals_stand_as_high_as_the_text_says() -> None:
    (x0, y0), (x1, y1) = box(text("HEH", at=(7, 5)))
    assert (y0, y1) == pytest.approx((5, 5 + H), abs=1e-6)
    assert 7 < x0 < 7.5
    drawing = read_artwork(dxf(text("HEH", at=(7, 5))))
    check_rings(drawing)
    assert len(drawing.rings) == 3
    assert drawing.height_mm == pytest.approx(H, abs=1e-6)
    assert (x1 - x0) == pytest.approx(drawing.width_mm, abs=1e-6)
    assert [note.code for note in drawing.notes] == ["face"]


@pytest.mark.parametrize(("across", "share"), [(0, 0.0), (1, 0.5), (2, 1.0)])
@pytest.mark.parametrize(("up", "foot"), [(0, 0.0), (2, -H / 2), (3, -H)])
def test_a_line_is_aligned_at_its_second_point(across: int, share: float, up: int, foot: float) -> None:
    plain = box(text("HEH"))
    at = (10.0, 20.0) if across or up else (0.0, 0.0)
    shifted = box(text("HEH", (72, across), (73, up), (11, 10), (21, 20)))
    width = plain[0, 0] + plain[1, 0]  # an H has as much room on its left as on its right
    np.testing.assert_allclose(shifted, plain + [at[0] - share * width, at[1] + foot], atol=1e-6)


def test_a_line_fits_between_its_two_points() -> None:
    aligned = box(text("HEH", (72, 3), (11, 30), (21, 0)))
    fit = box(text("HEH", (72, 5), (11, 30), (21, 0)))
    for made in (aligned, fit):
        assert made[0, 0] + made[1, 0] == pytest.approx(30, abs=1e-6)
    assert fit[1, 1] == pytest.approx(H)
    plain = box(text("HEH"))
    assert aligned[1, 1] / H == pytest.approx((aligned[1, 0] - aligned[0, 0]) / (plain[1, 0] - plain[0, 0]))
    slanting = box(text("HEH", (72, 5), (11, 0), (21, 30)))
    assert slanting[0, 1] + slanting[1, 1] == pytest.approx(30, abs=1e-6)


def test_turn_width_slant_and_mirror() -> None:
    (x0, y0), (x1, y1) = box(text("HEH"))
    turned = box(text("HEH", (50, 90)))
    np.testing.assert_allclose(turned, [[-y1, x0], [-y0, x1]], atol=1e-6)
    wide = box(text("HEH", (41, 2.0)))
    np.testing.assert_allclose(wide, [[2 * x0, y0], [2 * x1, y1]], atol=1e-6)
    slanted = box(text("HEH", (51, 45)))
    np.testing.assert_allclose(slanted, [[x0, y0], [x1 + H, y1]], atol=1e-6)
    backward = box(text("HEH", (71, 2)))
    np.testing.assert_allclose(backward, [[-x1, y0], [-x0, y1]], atol=1e-6)
    behind = box(text("HEH", (210, 0), (220, 0), (230, -1)))
    np.testing.assert_allclose(behind, [[-x1, y0], [-x0, y1]], atol=1e-6)


@pytest.mark.parametrize("place", range(1, 10))
def test_a_block_of_lines_hangs_at_its_place(place: int) -> None:
    made = box(text(r"HEH\PHEH", (71, place), at=(4, 6), kind="MTEXT"))
    one = box(text("HEH"))
    width, tall = one[0, 0] + one[1, 0], H + 5 * H / 3
    column, row = (place - 1) % 3, (place - 1) // 3
    assert made[:, 0].sum() / 2 == pytest.approx(4 + width * (0.5 - column / 2), abs=1e-6)
    assert made[1, 1] - made[0, 1] == pytest.approx(tall, abs=1e-6)
    if row == 0:
        assert made[1, 1] == pytest.approx(6, abs=1e-6)
    else:
        depth = 6 - made[0, 1]
        assert depth < 0.01 if row == 2 else depth > H / 2


def test_formatting_is_read_for_its_line_breaks_and_signs() -> None:
    plain = box(text(r"A\PB {C}", kind="MTEXT"))
    dressed = box(text(r"{\fSans|b1|i0;\H2.5x;A}\P\C1;B \{C\}".replace(r"\{", "{").replace(r"\}", "}"), kind="MTEXT"))
    np.testing.assert_allclose(dressed, plain, atol=1e-6)
    parts = [
        box(text(string, kind=kind))
        for string, kind in ((r"1/2", "TEXT"), (r"\S1^2;", "MTEXT"), ("%%0491%%0472", "TEXT"))
    ]
    assert np.ptp(parts[0], axis=0) == pytest.approx(np.ptp(parts[1], axis=0), abs=1e-6)
    degree = [np.ptp(box(text(string)), axis=0) for string in ("5°", "5%%d", r"5\U+00B0", "%%u5%%D%%u")]
    for made in degree[1:]:
        assert made == pytest.approx(degree[0], abs=1e-6)


def test_long_lines_are_broken_between_words_at_the_width_stated() -> None:
    words = " ".join(["bean"] * 8)
    one = box(text(words, kind="MTEXT"))
    made = box(text(words, (41, 15.0), kind="MTEXT"))
    assert one[1, 0] - one[0, 0] > 40
    assert made[1, 0] - made[0, 0] < 15
    assert made[1, 1] - made[0, 1] > 3 * H
    long_one = entity("MTEXT", (10, 0), (20, 0), (40, H), (3, "bean " * 40), (1, "bean"), (41, 30.0))
    assert box(long_one)[0, 1] < -5 * H


def test_attributes_are_drawn_and_what_defines_them_is_not() -> None:
    held = [block("B", line(0, 0, 1, 0), entity("ATTDEF", (10, 0), (20, 0), (40, H), (1, "name")))]
    shown = text("H", at=(5, 5), kind="ATTRIB")
    drawing = read_artwork(dxf(insert("B", 0, 0), shown, text("H", (70, 1), kind="ATTRIB"), blocks=held))
    assert (len(drawing.rings), len(drawing.lines)) == (1, 1)
    assert {note.code for note in drawing.notes} == {"face", "hidden"}


def test_letters_with_holes_and_overlaps_are_regions() -> None:
    drawing = read_artwork(dxf(text("BO"), text("BO", at=(1.0, 0.4))))
    check_rings(drawing)
    once = region(read_artwork(dxf(text("BO"))).rings).area
    assert once < region(drawing.rings).area < 2 * once


def test_what_cannot_be_set_is_told_and_too_much_is_refused() -> None:
    drawing = read_artwork(dxf(line(0, 0, 9, 9), text("A\u0e01B")))
    (told,) = [note for note in drawing.notes if note.code == "text"]
    assert "U+0E01" in told.message
    assert not len(drawing.rings)
    assert not read_artwork(dxf(line(0, 0, 9, 9), text("   "))).notes
    with pytest.raises(ArtworkError, match="height"):
        read_artwork(dxf(entity("TEXT", (10, 0), (20, 0), (40, 0), (1, "H"))))
    with pytest.raises(TooBigError, match="letters"):
        read_artwork(dxf(*(text(f"bean {k}") for k in range(9))), limits=Limits(dxf_letters=40))
    assert math.isfinite(read_artwork(dxf(text("H", (41, 0)))).width_mm)
