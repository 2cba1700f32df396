"""The setup sheet's text, without a browser: what a job of several tools says beside that of one."""

import json
import re

import engine
from server.templates import sheet_html
from tests.arranged import art, planned
from tests.test_tools import ASSETS, KNOWN, job_of


def text_of(plan):
    report = json.loads(json.dumps(plan.report, default=dict))
    html = sheet_html(plan.sheet, report, version="0", alone=True)
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_each_tool_stands_on_it_with_its_strokes_and_its_zero():
    plan = engine.plan(job_of(), ASSETS)
    told = text_of(plan)
    for k, tool in enumerate(plan.report["tools"], 1):
        assert f"Tool {k} {tool['id']}:" in told
        assert f"strokes {tool['from_stroke']} to {tool['to_stroke']}" in told
        assert f"{tool['rpm']:.0f} rev/min" in told
    assert "The program stops once for another tool" in told
    assert f"cone-60: {plan.report['tools'][1]['touch_off']['first']['words']}" in told


def test_one_tool_alone_is_just_the_tool_and_a_style_has_its_own_name():
    document = job_of().document
    art = [piece | {"marking": {"style": "v-depth"}} for piece in document["artwork"][1:]]
    told = text_of(engine.plan(engine.read_job({**document, "artwork": art}, known=KNOWN), ASSETS))
    assert "Tool cone-60: cone" in told and "for another tool" not in told
    assert " v-depth " in told


def test_copies_of_a_piece_are_one_row():
    plan = planned(art("disc", 30.0, 10.0, repeat={"times": 7, "step_mm": 1.0}), art("square", 60.0))
    assert [len(piece["places"]) for piece in plan.sheet["art"]] == [7, 1]
    told = text_of(plan)
    assert "30 mm, 10°; 7 copies, the next at 31 mm, 61.429°" in told and told.count("copies") == 1


def test_each_piece_of_art_is_called_as_everywhere_and_written_as_text():
    words = art("disc", 30.0) | {"text": {"string": "<b>Beet</b> & chard\nplot 7", "size_mm": 4}}
    del words["asset"]
    border = art({"kind": "line"}, 75)
    plan = planned(words, border, art("disc", 60.0), art("square", 80.0, name="tile"))
    assert [piece["name"] for piece in plan.sheet["art"]] == ["<b>Beet</b> & chard", "line border", "art 3", "tile"]
    assert [piece["name"] for piece in plan.preview_meta["arts"]] == [piece["name"] for piece in plan.sheet["art"]]
    html = sheet_html(plan.sheet, json.loads(json.dumps(plan.report, default=dict)), version="0", alone=True)
    assert "<td>&lt;b&gt;Beet&lt;/b&gt; &amp; chard</td>" in html and "<b>Beet" not in html
    assert "<td>line border</td>" in html and "<td>art 3</td>" in html
