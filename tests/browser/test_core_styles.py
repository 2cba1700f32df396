"""What the page knows of marking styles and tools, beside the documents that the engine reads."""

from typing import get_args

import pytest

from engine.job.marking import MarkingDocument
from engine.marking import STYLES

DOCUMENTS = {
    get_args(model.model_fields["style"].annotation)[0]: model for model in get_args(get_args(MarkingDocument)[0])
}


def test_the_page_offers_every_style_and_every_field_of_it(core):
    told = core("styles", "m.STYLES")
    assert {one["id"] for one in told} == set(DOCUMENTS) == set(STYLES)
    for one in told:
        fields = {f["name"] for kind in ("choices", "numbers", "ticks") for f in one.get(kind, [])}
        fields |= {"clearing_tool"} if one.get("clears") else set()
        assert fields == set(DOCUMENTS[one["id"]].model_fields) - {"style"}, one["id"]


def test_choices_and_what_is_ticked_unasked_are_the_engines(core):
    for one in core("styles", "m.STYLES"):
        fields = DOCUMENTS[one["id"]].model_fields
        for choice in one.get("choices", []):
            field = fields[choice["name"]]
            assert [value for value, _ in choice["choices"]] == list(get_args(field.annotation)), choice["name"]
            assert field.default == choice["choices"][0][0]
        for tick in one.get("ticks", []):
            assert fields[tick["name"]].default is tick.get("usual", False)


def test_another_style_keeps_what_it_knows(core):
    marking = {"style": "hatch", "pitch_mm": 0.4, "lines": "helix", "crossed": True, "angle_deg": 30}
    assert core("styles", "m.restyled(given, 'halftone')", marking) == {
        "style": "halftone",
        "pitch_mm": 0.4,
        "lines": "helix",
        "angle_deg": 30,
    }
    assert core("styles", "m.restyled(given, 'rings')", marking) == {"style": "rings", "pitch_mm": 0.4}
    assert core("styles", "m.restyled(given, 'outline')", {"style": "hatch", "side": "up"}) == {"style": "outline"}


def job(*tools, own=()):
    art = [{"asset": str(k), **({"tool": name} if name else {})} for k, name in enumerate(tools)]
    return {"artwork": art, "tools": [{"id": name} for name in own]}


@pytest.mark.parametrize(
    ("doc", "index", "tool", "everywhere", "named", "kept"),
    [
        (job(None, None), 1, "ball", None, [None, None], ["ball"]),  # one tool cuts all: it is changed for all
        (job(None, "b", own="ab"), 1, "c", None, [None, "c"], ["a", "c"]),
        (job(None, "b", own="ab"), 0, "c", None, [None, "b"], ["c", "b"]),
        (job(None, "b", own="ab"), 1, "a", True, [None, None], ["a"]),
        (job(None, None, own="a"), 1, "a-2", False, [None, "a-2"], ["a", "a-2"]),
        (job(None, None), 1, "b", False, [None, "b"], ["cone-60", "b"]),  # the built-in tool stays that of the others
        (
            job("shop", None),
            1,
            "b",
            False,
            ["shop", None],
            ["b"],
        ),  # as does one of the shop's, which stands by its name
    ],
)
def test_a_tool_is_given_to_one_piece_or_to_all(core, doc, index, tool, everywhere, named, kept):
    given = {"doc": doc, "index": index, "tool": {"id": tool}, "all": everywhere}
    got = core("tools", "m.withTool(given.doc, given.index, given.tool, given.all ?? undefined)", given)
    assert [item.get("tool") for item in got["artwork"]] == named
    assert [one["id"] for one in got["tools"]] == kept
    found = core("tools", "m.toolIdOf(given.doc, given.index)", {"doc": got, "index": index})
    assert found == tool


def test_a_tool_of_its_own_has_an_id_of_its_own(core):
    doc = job(None, own=("ball", "ball-2"))
    assert core("tools", "[m.freshId(given, 'ball'), m.freshId(given, 'ball-2'), m.freshId(given, 'v')]", doc) == [
        "ball-3",
        "ball-3",
        "v-2",
    ]
