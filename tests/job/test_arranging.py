"""Copies, borders and frames in the document: where each copy lies, and every fault at its own field."""

from copy import deepcopy

import pytest

from engine.job import read_job
from engine.job.arranging import MOST_PIECES
from engine.kernel.errors import JobError
from tests.job.documents import KNOWN, LEAST

CIRCLE = {"border": {"kind": "wave"}, "placement": {"x_mm": 20}, "depth_mm": 0.2}
FRAME = {"border": {"kind": "line", "along": "frame", "around": 0}, "depth_mm": 0.2}


def job(*more, **changed):
    """The least job with its art changed, and more art behind it."""
    doc = deepcopy(LEAST)
    doc["artwork"][0] |= changed
    doc["artwork"] += deepcopy(more)
    return read_job(doc, known=KNOWN)


def refused(*more, **changed):
    with pytest.raises(JobError) as caught:
        job(*more, **changed)
    return [(problem.pointer, problem.allowed) for problem in caught.value.problems]


def places(items):
    return [(i.placement.x_mm, i.placement.angle_deg, i.placement.mirror, i.placement.turn_deg) for i in items]


def test_copies_stand_evenly_round_and_are_numbered_through_the_job():
    made = job({**CIRCLE}, repeat={"times": 3})
    assert places(made.items) == [(45, 0, False, 0), (45, 120, False, 0), (45, 240, False, 0), (20, 0, False, 0)]
    assert [(i.index, i.copy, i.piece_index) for i in made.items] == [(0, 0, 0), (0, 1, 1), (0, 2, 2), (1, 0, 3)]
    assert dict(made.defaults)["/artwork/0/repeat/every_deg"] == 120
    assert {i.fits for i in made.items} == {0}


def test_copies_may_climb_and_alternate_with_their_mirror_images():
    placement = {"x_mm": 10, "angle_deg": 5, "turn_deg": 30, "width_mm": 4}
    made = job(placement=placement, repeat={"times": 3, "every_deg": -20, "step_mm": 2.5, "mirror": "alternate"})
    assert places(made.items) == [(10, 5, False, 30), (12.5, -15, True, -30), (15, -35, False, 30)]


def test_each_copy_is_seen_by_an_eye_of_its_own():
    placement = {"x_mm": 40, "angle_deg": 10, "projection": "from-view", "eye": {"x_mm": 50, "angle_deg": 25}}
    made = job(placement=placement, repeat={"times": 3, "every_deg": 90, "step_mm": 2, "mirror": "alternate"})
    assert [(i.placement.eye.x_mm, i.placement.eye.angle_deg) for i in made.items] == [(50, 25), (52, 85), (54, 205)]


def test_without_repeat_nothing_is_changed_and_no_default_is_told():
    made = job()
    assert [(i.copy, i.copies_before, i.piece_index) for i in made.items] == [(0, 0, 0)]
    assert not [place for place, _ in made.defaults if "repeat" in place or "border" in place]


def test_a_fitted_piece_says_how_many_of_it_meet():
    made = job(placement={"x_mm": 45}, repeat={"times": 7, "fit": True})
    assert [i.fits for i in made.items] == [7] * 7


def test_a_frame_lies_where_its_piece_and_each_of_its_copies_lie():
    placement = {"x_mm": 40, "angle_deg": 10, "width_mm": 8, "turn_deg": 15, "mirror": True, "projection": "conformal"}
    made = job({**FRAME}, placement=placement, repeat={"times": 2, "every_deg": 90})
    frames = [item for item in made.items if item.border is not None]
    assert places(frames) == [(40, 10, False, 15), (40, 100, False, 15)]
    assert {(i.around, i.placement.width_mm, i.placement.projection.value) for i in frames} == {(0, None, "conformal")}
    assert [i.copy for i in frames] == [0, 1] and [i.piece_index for i in made.items] == [0, 1, 2, 3]
    assert not [place for place, _ in made.defaults if place.startswith("/artwork/1/placement")]


