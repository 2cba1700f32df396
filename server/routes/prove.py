"""Prove any program text against a job; nothing is stored."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse

from server.bodies import json_body, json_documented, wrong
from server.failures import failure
from server.house import TheHouse
from server.problems import Fault, Problem
from server.settings import Limits

__all__ = ["router"]

router = APIRouter(tags=["prove"])


@router.post("/prove", openapi_extra=json_documented("{job: a job document, program: a program's text}"))
async def prove_program(request: Request, house: TheHouse) -> JSONResponse:
    """What a program would do to the job's blank: {findings, depth_mm, fidelity, ...}."""
    body = await json_body(request, free="/program")
    if not isinstance(body, Mapping):
        raise wrong("", "no object", "an object {job, program}")
    unknown = sorted(set(body) - {"job", "program"})
    if unknown:
        raise wrong("", "a field more", "the fields job and program, no other")
    if not isinstance(body.get("program"), str):
        raise wrong("/program", None, "the program's text")
    if "job" not in body:
        raise wrong("/job", None, "this field is needed")
    _refuse_too_long(body["program"], house.settings.limits)
    task = await house.submit({"do": "prove", "job": body["job"], "program": body["program"]}, below="/job")
    await house.end_of(task, request)
    if task.state != "done":
        raise failure(task, doing="Proving", below="/job")
    return JSONResponse(task.value)


def _refuse_too_long(program: str, limits: Limits) -> None:
    """413 where the text is longer than can be judged in time."""
    lines = max(program.count("\n"), program.count("\r"))  # a line ends in either or both
    for given, most, what in (
        (lines, limits.prove_lines, "lines"),
        (len(program), limits.prove_characters, "characters"),
    ):
        if given > most:
            detail = (
                f"Programs of up to {most:,} {what} are proved, this one has {given:,}. "
                "Prove it in parts, each with its own start and end, or make it shorter: a wider hatch, fewer passes."
            )
            fault = Fault("/program", given, f"at most {most} {what}")
            raise Problem(413, "too-large", detail=detail, errors=[fault])
