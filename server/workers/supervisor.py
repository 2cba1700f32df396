"""The worker supervisor: tasks run on warm processes, and whatever one of them does, the rest goes on.

    submit ──► Desk (queue, lanes, shelf) ───► a warm Handle ──► done | failed | cancelled
                                                 ▲    a spare is always warming, so a lost worker costs no wait
                                                 └── watch, 4 times a second: memory, CPU, stopped, late to get ready

A cancelled worker is asked to leave its task and killed where it has not done so in `grace_s`. It is replaced after a
kill, a crash, `tasks_each` tasks, and when it stays fat. All methods belong to one event loop; none blocks it.
"""

import asyncio
import contextlib
import logging
import shutil
import signal
import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server.workers import walls as w
from server.workers.desk import FINAL, Desk, Task
from server.workers.handle import Handle, Result
from server.workers.shelf import Shelf
from server.workers.wire import input_digest

__all__ = ["LOST", "SPENT", "Pool", "Supervisor"]

log = logging.getLogger("roundwright")
WATCH_S = 0.25  # short beside every limit it watches, and cheap; chosen by trial
STOPPED_LOOKS = 2  # seen stopped so many times in a row: a worker in trouble, not one in passing
# Types of a task's error that say that its worker was lost, not what the task itself came to.
LOST = frozenset({"Crashed", "Interrupted", "Killed", "Left", "Stopped", "WorkerFault"})
SPENT = frozenset({"CpuTime", "MemoryError", "WallTime"})  # that it asked for more than one task may have
FAILED_STARTS = 5  # so many workers in a row that never got ready: the house is broken, say so


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """How many, how long, where. `entry` is ``module:function`` on `import_paths`; `version` is the code's own.

    running : tasks at once, of short work as of long. spares : workers beside, for the other lane and in the place of a
    lost one; with none both lanes share.
    """

    entry: str
    version: str
    folder: Path
    import_paths: tuple[str, ...] = ()
    running: int = 1
    spares: int = 1
    queue: int = 16  # tasks that wait: a minute or two of small ones; chosen by trial
    share: int = 8  # of one user, waiting and running: half of the queue
    tasks_each: int = 200  # what leaks is gone before it tells; a warm-up in so many tasks costs nothing
    fat_bytes: int = 900 << 20  # 260 MB warm, 690 after 36 photographs, measured: what holds more has not given it back
    warm_up_s: float = 600.0  # the first start on a machine compiles every loop
    grace_s: float = 0.9  # most plans end by themselves in it, and a worker kept is a warm-up saved
    limits: w.Walls = field(default_factory=w.Walls)
    extra_env: Mapping[str, str] = field(default_factory=dict)


