"""The tools of a job: each name looked up, each once in the order of use, the clearing one before the finer one."""

from dataclasses import dataclass

import pytest

from engine.job import read_job
from engine.job.tools import in_order, style_of, tools_by_name, tools_of
from engine.kernel.errors import JobError
from engine.kernel.values import Tool
from engine.marking import Outline
from tests.job.documents import KNOWN, LEAST, put

A, B, C, D = (Tool(id=name) for name in "abcd")


def job_of(*tools, rpms=()):
    art = [LEAST["artwork"][0] | {"tool": tool} for tool in tools]
    for item, rpm in zip(art, rpms, strict=False):
        item["rpm"] = rpm
    own = [{"id": "a", "rpm_max": 10_000}, {"id": "b"}]
    return read_job(LEAST | {"artwork": art, "tools": own}, known=KNOWN)


def test_tools_come_once_each_as_the_art_names_them():
    job = job_of("b", "ball-1", "b", "a")
    assert [tool.id for tool in job.tools] == ["b", "ball-1", "a"]
    assert [item.tool.id for item in job.items] == ["b", "ball-1", "b", "a"]
    assert all(item.clearing is None and item.tools == (item.tool,) for item in job.items)


def test_each_tool_has_a_speed_of_its_own():
    job = job_of("b", "a", "b", rpms=(9000, 12_000, 8000))
    assert [job.rpm(tool) for tool in job.tools] == [8000, 10_000]
    assert [job.asked_rpms(tool) for tool in job.tools] == [(8000, 9000), (12_000,)]


def test_the_tool_of_art_that_names_none_is_the_jobs_first():
    job = read_job(put(LEAST, "/tools", [{"id": "b"}, {"id": "a"}]), known=KNOWN)
    assert [tool.id for tool in job.tools] == ["b"]


@pytest.mark.parametrize(
    ("used", "order"),
    [
        ([(A, None), (B, None), (A, None)], [A, B]),
        ([(A, B)], [B, A]),
        ([(A, A), (B, None)], [A, B]),
        ([(A, None), (B, C)], [A, C, B]),
        ([(B, A), (C, B)], [A, B, C]),
        ([(C, B), (B, A)], [A, B, C]),  # what clears for the one is cleared for by another
        ([(A, D), (B, D), (C, A)], [D, A, B, C]),
    ],
)
def test_what_clears_comes_first_and_the_rest_as_named(used, order):
    assert in_order(used) == (tuple(order), [])


def test_clearing_that_would_bring_a_tool_back_is_refused_with_its_place():
    order, (problem,) = in_order([(C, None), (A, B), (B, A)])
    assert order == () and problem.pointer == "/artwork/1/marking/clearing_tool" and problem.given == "b"


@dataclass
class Carving:
    """A marking that a clearing tool prepares, as its document is seen from here."""

    clearing_tool: str | None

    def value(self, tool, depth_mm, clearing=None):
        return tool, depth_mm, clearing


@dataclass
class Art:
    marking: object
    tool: str | None = None
    depth_mm: float = 0.2


def test_a_clearing_tool_is_looked_up_and_handed_to_the_marking():
    own, named = Art(Carving("b"), tool="a"), {"a": A, "b": B}
    assert tools_of(own, named, "c") == (A, B)
    assert style_of(own, (A, B)) == (A, 0.2, B)
    assert tools_of(Art(Carving(None)), named, "b") == (B, None)
    _, (problem,) = tools_by_name([], {"a": {}}, [Art(Carving("none"), tool="a")])
    assert problem.pointer == "/artwork/0/marking/clearing_tool" and problem.given == "none"


def test_a_marking_without_one_has_none():
    (item,) = read_job(put(LEAST, "/artwork/0/marking", {"style": "outline"}), known=KNOWN).items
    assert isinstance(item.style, Outline) and item.tools == (item.tool,)


def test_a_name_that_is_not_there_is_told():
    with pytest.raises(JobError) as told:
        job_of("a", "nothing")
    assert [problem.pointer for problem in told.value.problems] == ["/artwork/1/tool"]
