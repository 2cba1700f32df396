"""Every sample job's whole program, line for line.

Exact on the platform that CI runs on; elsewhere the same lines, each number within one step of its last decimal (other
processors may round the last bit of a float another way). Refresh: python -m tests.golden.refresh
"""

import platform
import re
import sys

import pytest

import engine
from tests.golden.sample import FOLDER, NAMES, load
from tests.golden.text import golden, split

CI_PLATFORM = sys.platform == "linux" and platform.machine() == "x86_64"


@pytest.fixture(scope="module", params=NAMES)
def planned(request):
    job, assets = load(request.param)
    return request.param, engine.plan(job, assets)


def test_the_whole_program_is_the_golden_one(planned):
    name, plan = planned
    text, wanted = plan.programs["engrave"].text.decode("ascii"), golden(name)
    if CI_PLATFORM:
        assert text == wanted
        return
    lines, other = text.splitlines(), wanted.splitlines()
    assert len(lines) == len(other)
    for line, held in zip(lines, other, strict=True):
        if line.startswith("(") or line == held:
            continue
        (letters, numbers, steps), (held_letters, held_numbers, _) = split(line), split(held)
        assert letters == held_letters
        assert all(abs(a - b) <= step * 1.001 for a, b, step in zip(numbers, held_numbers, steps, strict=True))


def test_a_sample_comes_without_an_error_and_with_all_its_programs(planned):
    name, plan = planned
    assert [f.message for f in plan.findings if f.severity is engine.Severity.ERROR] == [], name
    assert set(plan.programs) == {"engrave", "air", "walk"}
    assert "looked-coarsely" not in {f.code for f in plan.findings}
    assert plan.report["fidelity"]["cut_on_art"] >= 0.99
    for text in (program.text.decode("ascii") for program in plan.programs.values()):
        assert "nan" not in text.lower().replace("maintenance", "")
        assert max(map(len, text.splitlines())) <= 256
        assert re.search(r"^\(check code: [0-9A-Z]{4}-[0-9A-Z]{4}\)$", text, re.MULTILINE)


def test_every_sample_says_why_it_is_hard():
    told = (FOLDER / "README.md").read_text("utf-8")
    for name in NAMES:
        assert f"`{name}/`" in told