class Supervisor:
    """A pool of warm workers behind a `Desk`."""

    def __init__(self, pool: Pool) -> None:
        self._pool = pool
        self._rooms = pool.folder / "rooms"
        shutil.rmtree(self._rooms, ignore_errors=True)  # what a dead server left (one server per folder)
        self._rooms.mkdir(parents=True, mode=0o700)
        self.shelf = Shelf(pool.folder / "results")
        self._threads = ThreadPoolExecutor(pool.running + pool.spares + 1, thread_name_prefix="aside")
        self.desk = Desk(
            places=pool.running,
            extra=pool.spares,
            queue=pool.queue,
            share=pool.share,
            shelf=self.shelf,
            aside=self._threads.submit,
        )
        self.workers: dict[int, Handle] = {}
        self.started = 0  # workers started so far
        self.last_words = ""
        self._bad_starts = 0
        self._stopped_looks: dict[int, int] = {}
        self._watcher: asyncio.Task[None] | None = None
        self._clocks: dict[str, asyncio.TimerHandle] = {}

    # ---- for the routes ----------------------------------------------------------------------------------------

    def start(self) -> None:
        """Start the workers and the watch. What is handed in before one is ready waits."""
        self._refill()
        self._watcher = asyncio.create_task(self._watch())

    async def ready(self) -> bool:
        """Wait until a worker is ready; False where none ever gets so."""
        while not self._count("idle", "busy", "leaving"):
            if self._bad_starts >= FAILED_STARTS or self.desk.closed:
                return False
            await asyncio.sleep(0.01)
        return True

    async def submit(self, request: Any, assets: Mapping[str, bytes], *, user: str) -> Task:
        """Queue a task, or raise `desk.BusyError` (429, 503). `assets` by id, the sha-256 of their bytes."""
        digest = input_digest(self._pool.entry, self._pool.version, request, sorted(assets))
        known = await asyncio.to_thread(self.shelf.get, digest)
        task = self.desk.admit(request, assets, user=user, digest=digest)
        if known is not None:
            self.desk.finish(task, "done", result=known)
        elif not self._count("idle", "busy", "leaving"):
            task.stage = "getting ready"
        self._dispatch()
        return task

    async def cancel(self, task: Task) -> bool:
        """End a task now; True once its CPU is free, False where it had ended before."""
        worker = self._worker_of(task)
        if not self.desk.finish(task, "cancelled"):
            return False
        if worker is None:
            return True
        worker.state = "leaving"
        self._stop_clock(task)
        self._threads.submit(worker.ask_to_leave, task.id)
        self._dispatch()
        end_s = time.monotonic() + self._pool.grace_s
        while worker.state == "leaving" and time.monotonic() < end_s:
            await asyncio.sleep(0.01)
        if worker.state == "leaving" and worker.task is task:
            worker.kill()
            self._after_loss(worker)
            await worker.dead.wait()
        return True

    async def stop(self, *, drain_s: float = 8.0) -> None:
        """No new tasks; those running get `drain_s` to end; then every worker dies and the folder is clean."""
        self.desk.close()
        busy = [worker.task for worker in self.workers.values() if worker.task is not None]
        if busy and drain_s > 0:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(drain_s):
                    await asyncio.gather(*(task.ended() for task in busy))
        for task in busy:
            self.desk.finish(task, "failed", error={"type": "Interrupted", "message": "the server has stopped"})
        if self._watcher is not None:
            self._watcher.cancel()
        workers = list(self.workers.values())
        for worker in workers:
            worker.kill()
        for worker in workers:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(worker.dead.wait(), 2.0)
        for clock in self._clocks.values():
            clock.cancel()
        await asyncio.to_thread(self._threads.shutdown, wait=True)
        shutil.rmtree(self._rooms, ignore_errors=True)

    def health(self) -> dict[str, Any]:
        """Workers, queue, the mean, and which walls stand."""
        states = [worker.state for worker in self.workers.values()]
        ready = next((worker for worker in self.workers.values() if worker.walls), None)
        return {
            "ok": self._bad_starts < FAILED_STARTS,
            "workers": {state: states.count(state) for state in sorted(set(states))},
            "waiting": self.desk.waiting,
            "running": self.desk.running,
            "mean_s": round(self.desk.mean_s, 3),
            "started": self.started,
            "walls": ready.walls if ready else {},
            "unlike_results": self.shelf.unlike,
        }

    # ---- the pool ----------------------------------------------------------------------------------------------

    def _count(self, *states: str) -> int:
        return sum(worker.state in states for worker in self.workers.values())

    def _worker_of(self, task: Task) -> Handle | None:
        return next((worker for worker in self.workers.values() if worker.task is task), None)

    def _refill(self) -> None:
        """Keep `running` + `spares` workers alive; no more than `running` warm up at once."""
        p = self._pool
        while (
            not self.desk.closed
            and self._count("warming") < p.running
            and self._bad_starts < FAILED_STARTS
            and self._count("warming", "idle", "busy", "leaving") < p.running + p.spares
        ):
            self.started += 1
            try:
                worker = Handle(
                    self.started,
                    self._rooms / str(self.started),
                    entry=p.entry,
                    limits=p.limits,
                    import_paths=p.import_paths,
                    extra_env=p.extra_env,
                    on_frame=self._heard,
                    on_death=self._died,
                )
            except OSError as exc:  # no process or descriptor to be had just now
                self.last_words = f"no worker could be started ({type(exc).__name__})"
                return  # the watch tries again
            self.workers[worker.number] = worker

    def _dispatch(self) -> None:
        """Give the next tasks to idle workers, in turn."""
        for worker in list(self.workers.values()):
            if worker.state != "idle":
                continue
            task = self.desk.next()
            if task is None:
                return
            worker.state, worker.task = "busy", task
            glance = w.look(worker.pid)
            worker.cpu_base_s = glance.cpu_s if glance else 0.0
            self._clocks[task.id] = asyncio.get_running_loop().call_later(
                self._pool.limits.wall_s, self._lose, worker, task, "WallTime", "it took too long"
            )
            self._threads.submit(worker.hand, task.id, task.request, dict(task.assets))

    def _heard(self, worker: Handle, header: dict[str, Any], body: Result | bytes | None) -> None:
        """A frame from a worker, on the loop. Whatever does not fit what is expected now costs it its life."""
        kind, task = header["kind"], worker.task
        if worker.state == "gone":  # late: what it says no longer counts
            return
        if kind == "ready" and worker.state == "warming":
            stands = header.get("walls")
            worker.walls = stands if isinstance(stands, dict) else {}
            worker.state, self._bad_starts = "idle", 0
        elif task is None or header.get("task") != task.id:
            self._breach(worker)
        elif kind == "progress":
            partial = body if isinstance(body, bytes) else None
            if not self.desk.tell(task, header.get("progress"), header.get("stage"), partial):
                self._breach(worker)
            return
        elif kind == "done" and isinstance(body, Result):
            self.desk.finish(task, "done", result=body)
            self._free(worker)
        elif kind == "failed" and isinstance(header.get("error"), dict):
            self.desk.finish(task, "failed", error=_told(header["error"]))
            self._free(worker, fit=header.get("fit") is True)
        else:
            self._breach(worker)
        self._refill()
        self._dispatch()

    def _free(self, worker: Handle, *, fit: bool = True) -> None:
        """A task has ended: the worker waits for its next one, unless it is unfit, old or has grown fat."""
        self._stop_clock(worker.task)
        worker.task, worker.state = None, "idle"
        worker.tasks_done += 1
        glance = w.look(worker.pid)
        fat = glance is not None and glance.rss_bytes > self._pool.fat_bytes
        if not fit or fat or worker.tasks_done >= self._pool.tasks_each:
            worker.kill()

    def _lose(self, worker: Handle, task: Task, kind: str, message: str) -> None:
        """A task is taken from a worker that is of no more use."""
        self.desk.finish(task, "failed", error={"type": kind, "message": message})
        if worker.task is task:
            worker.kill()
            self._after_loss(worker)

    def _breach(self, worker: Handle) -> None:
        worker.fault = worker.fault or "the worker said what nobody asked"
        worker.kill()

    def _after_loss(self, worker: Handle) -> None:
        """The worker is killed: its place goes to a spare now, before the body is even cold."""
        self._stop_clock(worker.task)
        worker.task = None
        self._refill()
        self._dispatch()

    def _died(self, worker: Handle) -> None:
        """A worker is dead and reaped, on the loop. If a task was still its own, this is that task's end."""
        task = worker.task
        if task is not None and task.state not in FINAL:
            kind, message = _cause(worker)
            self.last_words = worker.last_words()
            self.desk.finish(task, "failed", error={"type": kind, "message": message})
        if not worker.walls:  # it never got ready
            self.last_words = worker.last_words()
            if not self.desk.closed:
                self._bad_starts += 1
        self.workers.pop(worker.number, None)
        self._stopped_looks.pop(worker.number, None)
        worker.remove_files() if self.desk.closed else self._threads.submit(worker.remove_files)
        self._after_loss(worker)
        if self._bad_starts >= FAILED_STARTS and not self._count("idle", "busy", "warming", "leaving"):
            self.desk.close()  # nothing can run any more: end what waits, say 503

    def _stop_clock(self, task: Task | None) -> None:
        clock = self._clocks.pop(task.id, None) if task is not None else None
        if clock is not None:
            clock.cancel()

    # ---- the watch ---------------------------------------------------------------------------------------------

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(WATCH_S)
            self._refill()
            self._dispatch()
            for worker in list(self.workers.values()):
                if worker.state == "gone":
                    worker.kill()  # again: costs nothing, and no kill is ever lost
                    continue
                why = self._trouble(worker)
                if why is None:
                    continue
                if worker.task is not None:
                    self._lose(worker, worker.task, *why)
                else:
                    worker.kill()

    def _trouble(self, worker: Handle) -> tuple[str, str] | None:
        """Why a worker must go: a type and a message, or None."""
        limits = self._pool.limits
        glance = w.look(worker.pid)
        if glance is None:
            return None
        looks = self._stopped_looks.get(worker.number, 0) + 1 if glance.stopped else 0
        self._stopped_looks[worker.number] = looks
        if looks >= STOPPED_LOOKS:
            return "Stopped", "the worker was stopped from outside"
        if glance.rss_bytes > limits.rss_bytes:
            return "MemoryError", "it used too much memory"
        if worker.state == "busy" and glance.cpu_s - worker.cpu_base_s > limits.cpu_s + WATCH_S:
            return "CpuTime", "it used too much processor time"
        if worker.state == "warming" and time.monotonic() - worker.born_s > self._pool.warm_up_s:
            return "WarmUp", "it did not get ready"
        return None


def _told(error: dict[str, Any]) -> dict[str, Any]:
    """What a worker may say of a failure: a few short strings, and whether the engine declared it."""
    told = {
        name: error[name][:500] for name in ("type", "message", "where", "hint") if isinstance(error.get(name), str)
    }
    if isinstance(error.get("trace"), str):
        log.error("a task failed inside: %s", error["trace"][-4000:])
    return {"type": "Error", "message": "", **told, "declared": error.get("declared") is True}


def _cause(worker: Handle) -> tuple[str, str]:
    """Type and message for a worker that died by itself under a task."""
    if worker.fault:
        return "WorkerFault", worker.fault
    code = worker.returncode or 0
    if hasattr(signal, "SIGXCPU") and code == -signal.SIGXCPU:
        return "CpuTime", "it used too much processor time"
    if code == -9:
        return "Killed", "the worker was killed from outside, perhaps for want of memory"
    if code < 0:
        return "Crashed", f"the worker crashed (signal {-code})"
    return "Left", f"the worker left in the middle of the task (status {code})"
