"""A drawing of another program and an edited photograph on their way into a job: what is asked, told and used."""

import numpy as np
import pytest
import shapely
from PIL import Image

from engine.job import Known, read_job
from engine.kernel.ragged import Ragged
from engine.kernel.tolerance import Tolerance
from engine.pieces import Piece, pieces_of
from engine.plan import silent
from tests.artwork.dxf_files import circle, dxf, line
from tests.artwork.pictures import encoded
from tests.job.documents import LEAST, put


def pieces(data: bytes, **fields: object) -> tuple[list[Piece], dict[str, str]]:
    """The pieces of a job with one piece of art, and what was found, by pointer."""
    name = "d" * 64
    kind = "raster" if data.startswith(b"\x89PNG") else "vector"
    art = LEAST["artwork"][0] | {"asset": name} | fields
    job = read_job(put(LEAST, "/artwork", [art]), known=Known(assets={name: kind}))
    found, findings = pieces_of(job, job.blank.skin({}), {name: data}, Tolerance(), silent)
    return found, {str(f.where.pointer): f.message for f in findings}


UNSIZED = {"x_mm": 45}


def runs(part: Ragged) -> list[shapely.LineString]:
    """Each run of flat lines."""
    return [shapely.LineString(run) for run in np.split(part.points, part.offsets[1:-1])]


def test_a_drawing_without_a_unit_or_a_size_is_a_question_at_its_own_field() -> None:
    data = dxf(circle(0, 0, 1.5), unit=None)
    none, told = pieces(data, marking={"style": "outline"}, placement=UNSIZED)
    assert not none
    assert list(told) == ["/artwork/0/drawing/unit"]
    (piece,), told = pieces(data, marking={"style": "outline"}, drawing={"unit": "cm"}, placement=UNSIZED)
    assert np.ptp(piece.laid.x_mm) == pytest.approx(30, rel=1e-3)
    assert not told


@pytest.mark.parametrize(
    "size",
    [
        {"placement": UNSIZED | {"width_mm": 30}},
        {"placement": UNSIZED | {"height_mm": 12}},
        {"placement": UNSIZED | {"width_mm": 30, "height_mm": 5}},
        {"placement": UNSIZED, "repeat": {"times": 3, "fit": True}},
    ],
)
@pytest.mark.parametrize("far", [1.0, 5000.0])
def test_a_drawing_without_a_unit_whose_size_is_said_is_laid_as_with_any_unit(
    size: dict[str, object], far: float
) -> None:
    parts = circle(0, 0, 1.5 * far), circle(4 * far, 1 * far, 0.5 * far), line(-2 * far, 0, 3 * far, far)
    silent_of_it, told = pieces(dxf(*parts, unit=None), marking={"style": "outline"}, **size)
    assert "/artwork/0/drawing/unit" not in told
    for unit in ("mm", "cm", "inch"):
        named, _ = pieces(dxf(*parts, unit=None), marking={"style": "outline"}, drawing={"unit": unit}, **size)
        assert len(named) == len(silent_of_it)
        for one, other in zip(silent_of_it, named, strict=True):
            lines, others = one.placed.drawing.lines, other.placed.drawing.lines
            assert len(lines) == len(others) == 3
            for ours, theirs in zip(runs(lines), runs(others), strict=True):
                assert shapely.hausdorff_distance(ours, theirs, densify=0.01) < 0.01


def test_layers_and_fills_are_those_of_the_job() -> None:
    data = dxf(circle(0, 0, 5, layer="beds"), line(-9, 0, 9, 0, layer="paths"))
    (piece,), _ = pieces(data, drawing={"layers": ["beds"], "fill_closed": True})
    assert len(piece.placed.drawing.rings) == 1
    assert not len(piece.placed.drawing.lines)
    none, told = pieces(data, drawing={"layers": ["hedges"]})
    assert not none
    assert "beds" not in told and list(told) == ["/artwork/0/drawing/layers"]


def test_a_photograph_is_edited_at_the_size_at_which_it_is_placed() -> None:
    grey = np.full((90, 120), 255, np.uint8)
    grey[30:60, 40:80] = 20
    data = encoded(Image.fromarray(grey))
    crop = {"crop": {"left": 1 / 3, "top": 1 / 3, "right": 2 / 3, "bottom": 2 / 3}}
    (whole,), _ = pieces(data)
    # the frame of the dark part alone: cropped to it and a little more, it is as wide as the placement says
    loose = {"crop": {"left": 0.25, "top": 0.25, "right": 0.75, "bottom": 0.75}}
    (part,), _ = pieces(data, picture=loose)
    ends = [np.ptp(piece.placed.drawing.rings.points, axis=0) for piece in (whole, part)]
    np.testing.assert_allclose(ends[0], [10, 7.5], rtol=0.02)
    np.testing.assert_allclose(ends[1], [20, 15], rtol=0.02)
    _, told = pieces(data, picture=crop)
    assert list(told) == ["/artwork/0/tone/threshold"]  # one grey is left of it


def test_what_is_not_for_the_kind_of_art_is_told() -> None:
    _, told = pieces(dxf(circle(0, 0, 5)), picture={"turn_deg": 5}, marking={"style": "outline"})
    assert "its edits are not used" in told["/artwork/0/picture"]
    lettering = {"text": {"string": "bean", "size_mm": 5}, "asset": None, "drawing": {"unit": "mm"}, "picture": {}}
    art = {key: value for key, value in (LEAST["artwork"][0] | lettering).items() if key != "asset"}
    job = read_job(put(LEAST, "/artwork", [art]), known=Known())
    _, findings = pieces_of(job, job.blank.skin({}), {}, Tolerance(), silent)
    assert {"/artwork/0/picture", "/artwork/0/drawing"} <= {str(f.where.pointer) for f in findings}
