"""What a planning worker does with the engine: plans, goes on from a stroke, proves a text, measures.

`task(request, assets, *, tell)` takes a JSON request and bytes and gives a JSON value and arrays, as `serving`
says. Bytes that are no numbers (programs, the picture) travel as arrays under names that begin with `wire.BYTES`.
"""

import json
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

import engine
from server.workers.warm import least_job, let_the_cache_rest
from server.workers.wire import BYTES

__all__ = ["task", "warm"]

Tell = Callable[[str, float, Mapping[str, NDArray[Any]] | None], None]
Answer = tuple[Any, dict[str, NDArray[Any]]]


def warm() -> None:
    """Run every compiled loop once, so that no plan waits for a compiler."""
    let_the_cache_rest()
    for document, assets, kinds in least_job():
        request = {"do": "plan", "job": document, "known": {"assets": kinds, "tools": {}, "machines": {}}}
        task(request, assets, tell=lambda stage, progress, arrays: None)


def task(request: Mapping[str, Any], assets: Mapping[str, bytes], *, tell: Tell) -> Answer:
    """Do what `request["do"]` says."""
    return _DEEDS[request["do"]](request, assets, tell)


def _job(request: Mapping[str, Any]) -> engine.Job:
    return engine.read_job(request["job"], known=engine.Known(**request["known"]))


def _plan(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    plan = engine.plan(_job(request), assets, tell=tell)
    arrays = {name: np.asarray(array) for name, array in plan.preview.items()}
    programs = {}
    for kind, program in plan.programs.items():
        programs[kind] = {"check_code": program.check_code, "sha256": program.sha256}
        arrays[f"{BYTES}{kind}"] = _packed(program.text)
    for name, picture in (("picture", plan.picture), ("difference", plan.difference)):
        if picture:
            arrays[f"{BYTES}{name}"] = _packed(picture)
    value = {
        "report": _plain(plan.report),
        "meta": _plain(plan.preview_meta),
        "sheet": _plain(plan.sheet),
        "programs": programs,
    }
    return value, arrays


def _resume(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    program = engine.plan(_job(request), assets, tell=tell).program("engrave", from_stroke=request["from_stroke"])
    return {"check_code": program.check_code, "sha256": program.sha256}, {f"{BYTES}engrave": _packed(program.text)}


def _paper(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    return {}, {f"{BYTES}paper": _packed(engine.paper_pattern(_job(request), assets, paper=request["paper"]))}


def _prove(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    text = request["program"].encode("utf-8", "replace")
    return _plain(engine.prove_text(_job(request), assets, text)), {}


def _measure(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    known = engine.Known(**request["known"])
    answer = engine.measure(request["way"], request["body"], assets, known=known)
    held = {"table": answer.table, "text": None if answer.text is None else answer.text.encode()}
    return _plain(answer.value), {f"{BYTES}{name}": _packed(data) for name, data in held.items() if data is not None}


def _picture(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    return {}, {f"{BYTES}picture": _packed(engine.picture_shown(_job(request), request["artwork"], assets))}


def _card(request: Mapping[str, Any], assets: Mapping[str, bytes], tell: Tell) -> Answer:
    return {"steps": engine.read_card(engine.read(engine.CardDocument, request["body"]), assets)}, {}


_DEEDS: Mapping[str, Callable[[Mapping[str, Any], Mapping[str, bytes], Tell], Answer]] = {
    "plan": _plan,
    "resume": _resume,
    "prove": _prove,
    "paper": _paper,
    "measure": _measure,
    "picture": _picture,
    "card": _card,
}


def _packed(data: bytes) -> NDArray[np.uint8]:
    return np.frombuffer(data, np.uint8)


def _plain(value: Any) -> Any:
    """`value` as JSON knows it: mappings as objects, tuples as lists. TypeError where it is no JSON value."""
    return json.loads(json.dumps(value, default=_object, allow_nan=False))


def _object(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} is no JSON value")