SOURCES = "an asset or a text or a border, one of them"
WRONG = [
    ({"repeat": {"times": 1}}, "/artwork/0/repeat/times", "2 or more"),
    ({"repeat": {"times": MOST_PIECES + 1}}, "/artwork/0/repeat/times", f"{MOST_PIECES} or less"),
    ({"repeat": {"times": 2.5}}, "/artwork/0/repeat/times", "a whole number"),
    ({"repeat": {"times": 4, "every_deg": 90, "fit": True}}, "/artwork/0/repeat/fit", "once round"),
    ({"repeat": {"times": 4, "step_mm": 1, "fit": True}}, "/artwork/0/repeat/fit", "once round"),
    ({"repeat": {"times": 5, "mirror": "alternate", "fit": True}}, "/artwork/0/repeat/fit", "an even number"),
    ({"repeat": {"times": 4, "fit": True}}, "/artwork/0/placement/width_mm", "no width"),
    (
        {"repeat": {"times": 4, "fit": True}, "placement": {"x_mm": 45, "turn_deg": 90}},
        "/artwork/0/placement/turn_deg",
        "0 or 180",
    ),
    ({"repeat": {"times": 4, "mirror": "both"}}, "/artwork/0/repeat/mirror", "one of"),
    ({"border": {"kind": "wave"}}, "/artwork/0/asset", SOURCES),
    ({"asset": None}, "/artwork/0/asset", "or border"),
]


@pytest.mark.parametrize(("change", "place", "words"), WRONG)
def test_what_is_wrong_with_a_piece_is_told_at_its_field(change, place, words):
    told = refused(**change)
    assert [where for where, _ in told] == [place] and words in told[0][1]


BORDERS = [
    ({"kind": "chain"}, {}, "/border/kind", "one of"),
    ({"kind": "line", "times": 4}, {}, "/border/times", "no motifs"),
    ({"kind": "wave", "around": 0}, {}, "/border/around", "round the blank"),
    ({"kind": "wave", "margin_mm": 2}, {}, "/border/margin_mm", "only a frame"),
    ({"kind": "wave", "corner_mm": 2}, {}, "/border/corner_mm", "only a frame"),
    ({"kind": "wave", "height_mm": 0}, {}, "/border/height_mm", "or more"),
    ({"kind": "wave"}, {"placement": {"x_mm": 20, "width_mm": 9}}, "/placement/width_mm", "girth"),
    ({"kind": "wave"}, {"placement": {"x_mm": 20, "height_mm": 9}}, "/placement/height_mm", "girth"),
    ({"kind": "wave"}, {"placement": {"x_mm": 20, "turn_deg": 1}}, "/placement/turn_deg", "lies level"),
    ({"kind": "wave"}, {"placement": {"x_mm": 20, "projection": "true-width"}}, "/placement/projection", "closes"),
    ({"kind": "wave"}, {"repeat": {"times": 2, "fit": True}}, "/repeat/fit", "by itself"),
    ({"kind": "wave"}, {"placement": None}, "/placement", "an object"),
    ({"kind": "wave", "along": "frame"}, {"placement": None}, "/border/around", "from 0"),
    ({"kind": "wave", "along": "frame", "around": 1}, {}, "/border/around", "no border itself"),
    ({"kind": "wave", "along": "frame", "around": 9}, {}, "/border/around", "no border itself"),
    ({"kind": "rope", "along": "frame", "around": 0, "corner_mm": 1}, {}, "/border/corner_mm", "half of height_mm"),
    ({"kind": "wave", "along": "frame", "around": 0}, {"placement": {"x_mm": 1}}, "/placement", "a frame lies"),
    ({"kind": "wave", "along": "frame", "around": 0}, {"repeat": {"times": 2}}, "/repeat", "every copy"),
]


@pytest.mark.parametrize(("border", "change", "place", "words"), BORDERS)
def test_what_is_wrong_with_a_border_is_told_at_its_field(border, change, place, words):
    item = (FRAME if border.get("along") == "frame" else CIRCLE) | {"border": border} | change
    told = refused({name: value for name, value in item.items() if value is not None or name != "around"})
    assert ("/artwork/1" + place) in [where for where, _ in told]
    assert words in dict(told)["/artwork/1" + place]


def test_a_border_that_is_nowhere_is_asked_where_it_goes():
    told = refused({"border": {"kind": "rope"}, "depth_mm": 0.2})
    assert told == [("/artwork/1/placement", "this field is needed")]


def test_more_pieces_than_a_plan_can_hold_are_refused_where_they_pass_it():
    many = {"times": MOST_PIECES}
    assert refused(CIRCLE, repeat=many)[0][0] == "/artwork/1/border"
    assert refused(CIRCLE | {"repeat": {"times": 2}}, repeat=many)[0][0] == "/artwork/1/repeat/times"
    assert refused(FRAME, repeat={"times": MOST_PIECES // 2 + 1})[0][0] == "/artwork/1/border"
    assert len(job(FRAME, repeat={"times": MOST_PIECES // 2}).items) == MOST_PIECES
