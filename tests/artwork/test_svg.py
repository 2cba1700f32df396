"""SVG files against resvg, an independent renderer: where it paints black, the drawing must hold ink."""

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.artwork import read_artwork
from tests.artwork.pictures import SIDE, check_rings, region, rendered, seen, svg

STAR = "M50 5 L79 91 L2 38 L98 38 L21 91 Z"


def drawn(body: str, attributes: str = 'width="400" height="400" viewBox="0 0 100 100"', prolog: str = "") -> bytes:
    """A file whose px divide the oracle's evenly: it rounds its picture's size to whole px before it scales."""
    return svg(body, attributes, prolog)


CASES = {
    "nonzero": drawn(f'<path d="{STAR}"/>'),
    "evenodd": drawn(f'<path d="{STAR}" fill-rule="evenodd"/>'),
    "two turns, one way": drawn('<path d="M10 10h80v80h-80z M30 30h40v40h-40z"/>'),
    "two turns, the other way": drawn('<path d="M10 10h80v80h-80z M30 30v40h40v-40z"/>'),
    "island in a hole": drawn('<path fill-rule="evenodd" d="M5 5h90v90h-90z M15 15h70v70h-70z M30 30h40v40h-40z"/>'),
    "curves": drawn('<path d="M10 50 C10 10 50 10 50 50 S90 90 90 50 Q90 20 70 20 T50 20 L40 80 Z"/>'),
    "relative curves": drawn('<path d="m10 50c0-40 40-40 40 0s40 40 40 0q0-30-20-30t-20 0l-10 60z"/>'),
    "arcs": drawn('<path d="M20 50 A30 20 30 1 0 80 50 A 30 20 30 0 1 20 50 Z M40 70 a10 10 0 1 1 .01 0z"/>'),
    "glued flags": drawn('<path d="M20 50a30 20 30 1160 0 30 20 30 01-60 0z"/>'),
    "arc too small": drawn('<path d="M20 50A5 3 20 0 1 80 50z"/>'),
    "numbers glued": drawn('<path d="M10-0L90.5.5.5 90.5ZM1e1 6e+1l3.e1-1e1 0 2.5e1z"/>'),
    "on after close": drawn('<path d="M10 10h30v30z l40 60 -20 10z"/>'),
    "axes": drawn('<path d="M10 10H80V40H60V80h-20v-30h-30z"/>'),
    "rect": drawn('<rect x="10" y="20" width="60" height="50"/>'),
    "round rect": drawn('<rect x="10" y="20" width="60" height="50" rx="15"/>'),
    "oval rect": drawn('<rect x="10" y="20" width="60" height="50" rx="25" ry="10"/>'),
    "too round rect": drawn('<rect x="10" y="20" width="60" height="50" rx="200" ry="10"/>'),
    "circle ellipse": drawn('<circle cx="30" cy="30" r="20"/><ellipse cx="60" cy="70" rx="30" ry="12"/>'),
    "per cent": drawn('<circle cx="50%" cy="50%" r="25%"/><rect x="5%" y="5%" width="20%" height="10%"/>'),
    "polygon": drawn('<polygon points="10,10 90,20 60,90 20,70"/><polyline points="60 10 95 10 95 60 7"/>'),
    "units": drawn(
        '<rect x="5mm" y="0.2in" width="1cm" height="12pt"/><rect x="2pc" y="60px" width="3em" height="2ex"/>'
    ),
    "transforms": drawn(
        '<g transform="translate(50,50) rotate(30)"><rect x="-20" y="-10" width="40" height="20"/></g>'
        '<rect width="10" height="10" transform="matrix(1 .5 -.2 2 70 10)"/>'
        '<rect width="20" height="10" transform="translate(10 80) skewX(20) scale(1.5,.5)"/>'
        '<rect x="70" y="70" width="10" height="10" transform="rotate(45 75 75)"/>'
        '<rect width="9" height="20" transform="skewY(-15),translate(8)"/>'
    ),
    "mirrored": drawn('<g transform="translate(100) scale(-1 1)"><path d="M10 10h60l-40 50z M15 15v10h10z"/></g>'),
    "use": drawn(
        '<defs><path id="leaf" d="M0 0q20 -20 40 0q-20 20 -40 0"/></defs><use href="#leaf" x="10" y="30"/>'
        '<use xlink:href="#leaf" transform="translate(60 60) rotate(60)"/>'
    ),
    "use of a group": drawn(
        '<g id="pair"><rect x="5" y="5" width="10" height="10"/><circle cx="30" cy="10" r="6"/></g>'
        '<use href="#pair" y="40"/><g transform="scale(2)"><use href="#pair" y="25"/></g>'
    ),
    "symbol": drawn(
        '<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="6"/></symbol>'
        '<use href="#s" x="10" y="10" width="40" height="30"/><use href="#s" x="60" y="50" width="20" height="40"/>'
    ),
    "nested svg": drawn(
        '<svg x="10" y="10" width="50" height="30" viewBox="0 0 20 20"><circle cx="10" cy="10" r="9"/></svg>'
        '<svg x="50" y="50" width="40" height="40" viewBox="0 0 20 10" preserveAspectRatio="xMinYMax slice">'
        '<rect width="12" height="9"/></svg>'
        '<svg x="5" y="60" width="30" height="20" viewBox="0 0 10 10" preserveAspectRatio="none">'
        '<circle cx="5" cy="5" r="5"/></svg>'
    ),
    "overflow": drawn(
        '<svg x="20" y="20" width="20" height="20" overflow="visible"><circle cx="20" cy="20" r="18"/></svg>'
    ),
    "off the sheet": drawn('<circle cx="90" cy="90" r="40"/><rect x="-50" y="-50" width="70" height="70"/>'),
    "view box": drawn('<circle cx="5" cy="5" r="5"/>', 'width="400" height="200" viewBox="-2 -2 14 14"'),
    "view box stretched": drawn(
        '<circle cx="5" cy="5" r="5"/>', 'width="400" height="200" viewBox="-2 -2 14 14" preserveAspectRatio="none"'
    ),
    "view box sliced": drawn(
        '<circle cx="5" cy="5" r="5"/>',
        'width="400" height="200" viewBox="-2 -2 14 14" preserveAspectRatio="xMaxYMin slice"',
    ),
    "no view box": drawn('<circle cx="1in" cy="50" r="40"/>', 'width="192" height="1.5in"'),
    "style sheet": drawn(
        "<style>/* c */ .off{fill:none} rect{fill:white} #keep{fill:black} g > circle{fill:none!important}"
        " g path:first-child{fill:#000}</style>"
        '<rect width="100" height="100"/><g><path fill="none" d="M5 5h20v20h-20z"/></g><rect id="keep" x="40"'
        ' y="40" width="20" height="20"/>'
        '<g><circle cx="80" cy="80" r="10" style="fill:black"/></g><rect class="off" id="keep2" x="70" y="5"'
        ' width="20" height="20"'
        ' style="fill:black"/>'
    ),
    "inherited": drawn(
        '<g fill="none"><rect x="5" y="5" width="30" height="30" fill="inherit"/><g style="fill:#000">'
        '<rect x="50" y="50" width="30" height="30"/><rect x="10" y="60" width="20" height="20" fill="inherit"/>'
        "</g></g>"
    ),
    "current colour": drawn(
        '<g color="white" fill="currentColor"><rect width="9" height="9"/><rect color="black" x="20" width="9"'
        ' height="9"/></g>'
    ),
    "light erases": drawn(
        '<rect x="10" y="10" width="80" height="80"/><circle cx="50" cy="50" r="30" fill="#fff"/>'
        '<circle cx="50" cy="50" r="15" fill="black"/><path d="M0 45h100v10h-100z" fill="white"/>'
    ),
    "page is black": drawn(
        '<rect width="100" height="100"/><path fill="white" d="M20 20h60v60h-60z M40 40h20v20h-20z"'
        ' fill-rule="evenodd"/>'
    ),
    "light stroke erases": drawn(
        '<rect x="10" y="10" width="80" height="80"/><path d="M20 80L50 20L80 80" fill="none" stroke="#fff"'
        ' stroke-width="8"/>'
        '<path d="M15 50H85" stroke="white" stroke-width="6" stroke-linecap="round" stroke-dasharray="10 12 4"'
        ' stroke-dashoffset="31"/>'
    ),
    "hidden": drawn(
        '<rect width="50" height="50" display="none"/><g visibility="hidden"><rect x="50" width="20" height="20"/>'
        '<rect x="20" y="60" width="30" height="20" visibility="visible"/></g><rect style="display:none"'
        ' width="9" height="90"/>'
    ),
    "clip": drawn(
        '<clipPath id="c"><circle cx="50" cy="50" r="30"/><rect x="10" y="10" width="20" height="20"/></clipPath>'
        '<g clip-path="url(#c)"><path d="M0 0h100v50h-100z M0 60h100v10h-100z"/></g>'
    ),
    "clip of a box": drawn(
        '<clipPath id="c" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".4"/></clipPath>'
        '<rect x="20" y="30" width="60" height="40" clip-path="url(#c)" transform="rotate(20 50 50)"/>'
    ),
    "clip of a clip": drawn(
        '<clipPath id="b"><rect x="0" y="0" width="60" height="100"/></clipPath>'
        '<clipPath id="c" clip-path="url(#b)"><use href="#o"/></clipPath><defs><circle id="o" cx="50" cy="50"'
        ' r="40"/></defs>'
        '<rect width="100" height="100" clip-path="url(#c)"/>'
    ),
    "clip even-odd": drawn(
        f'<clipPath id="c"><path clip-rule="evenodd" d="{STAR}"/></clipPath><rect width="100" height="100"'
        f' clip-path="url(#c)"/>'
    ),
    "switch": drawn(
        '<switch><g systemLanguage="xx"><rect width="50" height="50"/></g><circle cx="50" cy="50" r="20"/></switch>'
    ),
    "plain doctype": drawn(
        '<rect width="50" height="30"/>',
        prolog='<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n',
    ),
    "overlapping": drawn("".join(f'<circle cx="{10 + 8 * i}" cy="{50 + 20 * (i % 3)}" r="9"/>' for i in range(11))),
}


