"""A job file on disk: strict JSON whose assets may be paths relative to it."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from server.problems import Problem
from server.settings import Limits
from server.store.assets import asset_id
from server.strict_json import loads

__all__ = ["JobFileError", "read_job_file"]


class JobFileError(Exception):
    """The file cannot be used; the message is for the person who named it."""


def read_job_file(path: Path, limits: Limits) -> tuple[Any, dict[str, bytes]]:
    """The document with each relative path replaced by its bytes' id, and those bytes by id.

    Raises JobFileError: no such file, no JSON, an asset's path that leads nowhere or out of the job's folder.
    """
    try:
        document = loads(path.read_bytes(), limits)
    except OSError as exc:
        raise JobFileError(f"{path}: {exc.strerror or 'cannot be read'}") from exc
    except Problem as problem:
        faults = "; ".join(f"{e.pointer}: {e.given}" for e in problem.errors if not isinstance(e, dict))
        raise JobFileError(f"{path}: {faults or problem.detail}") from None
    assets: dict[str, bytes] = {}
    for place in _places(document):
        file = path.parent / place["asset"]
        if not file.is_file():
            continue  # an id, or a mistake that the check of the document names
        if not file.resolve().is_relative_to(path.parent.resolve()):
            raise JobFileError(f"{place['asset']}: an asset lies beside its job file or below it")
        data = file.read_bytes()
        place["asset"] = asset_id(data)
        assets[place["asset"]] = data
    return document, assets


def _places(document: Any) -> Iterator[dict[str, Any]]:
    """Every object of the document that may name an asset by its path."""
    if not isinstance(document, dict):
        return
    artwork = document.get("artwork")
    for place in (document.get("blank"), *(artwork if isinstance(artwork, list) else ())):
        if isinstance(place, dict) and isinstance(place.get("asset"), str) and 0 < len(place["asset"]) < 1024:
            yield place
