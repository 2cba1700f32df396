"""Documents changed at random places, and readings of any size: a job, or every problem in words that can be sent."""

import json
from copy import deepcopy

from hypothesis import given, settings
from hypothesis import strategies as st

from engine.job import read_job
from engine.kernel.errors import JobError
from tests.job.documents import FULL, KNOWN, LEAST, OVOID, PICTURE, TABLE, put


def places(value, at=""):
    yield at
    for key, held in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from places(held, f"{at}/{key}")


JUNK = st.sampled_from(
    [
        None, True, 0, -1, 1, 3, 64, 1e-9, -1e-300, 1e-300, 5e-324, 9999.5, 1e4, 1e5, 1e308, 10**30, 10**5000,
        float("nan"), float("inf"), "", "x", "auto", "cone", "grid", "outline", "bench", "\ud83e", "\x00", PICTURE,
        TABLE, [], {}, [[]], [None], {"x_mm": 1}, {"shape": "cone"}, {"shape": ["a"]}, {"style": "hatch"}, {"": ""},
        {"\udfff": 1}, {"profile": "bench"}, {"a": {"b": [{}]}}, ...,
    ]
)  # fmt: skip


def read_or_told(document):
    """Whether it is a job; else every problem points at a real place of the document, in words that can be sent."""
    try:
        job = read_job(document, known=KNOWN)
    except JobError as exc:
        told = exc
    else:
        json.dumps(job.defaults, allow_nan=False)
        return True
    real = set(places(document))
    for problem in told.problems:
        parent = problem.pointer.rpartition("/")[0]
        assert problem.allowed and (problem.pointer in real or parent in real), problem
        problem.pointer.encode()
        json.dumps(problem.given, allow_nan=False).encode()
    return False


@given(st.sampled_from([LEAST, FULL, LEAST | {"blank": OVOID}]), st.lists(st.tuples(st.integers(0), JUNK), max_size=3))
@settings(derandomize=True, deadline=None, max_examples=250)
def test_a_document_changed_anywhere_is_read_or_refused_in_its_own_words(document, changes):
    changed = deepcopy(document)
    for where, value in changes:
        ways = [place for place in places(changed) if place]
        if ways:
            changed = put(changed, ways[where % len(ways)], value)
    assert read_or_told(changed) or changes


LENGTHS = st.sampled_from([5e-324, 1e-300, 1e-9, 0.001, 0.0015, 1.0, 1e4]) | st.floats(0.001, 1e4) | st.floats(1, 100)


@given(st.tuples(LENGTHS, LENGTHS, st.one_of(LENGTHS, LENGTHS.map(lambda v: -v)), LENGTHS))
@settings(derandomize=True, deadline=None, max_examples=200)
def test_any_egg_that_can_be_written_is_read_or_told(egg):
    read_or_told(LEAST | {"blank": dict(zip(list(OVOID)[1:], egg, strict=True)) | {"shape": "ovoid"}})


@given(st.lists(st.tuples(LENGTHS, LENGTHS), min_size=2, max_size=8), st.booleans())
@settings(derandomize=True, deadline=None, max_examples=60)
def test_any_stations_that_can_be_written_are_read_or_told(readings, rising):
    rows = [{"x_mm": x, "diameter_mm": d} for x, d in (sorted(readings) if rising else readings)]
    read_or_told(LEAST | {"blank": {"shape": "stations", "stations": rows}})
