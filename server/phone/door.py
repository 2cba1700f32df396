"""The door itself: opened on an address of the local network, closed when asked, when idle and with the server."""

import asyncio
import contextlib
import io
import os
import socket
from collections.abc import Iterator, Sequence

import segno
import uvicorn

from server.hosts import authority
from server.phone.doorway import Doorway, Keep
from server.phone.limits import PhoneLimits
from server.phone.session import Session

__all__ = ["Door"]


class Door:
    """At most one session at a time; opening anew closes the one before. `open` and `close` belong to the loop."""

    def __init__(self, *, keep: Keep, limits: PhoneLimits, upload_bytes: int) -> None:
        self._keep, self._limits, self._upload_bytes = keep, limits, upload_bytes
        self._turn = asyncio.Lock()
        self._listener: _Listener | None = None
        self._serving: list[asyncio.Task[None]] = []
        self.session: Session | None = None
        self.url = ""

    async def open(self, angles_deg: Sequence[float], address: str) -> Session:
        """Listen on a free port of `address` for one phone. OSError where nothing can listen there."""
        async with self._turn:
            listening = _listen(address)  # what cannot be opened leaves the one before open
            await self._shut()
            port = listening.getsockname()[1]
            name = f"[{address}]" if ":" in address else address
            session = Session(angles_deg)
            doorway = Doorway(
                session,
                host=authority(f"{name}:{port}".encode("ascii")),
                keep=self._keep,
                limits=self._limits,
                upload_bytes=self._upload_bytes,
            )
            self._listener = listener = _Listener(_config(doorway, self._limits))
            self.session, self.url = session, f"http://{name}:{port}/p/{session.token}"
            self._serving = [asyncio.create_task(listener.serve(sockets=[listening]))]
            while not listener.started and not self._serving[0].done():
                await asyncio.sleep(0.01)
            self._serving.append(asyncio.create_task(self._close_when_idle(session, doorway)))
            return session

    async def close(self) -> None:
        """Close the door: when this returns, nothing listens any more."""
        async with self._turn:
            await self._shut()

    def qr_svg(self) -> str:
        """The address as a QR code (ISO/IEC 18004, level M) with its quiet zone, as an SVG document."""
        drawn = io.BytesIO()
        segno.make(self.url, error="m", micro=False).save(drawn, kind="svg", scale=6, border=4, light="#fff")
        return drawn.getvalue().decode("utf-8")

    async def _shut(self) -> None:
        session, listener = self.session, self._listener
        if session is None or listener is None:
            return
        serving, *watching = self._serving
        self._listener, self._serving, self.session, self.url = None, [], None, ""
        session.close()
        listener.should_exit = True
        for watch in watching:
            if watch is not asyncio.current_task():
                watch.cancel()
        await asyncio.wait([serving])

    async def _close_when_idle(self, session: Session, doorway: Doorway) -> None:
        clock = asyncio.get_running_loop()
        while (left_s := doorway.last_s + self._limits.idle_s - clock.time()) > 0.0:
            await asyncio.sleep(left_s)
        async with self._turn:
            if self.session is session:
                await self._shut()


class _Listener(uvicorn.Server):
    """A server that leaves the process's signals to the main one, which closes it."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def _config(doorway: Doorway, limits: PhoneLimits) -> uvicorn.Config:
    return uvicorn.Config(
        doorway,
        http="h11",
        ws="none",
        lifespan="off",
        log_config=None,
        access_log=False,  # the token stands in the path
        proxy_headers=False,
        server_header=False,
        limit_concurrency=limits.connections,
        timeout_keep_alive=65,
        timeout_graceful_shutdown=1,
    )


def _listen(address: str) -> socket.socket:
    listening = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, 0))
    except OSError:
        listening.close()
        raise
    return listening