def shared(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> float:
    """Intersection over union of two pictures of ink."""
    return float(np.minimum(ours, theirs).sum() / np.maximum(ours, theirs).sum())


@pytest.mark.parametrize("name", CASES)
def test_ink_lies_where_an_independent_renderer_paints_black(name: str) -> None:
    drawing = read_artwork(CASES[name])
    check_rings(drawing)
    w, h = SIDE, round(SIDE * drawing.height_mm / drawing.width_mm)
    ours, theirs = seen(drawing, w, h), rendered(CASES[name], w, h)
    assert theirs.sum() > 0
    assert shared(ours, theirs) > 0.995
    # area alone, without the pixels' coarseness
    np.testing.assert_allclose(
        region(drawing.rings).area / (drawing.width_mm * drawing.height_mm), theirs.mean(), rtol=4e-3
    )


@pytest.mark.parametrize("extra", ["", 'stroke-dasharray="12 7 3 7" stroke-dashoffset="-4"'])
def test_a_dark_stroke_is_a_line_along_its_middle(extra: str) -> None:
    data = drawn(
        f'<g transform="translate(50 50) rotate(25) scale(1.2)"><path d="M-30 0C-30 -40 30 -40 30 0S0 30 0 10"'
        f' fill="none" '
        f'stroke="#000" stroke-width="2" {extra}/><circle r="35" fill="none" stroke="black"'
        f' stroke-width="2" {extra}/></g>'
    )
    drawing = read_artwork(data)
    assert not len(drawing.rings)
    ours = seen(drawing, SIDE, SIDE, stroke_mm=2 * 1.2 * 4)
    theirs = rendered(data, SIDE, SIDE)
    assert shared(ours, theirs) > 0.985  # dashes end where each one's reckoning of arc length puts them
    if not extra:
        assert (drawing.lines[1][0] == drawing.lines[1][-1]).all()
