"""A job's photographs as they will be engraved, and the card of steps that tells what a tool and a material give."""

import asyncio
from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import JSONResponse, Response

import engine
from server.bodies import json_body, json_documented, wrong
from server.failures import failure
from server.headers import disposition
from server.house import TheHouse
from server.problems import Fault, Problem
from server.workers.wire import BYTES, load_arrays

__all__ = ["router"]

router = APIRouter(tags=["pictures"])


@router.post(
    "/picture",
    response_class=Response,
    openapi_extra=json_documented("{job: a job document, artwork: the number of a piece of art that is a picture}"),
)
async def show_picture(request: Request, house: TheHouse) -> Response:
    """PNG of what the marking is given of a picture: edited, toned, a pixel for each place that can be engraved."""
    body = await json_body(request)
    if not isinstance(body, Mapping) or set(body) != {"job", "artwork"}:
        raise wrong("", None, "an object {job, artwork}, no other field")
    index = body["artwork"]
    if isinstance(index, bool) or not isinstance(index, int):
        raise wrong("/artwork", None, "a whole number from 0")
    task = await house.submit({"do": "picture", "job": body["job"], "artwork": index}, below="/job")
    await house.end_of(task, request)
    result = await asyncio.to_thread(house.planners.desk.result, task)
    if result is None:
        raise failure(task, doing="The picture", below="/job")
    arrays = await asyncio.to_thread(load_arrays, result.npz)
    return Response(arrays[f"{BYTES}picture"].tobytes(), media_type="image/png")


@router.get("/tone-card.png", response_class=Response)
def get_card(steps: Annotated[int, Query(ge=2, le=64)] = 16) -> Response:
    """A card of steps from bare skin to all dark: artwork like any other, to be cut and photographed."""
    headers = {"Content-Disposition": disposition(f"tone-card-{steps}.png")}
    return Response(engine.card_png(steps), media_type="image/png", headers=headers)


@router.post("/tone-card", openapi_extra=json_documented("{asset: a photograph, picture: its crop and turn, steps}"))
async def read_card(request: Request, house: TheHouse) -> JSONResponse:
    """What each step of a card that was cut asked and gave: {steps}, ready for a picture's `response`."""
    try:
        task = await house.read_card(await json_body(request))
    except engine.JobError as exc:
        raise Problem(422, "invalid", errors=[Fault(p.pointer, p.given, p.allowed) for p in exc.problems]) from None
    await house.end_of(task, request)
    if task.state != "done":
        raise failure(task, doing="The card")
    return JSONResponse(task.value)
