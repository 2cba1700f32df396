"""Marks on the letters of single-stroke faces: where they lie, and that no letter is set without them."""

import unicodedata

import numpy as np
import pytest

from engine.artwork.lettering import Text, set_text
from engine.artwork.lettering.faces import STROKE_TABLES
from engine.kernel.errors import ArtworkError

CAPITAL = 21.0
NAMES = "Zoë Jürgen Renée Åsa Łucja Søren Dvořák Çelik Ángel Nuñez Kővári Đurđa ıșą"


def strokes(words, face="single-line"):
    """Each stroke, in the face's units, from the line's foot and its left."""
    drawing = set_text(Text(string=words, font=face, size_mm=CAPITAL)).drawing
    middle = (drawing.width_mm / 2, drawing.height_mm / 2 - 7.0)
    return [drawing.lines[k] + middle for k in range(len(drawing.lines))]


@pytest.mark.parametrize("face", STROKE_TABLES)
def test_names_are_set_as_wide_as_their_plain_letters(face):
    plain = NAMES.translate(str.maketrans("ŁłøđĐı", "LlodDi"))
    plain = "".join(c for c in unicodedata.normalize("NFD", plain) if not unicodedata.combining(c))
    wide, narrow = (set_text(Text(string=s, font=face)).drawing for s in (NAMES, plain))
    assert wide.width_mm == pytest.approx(narrow.width_mm)
    assert len(wide.lines) >= len(narrow.lines) + 15


@pytest.mark.parametrize("marked", "éèêñüőåčăāżÉÜÅ")
def test_a_mark_stands_over_its_letter_and_clear_of_it(marked):
    plain = unicodedata.normalize("NFD", marked)[0]
    letter, whole = strokes(plain), strokes(marked)
    assert all(np.allclose(a, b) for a, b in zip(letter, whole[: len(letter)], strict=True))
    mark = np.concatenate(whole[len(letter) :])
    ink = np.concatenate(letter)
    assert 1.5 < mark[:, 1].min() - ink[:, 1].max() < 4.0
    assert abs(np.ptp(mark[:, 0]) / 2 + mark[:, 0].min() - (ink[:, 0].min() + ink[:, 0].max()) / 2) < 2.0


@pytest.mark.parametrize("marked", "çşąŞȘ")
def test_a_mark_hangs_under_its_letter(marked):
    plain = unicodedata.normalize("NFD", marked)[0]
    mark = np.concatenate(strokes(marked)[len(strokes(plain)) :])
    assert mark[:, 1].max() <= 0.5 and mark[:, 1].min() < -4.0


def test_marks_are_stacked():
    one, two = strokes("ê"), strokes("ế")
    assert two[-1][:, 1].min() > one[-1][:, 1].max()


def test_i_loses_its_dot_under_another_mark():
    assert len(strokes("i")) == 2 and len(strokes("ı")) == 1
    for face in STROKE_TABLES:
        assert np.concatenate(strokes("ı", face))[:, 1].max() < np.concatenate(strokes("i", face))[:, 1].max() - 2, face
    assert len(strokes("í")) == 2 and len(strokes("ï")) == 3 and len(strokes("į")) == 3


def test_a_stroke_goes_through_its_letter():
    through = strokes("ø")[-1]
    ink = np.concatenate(strokes("o"))
    assert through[0, 1] < ink[:, 1].min() and through[1, 1] > ink[:, 1].max() and len(through) == 2


def test_what_stands_in_is_told():
    curly, plain = (set_text(Text(string=s, font="single-line")) for s in ("Bea’s – “beet”", 'Bea\'s - "beet"'))
    assert curly.drawing.lines.points == pytest.approx(plain.drawing.lines.points)
    assert [note.code for note in curly.drawing.notes] == ["stand-in"] * 4
    assert not plain.drawing.notes


@pytest.mark.parametrize("character", "Жß中◌́")
def test_what_cannot_be_made_is_refused(character):
    with pytest.raises(ArtworkError, match=f"U\\+{ord(character):04X}"):
        set_text(Text(string=f"a {character}", font="single-line"))
