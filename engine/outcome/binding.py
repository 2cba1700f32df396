"""What binds a program to its job: a code of all that decides its moves, in the header, and what a text says of it.

Takes a job, and a program's text; gives the code, and findings where the text is not as it was written, or was written
for another state of the job. The names of job, art and machine and the acknowledgements are left out; what the blank is
of and how well it is known counts, for the proof speaks of it.
"""

import json
import re
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import Any

from engine.job import Job
from engine.kernel.findings import Finding, Severity, Where
from engine.program import check_code

__all__ = ["PLANNER", "job_code", "judge_binding", "made_for"]

PLANNER = 4  # raised whenever the same job gives other moves
_MADE_FOR = re.compile(rb"^\(made for: job ([0-9A-Z]{4}-[0-9A-Z]{4}), planner (\d+)\)$", re.MULTILINE | re.IGNORECASE)
_CHECK = re.compile(rb"^\(check code: ([0-9A-Z]{4}-[0-9A-Z]{4})\)\n", re.MULTILINE | re.IGNORECASE)


def job_code(job: Job) -> str:
    """Eight characters of the SHA-256 of the blank, the art as it is to be cut, the tool and the machine.

    What has its default value counts for nothing, so that a field which is new in a later version changes no code.
    """
    decides = {
        "blank": job.blank.model_dump(mode="json", exclude_defaults=True),
        "art": [_said(replace(item, name="")) for item in job.items],
        "machine": _said(replace(job.machine, name="")),
    }
    return check_code(json.dumps(decides, sort_keys=True, default=_plain).encode())


def made_for(job: Job) -> str:
    """The header's words."""
    return f"job {job_code(job)}, planner {PLANNER}"


def judge_binding(text: bytes, job: Job) -> list[Finding]:
    """`edited` and `stale`; nothing of a text that names no code: it is none of ours."""
    text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    found = []
    written = _CHECK.search(text)
    if written is not None and (now := check_code(text[written.end() :])) != (told := written[1].decode().upper()):
        message = f"the text is not as it was written: its check code is {told}, its lines give {now}"
        found.append(Finding(severity=Severity.NOTE, code="edited", message=message, where=_line(text, written)))
    made = _MADE_FOR.search(text)
    if made is not None and made_for(job) != f"job {made[1].decode().upper()}, planner {made[2].decode()}":
        code = made[1].decode().upper()
        message = f"the program was made for job {code} by planner {made[2].decode()}, this is {made_for(job)}"
        advice = "take the program of the job as it is now"
        where = _line(text, made)
        found.append(Finding(severity=Severity.WARNING, code="stale", message=message, where=where, advice=advice))
    return found


def _line(text: bytes, found: re.Match[bytes]) -> Where:
    return Where(line=text.count(b"\n", 0, found.start()) + 1)


def _said(value: Any) -> Any:
    """A value of ours as its kind and the fields that differ from their defaults; any other as it is."""
    if not is_dataclass(value):
        return value
    held = {part.name: (getattr(value, part.name), part.default) for part in fields(value)}
    said = {name: _said(given) for name, (given, default) in held.items() if given != default}
    return {"kind": type(value).__name__} | said


def _plain(value: object) -> object:
    return value.value if isinstance(value, Enum) else repr(value)
