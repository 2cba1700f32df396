"""What the phone's door serves: one page with its files, its state, and a place to put photographs.

A whole ASGI application of its own. Nothing of the main server is reachable through it: whatever does not lie below the
token's address is answered by 404, and below it there are six addresses.
"""

import asyncio
import json
import logging
import re
from collections.abc import Awaitable, Callable

from starlette.responses import Response

from server.headers import dressed
from server.phone.entry import Message, Receive, Scope, Send, headers_of, photograph, refuse_foreign
from server.phone.limits import PhoneLimits
from server.phone.pace import Pace
from server.phone.pages import FILES, phone_file, phone_html
from server.phone.session import Session
from server.problems import Problem, of_exception
from server.store import Asset

__all__ = ["Doorway", "Keep"]

log = logging.getLogger("roundwright")
Keep = Callable[[bytes], Awaitable[Asset]]
_PATH = re.compile(r"/p/([A-Za-z0-9_-]{20,128})(?:/([a-z0-9./]{0,40}))?\Z")
_PHOTO = re.compile(r"photo/([1-9][0-9]?)\Z")


class Doorway:
    """The application for one session. host : the door's own (host, port); keep : looks at a picture and stores it."""

    def __init__(
        self, session: Session, *, host: tuple[str, int], keep: Keep, limits: PhoneLimits, upload_bytes: int
    ) -> None:
        self._session, self._host, self._keep, self._limits, self._most = session, host, keep, limits, upload_bytes
        self._strangers = Pace(burst=limits.strangers_burst, per_s=limits.strangers_per_s)
        self._phone = Pace(burst=limits.phone_burst, per_s=limits.phone_per_s)
        self._coming = 0
        self.last_s = asyncio.get_running_loop().time()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            return

        async def dressing(message: Message) -> None:
            if message["type"] == "http.response.start":
                laid = dressed(list(message.get("headers", [])), "", message["status"])
                message = {**message, "headers": laid}
            elif message["type"] == "http.response.body" and scope["method"] == "HEAD":
                message = {**message, "body": b""}
            await send(message)

        try:
            response = await self._answer(scope, receive)
        except Exception as exc:  # as the main server does: ours keep their words, the rest is a numbered 500
            problem = of_exception(exc)
            if problem.code == "internal":
                log.error("failed: %s", type(exc).__name__, exc_info=exc)
            response = problem.response()
        await response(scope, receive, dressing)

    async def _answer(self, scope: Scope, receive: Receive) -> Response:
        headers = headers_of(scope)
        refuse_foreign(scope, headers, self._host)
        below = self._admitted(scope)
        method = "GET" if scope["method"] == "HEAD" else scope["method"]
        photo = _PHOTO.match(below)
        if photo:
            if method != "POST":
                raise Problem(405, "method", headers={"Allow": "POST"})
            return await self._take(int(photo[1]), scope, receive)
        if below not in ("", "state", *FILES):
            raise Problem(404, "not-found")
        if method != "GET":
            raise Problem(405, "method", headers={"Allow": "GET, HEAD"})
        if below == "state":
            return _json(self._session.for_phone(), 200)
        if below:
            return Response(phone_file(below), media_type=FILES[below])
        self._session.arrive()
        page = phone_html(f"/p/{self._session.token}", most_bytes=self._most)
        return Response(page, media_type="text/html; charset=utf-8")

    def _admitted(self, scope: Scope) -> str:
        """What lies below the token's address; 404 without the token, 429 where it comes too often."""
        target = scope.get("raw_path") or scope["path"].encode()
        if len(target) + len(scope["query_string"]) > self._limits.target_bytes:
            raise Problem(400, "request")
        path = _PATH.match(scope["path"])
        ours = path is not None and self._session.admits(path[1])
        now_s = asyncio.get_running_loop().time()
        wait_s = (self._phone if ours else self._strangers).wait_s(now_s)
        if wait_s:
            raise Problem(429, "too-often", headers={"Retry-After": str(wait_s)})
        if path is None or not ours:
            raise Problem(404, "not-found")
        self.last_s = now_s
        return path[2] or ""

    async def _take(self, number: int, scope: Scope, receive: Receive) -> Response:
        """Keep the photograph of a number: 201 and the state."""
        session, limits = self._session, self._limits
        if number > len(session.angles_deg):
            raise Problem(404, "not-found")
        if session.begun >= limits.sent:
            detail = "This page has taken as many photographs as it may: open it anew from the bench."
            raise Problem(429, "too-often", detail=detail, headers={"Retry-After": "600"})
        if self._coming >= limits.at_once:
            raise Problem(503, "busy", headers={"Retry-After": "2"})
        turn = session.begin()
        self._coming += 1
        try:
            data = await photograph(scope, headers_of(scope), receive, limits, self._most)
            session.keep(number, turn, await self._keep(data))
        finally:
            self._coming -= 1
            self.last_s = asyncio.get_running_loop().time()
        return _json(session.for_phone(), 201)


def _json(document: object, status: int) -> Response:
    return Response(json.dumps(document, allow_nan=False), status, media_type="application/json")
