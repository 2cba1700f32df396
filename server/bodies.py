"""A request's JSON body, read strictly, and the small headers that several routes understand."""

import re
from typing import Annotated, Any

from fastapi import Depends, Header, Request

from server.problems import Fault, Problem
from server.settings import Limits
from server.strict_json import loads

__all__ = ["IfMatch", "JsonBody", "json_body", "json_documented", "unchanged", "waiting_s", "wrong"]


async def json_body(request: Request, *, free: str | None = None) -> Any:
    """The body as plain values; a 400 problem where it is no strict JSON."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        raise Problem(415, "media-type")
    return loads(await request.body(), _limits(request), free=free)


async def _plain(request: Request) -> Any:
    return await json_body(request)


JsonBody = Annotated[Any, Depends(_plain)]


def _limits(request: Request) -> Limits:
    limits: Limits = request.app.state.house.settings.limits
    return limits


def json_documented(what: str) -> dict[str, Any]:
    """What the API's own description says of a body that this module reads."""
    body = {"application/json": {"schema": {"type": "object", "description": what}}}
    return {"requestBody": {"required": True, "content": body}}


def _if_match(if_match: Annotated[str | None, Header()] = None) -> str:
    if if_match is None:
        raise Problem(428, "if-match")
    if not re.fullmatch(r'"[0-9a-f-]{1,64}"', if_match.strip()):
        raise Problem(412, "stale", detail="If-Match takes the one ETag that you last saw.")
    return if_match.strip()


IfMatch = Annotated[str, Depends(_if_match)]


def unchanged(if_none_match: str | None, etag: str) -> bool:
    """Whether If-None-Match names the version at hand; weak tags compare as strong ones (RFC 9110 13.1.2)."""
    tags = [tag.strip().removeprefix("W/") for tag in (if_none_match or "").split(",")]
    return "*" in tags or etag in tags


def waiting_s(prefer: str | None, most_s: float) -> float | None:
    """Seconds of `Prefer: wait=N` (RFC 7240 section 4.3), at most `most_s`; None where it is not asked for."""
    for choice in (prefer or "").split(","):
        name, _, value = choice.partition("=")
        if name.strip().lower() == "wait":
            text = value.partition(";")[0].strip()
            text = text[1:-1] if re.fullmatch(r'"[^"]*"', text) else text  # section 2: quoted or not is the same
            if not re.fullmatch(r"[0-9]{1,300}", text):
                fault = {"pointer": "", "given": "text", "allowed": "a whole number of seconds"}
                raise Problem(400, "request", errors=[fault | {"parameter": {"in": "header", "name": "Prefer"}}])
            return min(float(text), most_s)
    return None


def wrong(pointer: str, given: object, allowed: str) -> Problem:
    """One fault of a document as a 422 problem."""
    return Problem(422, "invalid", errors=[Fault(pointer, given, allowed)])
