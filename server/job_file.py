"""A job file on disk: strict JSON whose assets may be paths relative to it."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from server.problems import Problem
from server.settings import Limits
from server.store.assets import asset_id
from server.strict_json import loads

__all__ = ["JobFileError", "in_one_line", "read_job_file"]


class JobFileError(Exception):
    """The file cannot be used; the message is for the person who named it."""


def read_job_file(path: Path, limits: Limits) -> tuple[Any, dict[str, bytes]]:
    """The document with each relative path replaced by its bytes' id, and those bytes by id.

    Raises JobFileError: no such file, no JSON, an asset's path that leads nowhere or out of the job's folder.
    """
    try:
        document = loads(path.read_bytes(), limits)
        return document, _beside(path, document)
    except OSError as exc:
        raise JobFileError(in_one_line(exc, path)) from exc
    except Problem as problem:
        faults = (f"{e.pointer}: {e.given}" for e in problem.errors if not isinstance(e, dict))
        words = "; ".join(fault.removeprefix(": ") for fault in faults)
        raise JobFileError(f"{path}: {words or problem.detail}") from None


def in_one_line(exc: OSError, path: Path | None = None) -> str:
    """An error of the system in one line: the file, and what is wrong with it."""
    place = exc.filename or path
    return f"{place}: {exc.strerror or 'cannot be used'}" if place else str(exc)


def _beside(path: Path, document: Any) -> dict[str, bytes]:
    """Bytes by id of the files that a document names; their ids are put in the place of their paths."""
    assets: dict[str, bytes] = {}
    for place, name in _places(document):
        file = path.parent / place[name]
        if not file.is_file():
            continue  # an id, or a mistake that the check of the document names
        if not file.resolve().is_relative_to(path.parent.resolve()):
            raise JobFileError(f"{place[name]}: an asset lies beside its job file or below it")
        data = file.read_bytes()
        place[name] = asset_id(data)
        assets[place[name]] = data
    return assets


def _places(document: Any) -> Iterator[tuple[dict[str, Any], str]]:
    """Every object of the document that may name an asset by its path, and the field that does."""
    if not isinstance(document, dict):
        return
    listed = document.get("artwork")
    artwork = [item for item in listed if isinstance(item, dict)] if isinstance(listed, list) else []
    named = [(place, "asset") for place in (document.get("blank"), *artwork)]
    for place, name in (*named, *((item.get("text"), "font") for item in artwork)):
        if isinstance(place, dict) and isinstance(place.get(name), str) and 0 < len(place[name]) < 1024:
            yield place, name
