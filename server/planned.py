"""A plan as the API tells it, and what can be taken from its result."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any

from numpy.typing import NDArray

from server.problems import Problem
from server.workers.desk import Task
from server.workers.handle import Result
from server.workers.wire import BYTES, load_arrays

__all__ = ["Outcome", "finding_of", "plan_document"]


def plan_document(task: Task) -> dict[str, Any]:
    """{id, state, progress, stage, report}, and `error` where the plan failed."""
    plan = {"id": task.id, "state": task.state, "progress": task.progress, "stage": task.stage, "report": None}
    if task.state == "done":
        plan["report"] = task.value["report"]
    elif task.state == "failed":
        plan["error"] = {key: value for key, value in (task.error or {}).items() if isinstance(value, str)}
        plan["report"] = {"findings": [finding_of(task.error or {})]}
    return plan


def finding_of(error: Mapping[str, Any]) -> dict[str, Any]:
    """Why a plan failed, as a finding."""
    where = {"pointer": error["where"]} if str(error.get("where", "")).startswith("/") else {}
    return {
        "severity": "error",
        "code": re.sub(r"(?<=[a-z])(?=[A-Z])", "-", str(error.get("type", "Error"))).lower(),
        "message": error.get("message") or "the plan failed inside",
        "where": where,
        "advice": error.get("hint", ""),
    }


class Outcome:
    """A done plan's result."""

    def __init__(self, task: Task, result: Result) -> None:
        self._task, self._result = task, result
        self.value: Mapping[str, Any] = result.value

    @property
    def meta(self) -> Mapping[str, Any]:
        """What the previews need to know beside the arrays."""
        held: Mapping[str, Any] = self.value["meta"]
        return held

    @property
    def programs(self) -> Mapping[str, Mapping[str, str]]:
        """Check code and sha-256 of each program, by kind."""
        held: Mapping[str, Mapping[str, str]] = self.value["programs"]
        return held

    def refuse_where_forbidden(self, kind: str) -> None:
        """409 with the findings where the plan gives no such program."""
        if kind not in self.programs:
            raise self.refusal(kind)

    def refusal(self, kind: str) -> Problem:
        """409 with the findings; where one of them says why there is no such program, so does the detail."""
        findings = self.value["report"]["findings"]
        why = next((f["message"] for f in findings if f["code"] in (f"{kind}-withheld", "nothing-to-cut")), None)
        detail = None if why is None else f"{why[:1].upper()}{why[1:]}."
        return Problem(409, "forbidden-program", detail=detail, more={"findings": findings})

    def bytes_of(self, name: str) -> bytes:
        """The bytes of a program, by its kind, of the `picture` or the `difference`; 409 where there are none."""
        arrays = load_arrays(self._result.npz)
        if BYTES + name not in arrays:
            raise self.refusal(name)
        return arrays[BYTES + name].tobytes()

    def preview(self) -> dict[str, NDArray[Any]]:
        """What the previews draw."""
        return self.arrays_of(self._result.npz)

    @staticmethod
    def arrays_of(npz: bytes) -> dict[str, NDArray[Any]]:
        """What the previews draw, of a result's or a partial result's arrays."""
        return {name: array for name, array in load_arrays(npz).items() if not name.startswith(BYTES)}

    def file_name(self, kind: str, code: str) -> str:
        """Name of a program's file: the job's name in plain letters, the kind, the check code."""
        job = str(self.value["sheet"].get("job", "")) if isinstance(self.value["sheet"], Mapping) else ""
        plain = unicodedata.normalize("NFKD", job).encode("ascii", "ignore").decode("ascii").lower()
        stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "job"
        return f"{stem}-{kind}-{code}.ngc"
