"""What the routes share: the settings, the stores and the workers, and the few steps that join them."""

import asyncio
import os
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Request

import engine
from server.problems import Fault, Problem
from server.settings import Settings, own_version
from server.store import Assets, Database, Folder, Jobs, Library
from server.store.assets import asset_id
from server.workers.desk import BusyError, Task
from server.workers.supervisor import Pool, Supervisor

__all__ = ["House", "TheHouse", "named_assets"]

SHELVES = ("machines", "tools", "materials")
_ID = re.compile(r"[0-9a-f]{64}")
LOCAL = "local"  # the one user while the server answers on this machine alone


class House:
    """One running server's rooms. Made before the loop runs; `open` and `close` belong to the loop."""

    def __init__(self, settings: Settings) -> None:
        self.settings, self.version = settings, own_version()
        self._folder = Folder(settings.data)
        try:
            self.database = Database(settings.data / "roundwright.sqlite3")
        except OSError:
            self._folder.close()
            raise
        self.assets = Assets(self.database, settings.data / "assets", most_bytes=settings.limits.stored_bytes)
        self.jobs = Jobs(self.database)
        self.libraries = {name: Library(self.database, name) for name in SHELVES}
        self.open_job: str | None = None  # what the page opens with
        self._planners: Supervisor | None = None
        self._lookers: Supervisor | None = None

    def open(self) -> None:
        """Start the workers."""
        s = self.settings
        shared = Pool(
            entry=s.planner,
            version=self.version,
            folder=s.data / "planners",
            import_paths=(*s.import_paths, *(place for place in sys.path if place)),  # what we found, they find
            running=s.running or max(1, (os.cpu_count() or 2) - 1),
            spares=s.spares,
            limits=s.walls,
            extra_env=_compiled_where(s.data / "compiled"),
        )
        self._planners = Supervisor(shared)
        self._lookers = Supervisor(replace(shared, entry=s.looker, folder=s.data / "lookers", running=1, spares=0))
        self._lookers.start()
        self._planners.start()

    async def close(self) -> None:
        """Stop the workers, close the database, let the folder go."""
        for workers in (self._planners, self._lookers):
            if workers is not None:
                await workers.stop(drain_s=0.5)
        self.database.close()
        self._folder.close()

    @property
    def planners(self) -> Supervisor:
        """The workers that plan and prove."""
        if self._planners is None:
            raise RuntimeError("the house is not open")
        return self._planners

    @property
    def lookers(self) -> Supervisor:
        """The worker that looks at files."""
        if self._lookers is None:
            raise RuntimeError("the house is not open")
        return self._lookers

    def known(self, document: object) -> dict[str, Any]:
        """What a document may name: its assets that there are, by kind, and the shop's tools and machines."""
        return {
            "assets": self.assets.kinds(named_assets(document)),
            "tools": {entry.id: entry.value for entry in self.libraries["tools"].all()},
            "machines": {entry.id: entry.value for entry in self.libraries["machines"].all()},
        }

    def check(self, document: object, *, below: str = "") -> dict[str, Any]:
        """What the document may name, where it is a job; else a 422 problem with every fault.

        below : pointer of the document in the body.
        """
        known = self.known(document)
        try:
            engine.read_job(document, known=engine.Known(**known))
        except engine.JobError as exc:
            raise Problem(
                422, "invalid", errors=[Fault(below + p.pointer, p.given, p.allowed) for p in exc.problems]
            ) from None
        return known

    async def submit(self, request: Mapping[str, Any], *, below: str = "") -> Task:
        """Check a request's job and hand it to the workers with its assets; 429 or 503 where there is no room."""
        known = await asyncio.to_thread(self.check, request["job"], below=below)
        assets = await asyncio.to_thread(self._bytes_of, known["assets"])
        task = await _hand_in(self.planners, {**request, "known": known}, assets)
        task.asked = {"job": request["job"], "known": known}
        return task

    async def measure(self, way: str, body: object) -> Task:
        """Check what a measuring route was sent and hand it to the workers with its files.

        engine.JobError with every fault; 429 or 503 where there is no room.
        """
        known = await asyncio.to_thread(self.known, body)
        await asyncio.to_thread(engine.check_measure, way, body, known=engine.Known(**known))
        assets = await asyncio.to_thread(self._bytes_of, known["assets"])
        return await _hand_in(self.planners, {"do": "measure", "way": way, "body": body, "known": known}, assets)

    async def read_card(self, body: object) -> Task:
        """Hand a photograph of a card of steps to the workers. engine.JobError with every fault of the body."""
        document = engine.read(engine.CardDocument, body)
        known = await asyncio.to_thread(self.known, body)
        if known["assets"].get(document.asset) != "raster":
            allowed = "the id of a photograph that was uploaded"
            raise engine.JobError([engine.Problem(pointer="/asset", given=document.asset[:12], allowed=allowed)])
        assets = await asyncio.to_thread(self._bytes_of, known["assets"])
        return await _hand_in(self.planners, {"do": "card", "body": body}, assets)

    async def look_at(self, data: bytes) -> Task:
        """Have a file looked at."""
        return await _hand_in(self.lookers, {}, {asset_id(data): data})

    async def again(self, request: Mapping[str, Any], task: Task) -> Task:
        """Hand in another request about a plan's job."""
        assets = await asyncio.to_thread(self._bytes_of, task.asked["known"]["assets"])
        return await _hand_in(self.planners, {**request, **task.asked}, assets)

    async def end_of(self, task: Task, request: Request) -> None:
        """Wait for the end of a planners' task; it is ended where the one who asked for it leaves before."""
        waits = asyncio.create_task(task.ended()), asyncio.create_task(_left(request))
        try:
            await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for wait in waits:
                wait.cancel()
            await self.planners.cancel(task)  # nothing where it has ended

    def _bytes_of(self, names: Mapping[str, str]) -> dict[str, bytes]:
        return {name: self.assets.read(name) for name in sorted(names)}


async def _left(request: Request) -> None:
    """Wait until a client leaves whose body is read."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


def _compiled_where(folder: Path) -> dict[str, str]:
    """Where compiled loops are kept if not beside their source: a worker's own home is wiped with it."""
    if os.access(engine.__path__[0], os.W_OK):
        return {}
    folder.mkdir(exist_ok=True, mode=0o700)
    return {"NUMBA_CACHE_DIR": str(folder)}


async def _hand_in(workers: Supervisor, request: Mapping[str, Any], assets: Mapping[str, bytes]) -> Task:
    try:
        return await workers.submit(request, assets, user=LOCAL)
    except BusyError as busy:
        code = "slow-down" if busy.status == 429 else "busy"
        raise Problem(busy.status, code, headers={"Retry-After": str(busy.retry_after_s)}) from None


def named_assets(document: object) -> Iterator[str]:
    """Every text of a document that could be an asset's id; those that are none are found out later."""
    if isinstance(document, str):
        yield from [document] if _ID.fullmatch(document) else []
    elif isinstance(document, Mapping):
        for held in document.values():
            yield from named_assets(held)
    elif isinstance(document, list):
        for held in document:
            yield from named_assets(held)


def _house(request: Request) -> House:
    house: House = request.app.state.house
    return house


TheHouse = Annotated[House, Depends(_house)]
