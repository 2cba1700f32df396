"""Plans: ask for one, follow it, cancel it, and take what came of it."""

import asyncio
import json
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Header, Query, Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from server import arrays as packed
from server.bodies import JsonBody, json_documented, waiting_s
from server.event_stream import event_stream
from server.failures import failure
from server.headers import disposition
from server.house import House, TheHouse
from server.planned import Outcome, finding_of, plan_document
from server.problems import Problem
from server.templates import sheet_html
from server.workers.desk import FINAL, Task
from server.workers.wire import BYTES, load_arrays

__all__ = ["answer", "router"]

router = APIRouter(tags=["plans"])

Prefer = Annotated[str | None, Header(description="`wait=N`: answer with the finished plan if it ends in N seconds.")]


@router.post("/plan", status_code=202, openapi_extra=json_documented("A job document, roundwright.job/1."))
async def plan_document_given(house: TheHouse, document: JsonBody, prefer: Prefer = None) -> JSONResponse:
    """Plan a job without storing it."""
    return await answer(house, document, prefer)


async def answer(house: House, document: Any, prefer: str | None) -> JSONResponse:
    """Hand a job in: 202 and the plan, or 200 and the finished plan where the caller waits for it."""
    within_s = waiting_s(prefer, house.settings.limits.wait_s)
    task = await house.submit({"do": "plan", "job": document})
    if within_s is not None:
        try:
            await asyncio.wait_for(task.ended(), within_s)
        except TimeoutError:
            within_s = None
    headers = {"Location": f"/api/plans/{task.id}"}
    if within_s is not None:
        headers["Preference-Applied"] = f"wait={within_s:.0f}"
    return JSONResponse(plan_document(task), 202 if within_s is None else 200, headers)


def _task(plan: str, house: TheHouse) -> Task:
    task = house.planners.desk.tasks.get(plan)
    if task is None:
        raise Problem(404, "not-found", detail="There is no such plan, or it is forgotten: plan again.")
    return task


ThePlan = Annotated[Task, Depends(_task)]


@router.get("/plans/{plan}")
async def get_plan(task: ThePlan) -> JSONResponse:
    """The plan: its state and, once it is done, its report."""
    return JSONResponse(plan_document(task))


@router.delete("/plans/{plan}")
async def cancel_plan(task: ThePlan, house: TheHouse) -> JSONResponse:
    """Cancel a plan that has not ended; its processor is free when this answers."""
    await house.planners.cancel(task)
    return JSONResponse(plan_document(task))


@router.get("/plans/{plan}/events", response_class=StreamingResponse)
async def plan_events(task: ThePlan, house: TheHouse) -> StreamingResponse:
    """The plan as server-sent events, one at each change, to the end."""
    heartbeat_s = house.settings.limits.heartbeat_s
    return event_stream(task.changes, lambda: plan_document(task), heartbeat_s=heartbeat_s)


@router.get("/plans/{plan}/program")
async def get_program(
    request: Request,
    task: ThePlan,
    house: TheHouse,
    kind: Literal["engrave", "air", "walk"] = "engrave",
    from_stroke: Annotated[int | None, Query(ge=1)] = None,
) -> Response:
    """The machine program as text; `from_stroke` goes on from a stroke after a stop."""
    outcome = await _outcome(task, house)
    outcome.refuse_where_forbidden(kind)
    if from_stroke is None:
        text, code = outcome.bytes_of(kind), outcome.programs[kind]["check_code"]
        name = outcome.file_name(kind, code)
    else:
        text, code = await _resumed(request, task, house, kind, from_stroke)
        name = outcome.file_name(f"{kind}-from-{from_stroke}", code)
    headers = {"Content-Disposition": disposition(name), "Roundwright-Check-Code": code}
    return Response(text, media_type="text/plain; charset=us-ascii", headers=headers)


