"""Why a task has come to nothing, as the one problem shape."""

from server.bodies import wrong
from server.problems import Problem
from server.workers.desk import Task
from server.workers.supervisor import LOST, SPENT

__all__ = ["failure"]


def failure(task: Task, *, doing: str, below: str = "") -> Problem:
    """422 with the place in the body where the engine says why, 413 where it took too much, 503 where its worker was
    lost or its result is not kept, else 500.

    below : pointer of the engine's document in the body.
    """
    error = task.error or {}
    kind = error.get("type")
    if error.get("declared"):
        where, hint = str(error.get("where", "")), str(error.get("hint", ""))
        return wrong(
            below + where if where.startswith("/") else below, None, f"{error['message']}{hint and f': {hint}'}"
        )
    if kind is None or kind in LOST:
        return Problem(503, "busy", headers={"Retry-After": "5"})
    if kind in SPENT:
        detail = f"{doing} was stopped: {error.get('message', '')}. Send less, or smaller files."
        return Problem(413, "too-large", detail=detail)
    return Problem(500, "internal")
