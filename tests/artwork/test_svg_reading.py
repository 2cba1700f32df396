"""SVG files: sizes, tones, what is told of what was left out, what is refused and why."""

import re

import numpy as np
import pytest
from fontTools.misc.transform import Identity

from engine.artwork import Drawing, Limits, read_artwork, svg_path
from engine.artwork.svg import read_svg
from engine.artwork.svg_path import path_outline
from engine.artwork.svg_values import colour
from engine.kernel.errors import ArtworkError, EmptyError, NotArtworkError, TooBigError
from tests.artwork.pictures import region, svg
from tests.artwork.test_svg import CASES


@pytest.mark.parametrize(
    ("attributes", "size", "has_size"),
    [
        ('width="50mm" height="20mm"', (50, 20), True),
        ('width="2in" height="1cm" viewBox="0 0 9 9"', (50.8, 10), True),
        ('width="72pt" height="6pc"', (25.4, 25.4), True),
        ('width="160Q" height="96px"', (40, 25.4), True),
        ('width="50mm" viewBox="0 0 100 40"', (50, 20), True),
        ('height="50mm" viewBox="0 0 100 40"', (125, 50), True),
        ('width="300" height="200px"', (300, 200), False),
        ('viewBox="-5 -5 24 12"', (24, 12), False),
        ('width="100%" height="100%" viewBox="0 0 24 12"', (24, 12), False),
        ('width="auto" height="0" viewBox="0 0 24 12"', (24, 12), False),
    ],
)
def test_the_size_is_the_viewport_and_stated_only_in_lengths_of_the_world(
    attributes: str, size: tuple[float, float], has_size: bool
) -> None:
    drawing = read_artwork(svg('<rect x="1" y="1" width="5" height="5"/>', attributes))
    np.testing.assert_allclose((drawing.width_mm, drawing.height_mm), size, rtol=1e-12)
    assert drawing.has_size is has_size


def test_ten_mm_on_the_sheet_are_ten_mm_and_up_is_up() -> None:
    drawing = read_artwork(svg('<rect x="1cm" y="5mm" width="10mm" height="20mm"/>', 'width="60mm" height="40mm"'))
    low, high = drawing.rings.points.min(0), drawing.rings.points.max(0)
    np.testing.assert_allclose([low, high], [[-20, -5], [-10, 15]], atol=1e-9)


@pytest.mark.parametrize("attributes", ['width="100mm" height="100mm" viewBox="0 0 24 24"', 'viewBox="0 0 24 24"'])
def test_curves_keep_their_chord_at_the_size_of_a_bottle(attributes: str) -> None:
    drawing = read_artwork(svg('<circle cx="12" cy="12" r="12"/>', attributes))
    mm = drawing.rings[0] * (100 / drawing.width_mm)
    middles = np.hypot(*((mm[1:] + mm[:-1]) / 2).T)
    assert 50 - middles.min() <= 0.0051
    assert np.abs(np.hypot(*mm.T) - 50).max() < 50 * 5e-6


def test_a_finer_chord_gives_more_points() -> None:
    data = svg('<circle cx="50" cy="50" r="40"/>')
    coarse, fine = (read_svg(data, Limits(), chord_mm=chord, chord_share=1.0) for chord in (0.004, 0.0001))
    assert len(fine.rings.points) > 3 * len(coarse.rings.points)
    true = np.pi * 32**2
    assert abs(region(fine.rings).area - true) < abs(region(coarse.rings).area - true) / 20


def test_a_light_fill_takes_lines_that_lie_under_it_and_not_those_over_it() -> None:
    data = svg(
        '<path d="M0 50H100" stroke="black"/><rect x="25" y="25" width="50" height="50" fill="white"/>'
        '<path d="M50 0V100" stroke="black"/>'
    )
    drawing = read_artwork(data)
    lengths = sorted(np.hypot(*np.diff(drawing.lines[i], axis=0).T).sum() for i in range(len(drawing.lines)))
    np.testing.assert_allclose(lengths, [20, 20, 80])


@pytest.mark.parametrize(
    ("fill", "cut"),
    [
        ("#7f7f7f", True),
        ("#808080", False),
        ("red", True),
        ("#00ff00", False),
        ("blue", True),
        ("hsl(0 0% 40%)", True),
        ("rgb(60% 60% 60% / 1)", False),
        ("rgba(0,0,0,.6)", True),
        ("rgba(0,0,0,.4)", False),
    ],
)
def test_mid_grey_parts_what_is_cut_from_what_is_not(fill: str, cut: bool) -> None:
    data = svg(f'<rect width="10" height="10" x="50"/><rect width="20" height="20" fill="{fill}"/>')
    assert region(read_artwork(data).rings).area == pytest.approx((100 + 400 * cut) * 0.64)


