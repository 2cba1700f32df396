"""The tree of errors: one root, a place and a hint; a job's error holds every problem."""

import inspect

import pytest

from engine.kernel import errors
from engine.kernel.errors import ArtworkError, EngineError, JobError, Problem, TooBigError

KINDS = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, EngineError)]


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind is not JobError])
def test_every_error_says_where_what_and_what_to_do(kind):
    error = kind("too deep", where="/depth_mm", hint="less")
    assert (error.message, error.where, error.hint) == ("too deep", "/depth_mm", "less")
    usual = " (make it simpler, or part it in several)" if kind is TooBigError else ""
    assert str(error) == "/depth_mm: too deep (less)" and str(kind("too deep")) == "too deep" + usual


def test_the_tree_drawn_in_the_module_is_the_tree_there_is():
    drawn = {line.split()[0].split("(")[0]: len(line) - len(line.lstrip()) for line in errors.__doc__.splitlines()
             if line.split() and line.split()[0].split("(")[0].endswith("Error")}  # fmt: skip
    depth = {kind.__name__: 2 * (len(kind.__mro__) - len(EngineError.__mro__)) for kind in KINDS}
    assert drawn == depth
    assert set(errors.__all__) == set(depth) | {"Problem"}
    assert issubclass(TooBigError, ArtworkError)


def test_a_jobs_error_holds_every_problem_and_speaks_of_the_first():
    problems = [Problem(pointer=f"/{k}", given=k, allowed="less") for k in range(3)]
    error = JobError(problems)
    assert error.problems == tuple(problems) and str(error) == "/0: less and 2 more"
    assert str(JobError(problems[:1])) == "/0: less"