async def _resumed(request: Request, task: Task, house: House, kind: str, from_stroke: int) -> tuple[bytes, str]:
    """The rest of an engraving: planned again in a worker, since what a stroke needs does not travel."""
    wrong: dict[str, object] = {
        "pointer": "",
        "given": from_stroke,
        "allowed": "the number of a stroke of the engraving",
    }
    refusal = Problem(422, "invalid", errors=[wrong | {"parameter": {"in": "query", "name": "from_stroke"}}])
    if kind != "engrave":
        raise refusal
    asked = await house.again({"do": "resume", "from_stroke": from_stroke}, task)
    await house.end_of(asked, request)
    if asked.state != "done":
        error = asked.error or {}
        if error.get("type") == "ProgramError" and error.get("where") == "from_stroke":
            raise refusal
        if error.get("type") == "ProgramError":
            raise Problem(409, "forbidden-program", detail=error["message"], more={"findings": [finding_of(error)]})
        raise failure(asked, doing="Planning")
    result = await asyncio.to_thread(house.planners.desk.result, asked)
    if result is None:
        raise failure(asked, doing="Planning")
    held = Outcome(asked, result)
    return held.bytes_of("engrave"), str(result.value["check_code"])


@router.get("/plans/{plan}/paper.pdf", response_class=Response)
async def get_paper(request: Request, task: ThePlan, house: TheHouse, page: Literal["a4", "letter"] = "a4") -> Response:
    """The art at its true size on paper, to wrap round the blank and look at: one sleeve, or gores."""
    asked = await house.again({"do": "paper", "paper": page}, task)
    await house.end_of(asked, request)
    result = await asyncio.to_thread(house.planners.desk.result, asked)
    if result is None:
        raise failure(asked, doing="The pattern")
    arrays = await asyncio.to_thread(load_arrays, result.npz)
    headers = {"Content-Disposition": disposition(f"paper-pattern-{page}.pdf")}
    return Response(arrays[f"{BYTES}paper"].tobytes(), media_type="application/pdf", headers=headers)


@router.get("/plans/{plan}/strokes")
async def get_strokes(task: ThePlan, house: TheHouse, accept: Annotated[str | None, Header()] = None) -> Response:
    """What the previews draw: as soon as the strokes are known, and with more once the plan is done."""
    complete = task.state in FINAL or task.partial is None
    meta: Mapping[str, Any] = {}
    if complete:
        outcome = await _outcome(task, house)
        meta, held = outcome.meta, await asyncio.to_thread(outcome.preview)
    else:
        held = dict(await asyncio.to_thread(Outcome.arrays_of, task.partial or b""))
        told = held.pop("meta", None)  # what is told early travels as arrays alone
        meta = {} if told is None else json.loads(told.tobytes())
    plain = re.search(r"application/json", accept or "") is not None
    body = await asyncio.to_thread(packed.as_json if plain else packed.pack, meta, held)
    headers = {"Roundwright-Complete": "true" if complete else "false"}
    return Response(body, media_type="application/json" if plain else packed.MEDIA, headers=headers)


@router.get("/plans/{plan}/proof.png")
async def get_proof_picture(task: ThePlan, house: TheHouse) -> Response:
    """The simulated engraving, unwrapped."""
    outcome = await _outcome(task, house)
    return Response(outcome.bytes_of("picture"), media_type="image/png")


@router.get("/plans/{plan}/difference.png")
async def get_difference_picture(task: ThePlan, house: TheHouse) -> Response:
    """Where the simulated engraving opens the art (grey), what of the art is left (orange), what is cut beside it
    (blue).
    """
    outcome = await _outcome(task, house)
    return Response(outcome.bytes_of("difference"), media_type="image/png")


@router.get("/plans/{plan}/sheet")
async def get_sheet(task: ThePlan, house: TheHouse) -> Response:
    """The printable setup sheet."""
    outcome = await _outcome(task, house)
    if not outcome.value["sheet"]:
        raise outcome.refusal("engrave")
    sheet = sheet_html(outcome.value["sheet"], outcome.value["report"], version=house.version)
    return Response(sheet, media_type="text/html; charset=utf-8")


async def _outcome(task: Task, house: House) -> Outcome:
    """What came of a plan; 409 where it has not ended or ended without a result."""
    if task.state not in FINAL:
        raise Problem(409, "not-finished")
    if task.state != "done":
        findings = (plan_document(task)["report"] or {}).get("findings", [])
        detail = f"The plan has {'been cancelled' if task.state == 'cancelled' else 'failed'}: plan again."
        raise Problem(409, "forbidden-program", detail=detail, more={"findings": findings})
    result = await asyncio.to_thread(house.planners.desk.result, task)
    if result is None:
        raise Problem(404, "not-found", detail="This plan's result is not kept any more: plan again.")
    return Outcome(task, result)
