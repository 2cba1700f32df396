"""What is told of one piece of art: what of it was not used, at the field that asks for it."""

import pytest

from engine.artwork import Drawing, Note, read_artwork
from engine.job import read_job
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged
from engine.outcome.faults import unused
from tests.artwork.pictures import encoded, svg
from tests.artwork.test_raster import marked
from tests.job.documents import DRAWING, KNOWN, LEAST, PICTURE, put

FILES = {DRAWING: svg('<text>seed</text><rect width="9" height="9"/>'), PICTURE: encoded(marked())}


def told(asset, **tone):
    """Pointer and code of each note on the least job's art, read as the plan reads it."""
    document = put(LEAST, "/artwork/0/asset", asset)
    document = put(document, "/artwork/0/tone", tone["tone"]) if tone else document
    (item,) = read_job(document, known=KNOWN).items
    findings = unused(read_artwork(FILES[asset], tone=item.tone), item)
    assert {f.severity for f in findings} <= {Severity.NOTE}
    return [(f.where.pointer, f.code) for f in findings]


@pytest.mark.parametrize("tone", [{"threshold": 40}, {"invert": True}, {"threshold": "auto"}, {}])
def test_a_tone_given_for_a_drawing_is_told_where_it_stands(tone):
    assert told(DRAWING, tone=tone) == [("/artwork/0/asset", "text"), ("/artwork/0/tone", "tone")]


def test_no_tone_given_or_one_that_is_used_is_not_told():
    assert told(DRAWING) == [("/artwork/0/asset", "text")]
    assert told(PICTURE, tone={"threshold": 40}) == []
    assert told(PICTURE) == [("/artwork/0/tone", "threshold")]


@pytest.mark.parametrize(
    ("where", "advice"), [("file", ""), ("", ""), ("line 12", "first at line 12"), ("tone/threshold", "")]
)
def test_a_place_in_the_file_is_told_where_a_person_can_go_to_it(where, advice):
    (item,) = read_job(LEAST, known=KNOWN).items
    nothing = Ragged.of([])
    art = Drawing(
        width_mm=1,
        height_mm=1,
        rings=nothing,
        lines=nothing,
        notes=(Note(code="x", message="is left out", where=where),),
    )
    (found,) = unused(art, item)
    assert found.advice == advice
