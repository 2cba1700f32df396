"""Every refusal as one shape: an RFC 9457 problem document, `application/problem+json`.

{type, title, status, detail, instance, errors: [{pointer, given, allowed}]}. What was sent is never repeated: `given`
is a number, a short plain word, or a description of the kind of thing. `pointer` is RFC 6901 into the body; for a query
or header value it is "" and `parameter` says which.
"""

import errno
import json
import logging
import math
import re
import sqlite3
import uuid
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import Response

__all__ = ["MEDIA", "Fault", "Problem", "install", "key_step", "of_exception", "shown"]

log = logging.getLogger("roundwright")
MEDIA = "application/problem+json"
_TOLD = 50  # faults: more than anybody mends before sending again
_WORD = re.compile(r"[A-Za-z0-9_.+-]{1,32}\Z")
_STEP = re.compile(r"[A-Za-z0-9_.-]{1,64}\Z")

# code: (title, what to do). The code is the last part of `type`; pages and scripts may rely on it.
KINDS: dict[str, tuple[str, str]] = {
    "host": ("This address is not ours", "Use the address that the server printed when it started."),
    "request": ("The request is malformed", "Send a plain HTTP/1.1 request."),
    "origin": ("The request came from another page", "Use the page that this server serves."),
    "json": ("The JSON cannot be taken", "Correct what is listed and send it again."),
    "invalid": ("The document is not valid", "Correct each field listed and send it again."),
    "media-type": ("This kind of body is not taken", "Send application/json, or a file as multipart/form-data."),
    "artwork": ("This file cannot be used", "Send a picture, a drawing or a measured grid."),
    "too-large": ("The body is too large", "Send less; the limit is stated."),
    "stale": ("Someone saved in between", "Load the newer version, then keep yours, take theirs or save a copy."),
    "if-match": ("Say which version you are changing", "Send If-Match with the ETag you last saw."),
    "taken": ("This name is taken", "Choose another name, or change the entry that has it."),
    "not-found": ("Nothing is here", "It may have been deleted, or the address is mistyped."),
    "method": ("This address does not do that", "See the Allow header for what it does."),
    "not-finished": ("The plan is not finished", "Wait for its end, then ask again."),
    "forbidden-program": ("The plan's findings forbid a program", "Mend the errors listed, then plan again."),
    "full": ("The disk is full", "Free some space; nothing was changed."),
    "slow-down": ("Enough of your plans are under way", "Try again after the time in Retry-After."),
    "too-often": ("Too many requests", "Wait for the time in Retry-After, then go on."),
    "busy": ("The server is busy", "Try again after the time in Retry-After."),
    "slow": ("The request came too slowly", "Try again on a better line."),
    "internal": ("The server failed", "Nothing was changed. Give the number below to whoever looks after it."),
}
_CODE_OF = {
    400: "request",
    403: "origin",
    404: "not-found",
    405: "method",
    408: "slow",
    412: "stale",
    413: "too-large",
    415: "media-type",
    422: "invalid",
    428: "if-match",
    429: "slow-down",
    503: "busy",
    507: "full",
}


class Fault(NamedTuple):
    """One thing wrong with one place of the body."""

    pointer: str
    given: object
    allowed: str


