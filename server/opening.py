"""Bringing a job file into the stores, for the page to open."""

import hashlib
from dataclasses import asdict
from pathlib import Path

import engine
from server.house import House
from server.job_file import JobFileError, read_job_file
from server.problems import Fault, Problem
from server.workers.wire import dump_json

__all__ = ["open_job_file"]


def open_job_file(house: House, path: Path) -> str:
    """Store the job of a file with its assets; gives the job's id. The same file again is the same job, as last saved.

    Raises JobFileError where the file is no good job.
    """
    document, assets = read_job_file(path, house.settings.limits)
    for data in assets.values():
        try:
            facts = asdict(engine.describe(data))
        except engine.EngineError as exc:
            raise JobFileError(f"{path}: {exc}") from exc
        kind, media_type = facts.pop("kind"), facts.pop("media_type")
        house.assets.add(data, kind=kind, media_type=media_type, facts=facts)
    try:
        house.check(document)
    except Problem as problem:
        faults = "; ".join(f"{e.pointer}: {e.allowed}" for e in problem.errors if isinstance(e, Fault))
        raise JobFileError(f"{path}: {faults}") from None
    origin = hashlib.sha256(dump_json(document)).hexdigest()
    saved = house.jobs.by_origin(origin) or house.jobs.create(document, origin=origin)
    return saved.id
