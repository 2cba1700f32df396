"""Measuring: from what a person has at hand to a skin for a job. One route for each way; the engine says which."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from typing import Any, Literal

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, Response

import engine
from server.bodies import json_body, json_documented
from server.failures import failure
from server.headers import disposition
from server.house import House, TheHouse
from server.problems import Fault, Problem
from server.workers.wire import BYTES, load_arrays

__all__ = ["router"]

router = APIRouter(prefix="/measure", tags=["measure"])
TABLE = {"kind": "table", "media_type": "text/csv"}


def _route(name: str) -> Callable[[Request, TheHouse], Awaitable[Response]]:
    async def measure(request: Request, house: TheHouse) -> Response:
        value, arrays = await _measured(name, request, house)
        text = arrays.get(f"{BYTES}text")
        if text is not None and "application/json" not in request.headers.get("accept", ""):
            headers = {"Content-Disposition": disposition(f"{name}.ngc")}
            return Response(text.tobytes(), media_type="text/plain; charset=utf-8", headers=headers)
        if text is not None:
            value = {**value, "program": text.tobytes().decode()}
        table = arrays.get(f"{BYTES}table")
        if table is not None:
            await _keep(house, table.tobytes())
        return JSONResponse(value)

    return measure


for _name, _way in engine.WAYS.items():
    router.add_api_route(
        f"/{_name}",
        _route(_name),
        methods=["POST"],
        summary=_way.about,
        openapi_extra=json_documented(_way.about),
        name=f"measure_{_name}",
    )


@router.get("/card.svg", response_class=Response)
async def lens_card(paper: Literal["a4", "letter"] = "a4") -> Response:
    """The card to print, from photographs of which a lens is learnt; on A4 or Letter paper."""
    headers = {"Content-Disposition": disposition(f"lens-card-{paper}.svg")}
    return Response(engine.card_svg(paper), media_type="image/svg+xml", headers=headers)


async def _measured(name: str, request: Request, house: House) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """What the workers answer; a 422 problem with every fault of the body, or with what no skin can be made of."""
    try:
        task = await house.measure(name, await json_body(request))
    except engine.JobError as exc:
        raise Problem(422, "invalid", errors=[Fault(p.pointer, p.given, p.allowed) for p in exc.problems]) from None
    await house.end_of(task, request)
    result = await asyncio.to_thread(house.planners.desk.result, task)
    if result is not None:
        return result.value, await asyncio.to_thread(load_arrays, result.npz)
    raise failure(task, doing="Measuring")


async def _keep(house: House, table: bytes) -> None:
    facts = {"width": table.split(b"\n", 1)[0].count(b",") + 1, "height": table.count(b"\n") - 1, "has_size": False}
    try:
        await asyncio.to_thread(house.assets.add, table, **TABLE, facts=facts)
    except OSError:
        raise Problem(507, "full") from None