class Problem(HTTPException):
    """A refusal, raised anywhere; `more` are further members of the document."""

    def __init__(
        self,
        status: int,
        code: str,
        *,
        detail: str | None = None,
        errors: Iterable[Fault | dict[str, object]] = (),
        headers: Mapping[str, str] | None = None,
        more: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(status_code=status, detail=detail or KINDS[code][1], headers=dict(headers or {}))
        self.code, self.errors, self.more = code, list(errors), dict(more or {})

    def document(self) -> dict[str, object]:
        """The RFC 9457 object; `errors` is cut at 50 and then says how many more there were."""
        told = [e._asdict() if isinstance(e, Fault) else e for e in self.errors[:_TOLD]]
        body: dict[str, object] = {
            "type": f"/problems/{self.code}",
            "title": KINDS[self.code][0],
            "status": self.status_code,
            "detail": self.detail,
            "instance": f"urn:uuid:{uuid.uuid4()}",
            "errors": told,
        }
        if len(self.errors) > _TOLD:
            body["errors_left_out"] = len(self.errors) - _TOLD
        return body | self.more

    def response(self) -> Response:
        """The document as a response."""
        return Response(json.dumps(self.document(), allow_nan=False), self.status_code, dict(self.headers or {}), MEDIA)


def key_step(key: str) -> str:
    """One RFC 6901 step. A key that is no plain word is not repeated: it becomes `/*`."""
    return "/" + key if _STEP.match(key) else "/*"


def shown(value: object) -> object:
    """What may be told of a value: numbers and short plain words as they are, else the kind of thing."""
    if value is None or isinstance(value, bool):
        return "null" if value is None else str(value).lower()
    if isinstance(value, int):
        return value if abs(value) < 2**53 else "a very large integer"
    if isinstance(value, float):
        return value if math.isfinite(value) else "a number that is not finite"
    if isinstance(value, str):
        return value if _WORD.match(value) else f"text of {len(value)} characters"
    if isinstance(value, Mapping):
        return f"an object of {len(value)} fields"
    return f"a list of {len(value)} items" if isinstance(value, list | tuple) else "something else"


_ALLOWED = {
    "missing": "this field is needed",
    "int_parsing": "a whole number",
    "float_parsing": "a number",
    "greater_than_equal": "at least {ge}",
    "less_than_equal": "at most {le}",
    "greater_than": "more than {gt}",
    "literal_error": "{expected}",
    "string_pattern_mismatch": "text of the form {pattern}",
}


def _parameter_fault(error: Mapping[str, Any]) -> dict[str, object]:
    """One validation error of a path, query or header value."""
    template = _ALLOWED.get(error["type"], error["type"].replace("_", " "))
    allowed = template.format(**(error.get("ctx") or {}))
    given = "nothing" if error["type"] == "missing" else shown(error.get("input"))
    place, *rest = (str(part) for part in error["loc"])
    fault: dict[str, object] = dict(Fault("", given, allowed)._asdict())
    return fault | {"parameter": {"in": place, "name": rest[0] if rest else ""}}


def of_exception(exc: Exception) -> Problem:
    """Any exception as a problem. Only ours keep their words; the rest becomes a numbered 500."""
    if isinstance(exc, Problem):
        return exc
    if isinstance(exc, RequestValidationError):
        return Problem(422, "invalid", errors=[_parameter_fault(e) for e in exc.errors()])
    if isinstance(exc, HTTPException):
        code = _CODE_OF.get(exc.status_code, "request" if exc.status_code < 500 else "internal")
        return Problem(exc.status_code, code, headers=exc.headers)  # its own words may hold input: never told
    if _is_full(exc):
        return Problem(507, "full")
    return Problem(500, "internal")


def _is_full(exc: Exception) -> bool:
    """Whether a disk had no room: nothing was changed, and all is well again once it has."""
    if isinstance(exc, sqlite3.OperationalError):
        code: int = getattr(exc, "sqlite_errorcode", 0) & 0xFF  # the extended codes keep the kind in the low byte
        return code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)
    return isinstance(exc, OSError) and exc.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))


def install(app: FastAPI) -> None:
    """Put the one handler in the place of every default."""

    async def handler(request: Request, exc: Exception) -> Response:
        problem = of_exception(exc)
        response = problem.response()
        if problem.status_code >= 500 and problem.code == "internal":
            log.error("failed: %s", type(exc).__name__, exc_info=exc)
        return response

    for kind in (HTTPException, RequestValidationError, sqlite3.OperationalError, OSError, Exception):
        app.add_exception_handler(kind, handler)