@pytest.mark.parametrize(
    ("stops", "cut"),
    [
        ('<stop offset="0" stop-color="black"/><stop offset="1" stop-color="#ccc"/>', True),
        ('<stop offset=".1" style="stop-color:#fff"/><stop offset="90%" stop-color="#444"/>', False),
    ],
)
def test_a_gradient_counts_as_its_mean_and_says_so(stops: str, cut: bool) -> None:
    data = svg(
        f'<linearGradient id="a">{stops}</linearGradient><radialGradient id="b" xlink:href="#a"/>'
        '<rect width="10" height="10" x="50"/><rect width="20" height="20" fill="url(#b)"/>'
    )
    drawing = read_artwork(data)
    assert region(drawing.rings).area == pytest.approx((100 + 400 * cut) * 0.64)
    assert [note.code for note in drawing.notes] == ["gradient"]


def notes_of(drawing: Drawing) -> dict[str, int]:
    return {note.code: note.times for note in drawing.notes}


def test_what_is_not_used_is_told_with_count_and_place() -> None:
    data = svg(
        '<rect width="10" height="10"/>\n<text x="5" y="5">dill</text><text>beans</text><image href="x.png"'
        ' id="photo"/>'
        '<rect width="9" height="9" filter="url(#f)" mask="url(#m)"/><rect fill="url(#p)" width="9" height="9"/>'
        '<pattern id="p"/><path d="M0 0h9v9z l1 x" marker-end="url(#q)"/><foreignObject/><script>1</script>'
        '<rect width="1" height="1" display="none"/><use href="other.svg#a"/><rect fill="no-colour" width="1"'
        ' height="1"/>'
        '<g xmlns:k="urn:k"><k:thing/></g><style>@import "a.css"; p::before{fill:red} a[{fill:red}</style>'
        '<rect width="1" height="1" fill="#000" fill-opacity=".3"/>'
    )
    drawing = read_artwork(data)
    codes = notes_of(drawing)
    assert codes["text"] == 2
    for code in (
        "image",
        "filter",
        "mask",
        "pattern",
        "path",
        "marker",
        "foreignObject",
        "script",
        "hidden",
        "reference",
        "colour",
        "css",
        "faint",
    ):
        assert code in codes, code
    (text,) = (note for note in drawing.notes if note.code == "text")
    assert text.where.startswith("line 2, <text")
    assert "outlines" in text.message
    (image,) = (note for note in drawing.notes if note.code == "image")
    assert "id=photo" in image.where


@pytest.mark.parametrize(
    ("d", "area", "fault"),
    [
        ("M10 10h50v50h-50z", 2500, False),
        ("M10 10h50v50h-50z garbage", 2500, True),
        ("M10 10h50v50h-50 L 3", 2500, True),
        ("M10 10h50v50h-50z h", 2500, True),
        ("L10 10h50v50", 0, True),
        ("M10 10 60 10 60 60 10 60", 2500, False),
        ("M 10,10 h 50 v 50 h -50 z M", 2500, True),
        ("M10 10 H60 V60 H10 A 5 5 0 2 0 9 9", 2500, True),
    ],
)
def test_wrong_path_data_is_drawn_up_to_the_fault(d: str, area: float, fault: bool) -> None:
    data = svg(f'<path d="{d}"/><rect x="90" y="90" width="10" height="10"/>')
    drawing = read_artwork(data)
    assert region(drawing.rings).area == pytest.approx((area + 100) * 0.64)
    assert ("path" in notes_of(drawing)) is fault


@pytest.mark.parametrize(
    ("data", "error", "says"),
    [
        (svg('<g id="a"><use href="#a"/></g>'), ArtworkError, "back to itself"),
        (svg('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'), ArtworkError, "back to itself"),
        (
            svg(
                '<clipPath id="c"><rect clip-path="url(#c)" width="9" height="9"/></clipPath>'
                '<rect clip-path="url(#c)" width="9" height="9"/>'
            ),
            ArtworkError,
            "back to itself",
        ),
        (svg("<g>" * 70 + '<rect width="9" height="9"/>' + "</g>" * 70), TooBigError, "deep"),
        (
            svg(
                "".join(f'<g id="g{i}">' + f'<use href="#g{i + 1}"/>' * 10 + "</g>" for i in range(9))
                + '<rect id="g9" width="1" height="1"/>'
            ),
            TooBigError,
            "makes more",
        ),
        (
            svg(
                "".join(f'<g id="g{i}"><use href="#g{i + 1}"/></g>' for i in range(99, -1, -1)) + '<rect id="g100"'
                ' width="1" height="1"/>'
            ),
            TooBigError,
            "deep",
        ),
        (svg('<rect width="9" height="9"/>', prolog='<!DOCTYPE svg [<!ENTITY a "b">]>'), NotArtworkError, "DOCTYPE"),
        (
            svg(
                '<rect width="9" height="9"/>',
                prolog='<!DOCTYPE svg [<!ENTITY % x SYSTEM "file:///etc/hostname"> %x;]>',
            ),
            NotArtworkError,
            "DOCTYPE",
        ),
        (svg('<rect width="9" height="9" transform="rotate3d(1,2,3)"/>'), ArtworkError, "not understood"),
        (svg('<rect width="9" height="9" transform="translate(1e400)"/>'), ArtworkError, "finite"),
        (svg('<rect width="9" height="9" transform="matrix(1 2 3)"/>'), ArtworkError, "not understood"),
        (svg('<path d="M0 0L1e300 5L5 5z"/>'), ArtworkError, "finite or far"),
        (svg('<rect width="9" height="9"/>', ""), ArtworkError, "no size"),
        (svg('<rect width="9" height="9"/>', 'width="11000mm" height="5mm"'), TooBigError, "mm"),
        (svg("<text>dill</text>"), EmptyError, "outlines"),
        (svg('<rect width="9" height="9" fill="white"/>'), EmptyError, "mid grey"),
        (b"<html><body/></html>", NotArtworkError, "outermost"),
        (b"<svg", NotArtworkError, "well-formed"),
        (svg('<path d="' + "M0 0" + "L1 1" * 200_001 + '"/>'), TooBigError, "numbers"),
        (svg('<circle cx="50" cy="50" r="40" stroke="black" stroke-dasharray=".0001"/>'), TooBigError, "dashes"),
    ],
)
def test_what_cannot_be_read_says_what_and_where(data: bytes, error: type[ArtworkError], says: str) -> None:
    with pytest.raises(error) as caught:
        read_artwork(data)
    assert type(caught.value) is error
    assert says in str(caught.value)
    assert caught.value.where


