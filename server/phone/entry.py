"""Who may come in at the phone's door, and the photograph that a request carries."""

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException
from starlette.requests import Request

from server.hosts import authority, origin
from server.phone.limits import PhoneLimits
from server.problems import Problem

__all__ = ["Message", "Receive", "Scope", "Send", "headers_of", "photograph", "refuse_foreign"]

Scope = dict[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Headers = dict[bytes, list[bytes]]

_BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")  # JPEG (ITU-T T.81, B.1), PNG (ISO/IEC 15948, 5.2)
_KINDS = (b"image/jpeg", b"image/png", b"application/octet-stream")
_NO_PICTURE = "Send a JPEG or PNG photograph. A phone that makes HEIC has a setting for the most compatible format."


def headers_of(scope: Scope) -> Headers:
    """A request's headers, each with every value that it came with."""
    headers: Headers = {}
    for name, value in scope["headers"]:
        headers.setdefault(name.lower(), []).append(value)
    return headers


def refuse_foreign(scope: Scope, headers: Headers, host: tuple[str, int]) -> None:
    """A problem where Host is not exactly the door's, or the request was made by another page."""
    hosts = headers.get(b"host", [])
    if len(hosts) != 1:
        raise Problem(400, "request", detail="Send exactly one Host header.")
    try:
        ours = authority(hosts[0]) == host
    except ValueError:
        raise Problem(400, "host") from None
    if not ours:
        raise Problem(421, "host")
    given = headers.get(b"origin", [])
    if given or scope["method"] == "POST":
        try:
            same = len(given) == 1 and origin(given[0]) == ("http", *host)
        except ValueError:
            same = False
        if not same:
            raise Problem(403, "origin")
    site = headers.get(b"sec-fetch-site", [b"none"])
    if scope["method"] == "POST" and site[0] != b"same-origin" and b"sec-fetch-site" in headers:
        raise Problem(403, "origin")


async def photograph(scope: Scope, headers: Headers, receive: Receive, limits: PhoneLimits, most: int) -> bytes:
    """The one picture of a request, as its body or in a form; a problem where it is none, too large or too slow."""
    kind = headers.get(b"content-type", [b""])[0].split(b";")[0].strip().lower()
    form = kind == b"multipart/form-data"
    if b"content-encoding" in headers or (kind not in _KINDS and not form):
        raise Problem(415, "media-type", detail=_NO_PICTURE)
    length = headers.get(b"content-length", [b"0"])[0]
    if (b"content-length" in headers and b"transfer-encoding" in headers) or not length.isdigit() or len(length) > 15:
        raise Problem(400, "request")
    if int(length) > most:
        raise _too_large(most)
    data = await _body(receive, most, limits.body_s)
    if form:
        data = await _in_form(scope, data)
    if not data.startswith(_BEGINNINGS):
        raise Problem(415, "artwork", detail=_NO_PICTURE)
    return data


async def _body(receive: Receive, most: int, within_s: float) -> bytes:
    pieces, size = [], 0
    try:
        async with asyncio.timeout(within_s):
            while True:
                message = await receive()
                if message["type"] != "http.request":  # the phone has left
                    raise Problem(400, "request", headers={"Connection": "close"})
                pieces.append(message.get("body", b""))
                size += len(pieces[-1])
                if size > most:
                    raise _too_large(most)
                if not message.get("more_body", False):
                    return b"".join(pieces)
    except TimeoutError:
        raise Problem(408, "slow", headers={"Connection": "close"}) from None


async def _in_form(scope: Scope, data: bytes) -> bytes:
    async def replay() -> Message:
        return {"type": "http.request", "body": data, "more_body": False}

    try:
        async with Request(scope, replay).form(max_files=1, max_fields=4) as form:
            files = [part for _, part in form.multi_items() if isinstance(part, UploadFile)]
            return await files[0].read() if files else b""
    except MultiPartException:
        raise Problem(400, "request", detail="Send one photograph in the form.") from None


def _too_large(most: int) -> Problem:
    detail = f"At most {most} bytes are taken here."
    return Problem(413, "too-large", detail=detail, headers={"Connection": "close"})
