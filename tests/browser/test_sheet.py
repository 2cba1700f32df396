"""The setup sheet on paper: two pages at most, a drawing with measures, what a person needs beside the machine."""

import json
import re

import pytest

import engine
from server.templates import sheet_html
from tests.golden.sample import NAMES, load


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_takes_two_pages_at_most(browser, name):
    plan = engine.plan(*load(name))
    report = json.loads(json.dumps(plan.report, default=dict))
    with browser.new_context() as context:
        page = context.new_page()
        page.set_content(sheet_html(plan.sheet, report, version="0", alone=True))
        for paper in ("A4", "Letter"):
            assert len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(format=paper))) <= 2
        drawing = page.locator("svg.profile")
        measures = {text.text_content() for text in drawing.locator("text").all()}
        low, high = plan.sheet["profile"]["x_mm"][0], plan.sheet["profile"]["x_mm"][-1]
        art = plan.sheet["extent"]["x_mm"]
        assert {f"{x:.1f}" for x in (low, high, *art)} <= measures
        assert f"⌀ {2 * max(plan.sheet['profile']['greatest_r_mm']):.1f}" in measures
        told = page.locator("main").inner_text()
        for kind, code in plan.sheet["codes"].items():
            assert code in told, kind
        assert "as A grows the blank turns clockwise" in told and plan.sheet["made_for"] in told
