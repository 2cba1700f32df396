"""`roundwright plan JOB.json -o DIR`: the same plan without a server.

Writes report.json, proof.png, sheet.html and, where no finding forbids it, program.ngc.
"""

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import engine
from server.job_file import JobFileError, in_one_line, read_job_file
from server.settings import Limits, own_version
from server.templates import sheet_html
from server.workers import heap

__all__ = ["run"]

DONE, FORBIDDEN, WRONG = 0, 1, 2


def run(job_path: Path, out: Path) -> int:
    """Plan the job of a file into a folder; gives the exit status."""
    heap.keep()
    try:
        if out.exists() and not out.is_dir():  # told before the time of a plan is spent
            return _wrong(f"{out}: not a folder; -o names the folder for the results")
        document, assets = read_job_file(job_path, Limits())
        known = engine.Known(assets={name: engine.describe(data).kind for name, data in assets.items()})
        job = engine.read_job(document, known=known)
        return _written(engine.plan(job, assets), out)
    except JobFileError as exc:
        return _wrong(str(exc))
    except engine.JobError as exc:
        return _wrong(*(f"{p.pointer or '(the document)'}: {p.allowed}{_given(p.given)}" for p in exc.problems))
    except engine.EngineError as exc:
        return _wrong(str(exc))
    except OSError as exc:
        return _wrong(in_one_line(exc))


def _written(plan: engine.Plan, out: Path) -> int:
    """Write what came of the plan and tell its findings; gives the exit status. OSError where it cannot be written."""
    out.mkdir(parents=True, exist_ok=True)
    report = json.loads(json.dumps(plan.report, default=dict))
    _write(out / "report.json", json.dumps(report, indent=2, sort_keys=True).encode() + b"\n")
    for name, picture in (("proof.png", plan.picture), ("difference.png", plan.difference)):
        if picture:
            _write(out / name, picture)
    if plan.sheet:
        _write(out / "sheet.html", sheet_html(plan.sheet, report, version=own_version(), alone=True).encode())
    _tell(report)
    try:
        program = plan.program()
    except engine.ProgramError:
        (out / "program.ngc").unlink(missing_ok=True)  # what lies there belongs to an earlier plan
        return FORBIDDEN
    _write(out / "program.ngc", program.text)
    sys.stdout.write(f"program.ngc  check code {program.check_code}\n")
    return DONE


def _given(given: object) -> str:
    return "" if given is None else f" (given: {given})"


def _wrong(*lines: str) -> int:
    sys.stderr.write("".join(f"roundwright: {line}\n" for line in lines))
    return WRONG


def _tell(report: Mapping[str, Any]) -> None:
    for finding in report.get("findings", []):
        sys.stdout.write(f"{finding['severity']}: {finding['message']}\n")


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(data)
        os.replace(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
