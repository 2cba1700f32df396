"""Every bad end of a task as a problem."""

import pytest

from server.failures import failure
from server.workers.desk import Task
from tests.server.test_supervisor import FATES

WORDS = {"message": "it took too long", "where": "", "hint": "", "declared": False}
BUSY = {"Crashed", "Left", "Stopped", "WorkerFault"}
SPENT = {"CpuTime", "MemoryError"}


def refused(error, **given):
    task = Task(id="1", user="a", digest="d", request=b"", assets={}, state="failed", error=error)
    problem = failure(task, doing="Measuring", **given)
    return problem.status_code, problem.document()


@pytest.mark.parametrize("kind", [None, "WallTime", *sorted({*FATES.values()} - {"FaultyError"})])
def test_what_no_person_did_wrong_is_told_by_its_status(kind):
    status, told = refused(None if kind is None else WORDS | {"type": kind})
    assert status == (503 if kind in BUSY | {None} else 413 if kind in SPENT | {"WallTime"} else 500)
    assert ("Measuring was stopped: it took too long" in told["detail"]) == (status == 413)


@pytest.mark.parametrize(("where", "pointer"), [("/blank", "/job/blank"), ("path row 3", "/job"), ("", "/job")])
def test_what_the_engine_declares_is_told_with_its_place(where, pointer):
    status, told = refused(
        WORDS | {"type": "BlankError", "declared": True, "where": where, "hint": "less"}, below="/job"
    )
    assert (status, told["errors"]) == (422, [{"pointer": pointer, "given": None, "allowed": "it took too long: less"}])
