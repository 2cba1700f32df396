"""A drawing of another program and an edited photograph on their way into a job: what is asked, told and used."""

import numpy as np
import pytest
from PIL import Image

from engine.job import Known, read_job
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


def test_a_drawing_without_a_unit_is_a_question_at_its_own_field() -> None:
    data = dxf(circle(0, 0, 1.5), unit=None)
    none, told = pieces(data, marking={"style": "outline"})
    assert not none
    assert list(told) == ["/artwork/0/drawing/unit"]
    (piece,), told = pieces(data, marking={"style": "outline"}, drawing={"unit": "cm"}, placement={"x_mm": 45})
    assert np.ptp(piece.laid.x_mm) == pytest.approx(30, rel=1e-3)
    assert not told


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
