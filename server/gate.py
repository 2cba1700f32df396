"""The gate: who may come in, with what, and with which headers every answer leaves.

An ASGI layer around everything, routing included. It looks at the Host (exactly one, one of ours), the Origin (none, or
exactly the Host's), the kind and size of the body, and lays the header tables over each response.
"""

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from server.headers import dressed
from server.hosts import authority, origin
from server.problems import Problem
from server.settings import Limits

__all__ = ["Gate"]

Scope = dict[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
SAFE = {"GET", "HEAD", "OPTIONS"}
UPLOADS = ("/api/assets",)
LONG_TEXTS = ("/api/prove",)


class Gate:
    """The layer. `hosts` are the (host, port) pairs that we answer to."""

    def __init__(
        self, app: Callable[..., Awaitable[None]], *, hosts: frozenset[tuple[str, int]], limits: Limits
    ) -> None:
        self._app, self._hosts, self._limits = app, hosts, limits

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        dressing = _Dressing(scope["path"], send)
        try:
            most = self._look(scope)
        except Problem as problem:
            await problem.response()(scope, receive, dressing)
            return
        body = _Body(receive, most, self._limits.body_s)
        if scope["method"] == "HEAD":  # every address that answers GET answers it too (RFC 9110, 9.3.2)
            await self._app({**scope, "method": "GET"}, body, _Head(dressing))
        else:
            await self._app(scope, body, dressing)

    def _look(self, scope: Scope) -> int:
        """Refuse what may not come in; gives the most bytes of the body."""
        headers: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value)
        host = self._host(headers)
        target = scope.get("raw_path") or scope["path"].encode()
        if not target.startswith(b"/") or len(target) + len(scope["query_string"]) > self._limits.target_bytes:
            raise Problem(400, "request")
        self._origin(scope, headers, host)
        return self._kind_and_size(scope, headers)

    def _host(self, headers: dict[bytes, list[bytes]]) -> tuple[str, int]:
        values = headers.get(b"host", [])
        if len(values) != 1:
            raise Problem(400, "request", detail="Send exactly one Host header.")
        try:
            host = authority(values[0])
        except ValueError:
            raise Problem(400, "host") from None
        if host not in self._hosts:
            raise Problem(421, "host")
        return host

    def _origin(self, scope: Scope, headers: dict[bytes, list[bytes]], host: tuple[str, int]) -> None:
        """A request with neither Cookie nor Origin is a script and is taken; an Origin must match Host exactly."""
        given = headers.get(b"origin", [])
        if given:
            try:
                same = len(given) == 1 and origin(given[0]) == (scope["scheme"], *host)
            except ValueError:
                same = False
            if not same:
                raise Problem(403, "origin")
        elif scope["method"] not in SAFE and b"cookie" in headers:
            raise Problem(403, "origin")
        site = headers.get(b"sec-fetch-site", [b"none"])
        if scope["path"].startswith("/api") and site[0] not in (b"same-origin", b"none"):
            raise Problem(403, "origin")

    def _kind_and_size(self, scope: Scope, headers: dict[bytes, list[bytes]]) -> int:
        limits, path = self._limits, scope["path"].rstrip("/")
        if b"transfer-encoding" in headers and b"content-length" in headers:
            raise Problem(400, "request", detail="Send either Content-Length or Transfer-Encoding.")
        if b"content-encoding" in headers:
            raise Problem(415, "media-type", detail="Send the body as it is, without Content-Encoding.")
        upload = path in UPLOADS
        most = limits.upload_bytes if upload else limits.prove_bytes if path in LONG_TEXTS else limits.json_bytes
        length = headers.get(b"content-length", [b"0"])[0]
        if not length.isdigit() or len(length) > 15:
            raise Problem(400, "request")
        if int(length) > most:
            raise Problem(413, "too-large", detail=f"At most {most} bytes are taken here.")
        carries = int(length) > 0 or b"transfer-encoding" in headers
        kind = headers.get(b"content-type", [b""])[0].split(b";")[0].strip().lower()
        if carries and kind != (b"multipart/form-data" if upload else b"application/json"):
            raise Problem(415, "media-type")
        return most


class _Body:
    """`receive` that counts bytes and time: neither the length stated nor the sender's pace is trusted."""

    def __init__(self, receive: Receive, most: int, within_s: float) -> None:
        self._receive, self._most, self._within_s = receive, most, within_s
        self._left, self._done, self._until_s = most, False, 0.0

    async def __call__(self) -> Message:
        if self._done:  # from here on it only tells of a client that leaves
            return await self._receive()
        clock = asyncio.get_running_loop()
        self._until_s = self._until_s or clock.time() + self._within_s
        try:
            async with asyncio.timeout_at(self._until_s):
                message = await self._receive()
        except TimeoutError:
            raise Problem(408, "slow", headers={"Connection": "close"}) from None
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            self._done = not message.get("more_body", False)
            if self._left < 0:
                detail = f"At most {self._most} bytes are taken here."
                raise Problem(413, "too-large", detail=detail, headers={"Connection": "close"})
        return message


class _Head:
    """`send` that ends a response after its headers, also one that would go on, as a stream of events does."""

    def __init__(self, send: Send) -> None:
        self._send = send

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            await self._send(message)
            await self._send({"type": "http.response.body", "body": b"", "more_body": False})


class _Dressing:
    """`send` that lays the header tables over a response."""

    def __init__(self, path: str, send: Send) -> None:
        self._path, self._send = path, send

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = dressed(list(message.get("headers", [])), self._path, message["status"])
            message = {**message, "headers": headers}
        await self._send(message)