def test_a_scribble_that_would_fill_the_memory_is_refused() -> None:
    rng = np.random.default_rng(5)
    d = "M" + " ".join(f"{x:.3f} {y:.3f}" for x, y in rng.uniform(0, 100, (20_000, 2)))
    with pytest.raises(TooBigError, match="crosses itself"):
        read_artwork(svg(f'<path d="{d}"/>'))


def test_utf16_and_files_without_a_namespace_are_read() -> None:
    plain = '<svg viewBox="0 0 10 10"><rect width="5" height="5"/></svg>'
    for data in (plain.encode(), plain.encode("utf-16"), b"\xef\xbb\xbf" + plain.encode(), b"\n " + plain.encode()):
        assert region(read_artwork(data).rings).area == pytest.approx(25)


def test_reading_twice_gives_the_same_bytes() -> None:
    for name in ("overlapping", "light stroke erases", "clip"):
        a, b = read_artwork(CASES[name]), read_artwork(CASES[name])
        assert a.rings.points.tobytes() == b.rings.points.tobytes()
        assert a.rings.offsets.tobytes() == b.rings.offsets.tobytes()


@pytest.mark.parametrize(
    "d",
    [
        "M1 2L3 4L5,6L7 8",
        "m1 2l3 4l-5,6 l7e-1 .8L5 6l1 1",
        "M1 2L3 4L5 6 7L8 9",  # a number too many: wrong from there on
        "M1 2L3 4LL5 6",
        "M1 2L3 4L1e999 6L1 1",
        "M1 2L3-4L5-6L7-8z l1 1l2 2",
        "L1 2L3 4",
        "M1 2C1 2 3 4 5 6L1 1L2 2S3 3 4 4",
    ],
)
def test_many_lines_at_once_are_those_one_by_one(d: str, monkeypatch: pytest.MonkeyPatch) -> None:
    at_once, told = path_outline(d, 1000, "")
    monkeypatch.setattr(svg_path, "_LINES", re.compile("(?!)"))
    one_by_one, told_then = path_outline(d, 1000, "")
    drawn, drawn_then = (pen.flatten(Identity, 0.01, 1000, "") for pen in (at_once, one_by_one))
    for part, part_then in zip(drawn, drawn_then, strict=True):
        assert part.tolist() == part_then.tolist()
    assert at_once.at == one_by_one.at and told == told_then


def test_many_lines_count_against_the_limit() -> None:
    d = "M0 0" + "L1 2" * 20
    assert path_outline(d, 42, "")[1] == ""
    with pytest.raises(TooBigError):
        path_outline(d, 41, "")


WORDS = ("", "0", "none", "-50%", "1e400", "-1e400", "1e308turn", "calc(1)", "'s'", "#fff", "url(x)", "[1]", "(1)", "!")
SPACES = (
    "rgb(",
    "hsl(",
    "hwb(",
    "lab(",
    "lch(",
    "oklab(",
    "oklch(",
    "color(",
    "color(srgb ",
    "color(xyz ",
    "color-mix(",
)


@pytest.mark.parametrize("space", SPACES)
def test_whatever_is_written_is_a_colour_within_its_bounds_or_none(space):
    """CSS Color 4 has spaces, and words, that the library raises on in two ways; no other error is held back."""
    rng = np.random.default_rng(len(space))
    for _ in range(1500):
        said = [WORDS[k] for k in rng.integers(len(WORDS), size=rng.integers(5))]
        found = colour(space + (" ", ",", " / ")[rng.integers(3)].join(said) + ")"[: rng.integers(2)])
        assert found is None or (0 <= found[0] <= 255 and 0 <= found[1] <= 1)


@pytest.mark.parametrize("text", ["color()", "lab(50% 1 1)", "color(xyz 0 0 0)", "no-colour", "rgb(1 2)"])
def test_what_makes_no_colour_here_is_none(text):
    assert colour(text) is None
