"""The front desk: who may hand in a task, whose turn it is, and what has become of each.

It knows nothing of processes: `supervisor` takes the next task with `next` and brings it to an end with `finish`.
Everything here happens on one event loop, so each method is one step that nothing can interrupt.
"""

import collections
import math
import re
import time
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from server.changes import Changes
from server.workers.handle import Result
from server.workers.shelf import Shelf
from server.workers.wire import dump_json

__all__ = ["FINAL", "SHORT_BYTES", "BusyError", "Desk", "Task"]

FINAL = frozenset({"done", "failed", "cancelled"})
SHORT_BYTES = 8 << 20  # one photograph as a camera packs it, a shop's usual job; a dozen photographs are more
_STAGE = re.compile(r"[a-z0-9 ,_-]{1,60}")


class BusyError(Exception):
    """Not now: `status` 429 (this user has enough under way) or 503 (all wait), and when to come back."""

    def __init__(self, status: int, retry_after_s: int) -> None:
        super().__init__(f"{status}, come back in {retry_after_s} s")
        self.status, self.retry_after_s = status, retry_after_s


@dataclass(slots=True, kw_only=True, eq=False)
class Task:
    """One task's record. `state` ends in exactly one of FINAL; `progress` only grows.

    value, partial : the JSON result, once done; the arrays that could be drawn before the end, as npz. asked : for
    whoever handed the task in to remember what it was about. long : of the lane for long work.
    """

    id: str
    user: str
    digest: str
    request: bytes
    assets: Mapping[str, bytes]
    long: bool = False
    asked: Any = None
    state: str = "queued"
    progress: float = 0.0
    stage: str = ""
    error: dict[str, Any] | None = None
    value: Any = None
    partial: bytes | None = None
    unfiled: Result | None = None  # only until it is filed: see `Desk.result`
    started_s: float | None = None
    ended_s: float | None = None
    changes: Changes = field(default_factory=Changes)

    async def ended(self) -> "Task":
        """Wait for the end, whatever it is."""
        await self.changes.end()
        return self

    def changed(self) -> None:
        """Wake who waits for a change."""
        self.changes.note(over=self.state in FINAL)


class Desk:
    """Admission, turns, states. `places` tasks may run at once, `queue` more may wait, `share` are one user's.

    There are two lanes, for short work and for long, which is what carries more than SHORT_BYTES. Either may take
    `places`, both together `extra` more: what is short does not wait behind what is long. `aside(call, *args)` runs a
    call on a thread, for what would hold the loop too long.
    """

    def __init__(
        self,
        *,
        places: int,
        extra: int = 0,
        queue: int,
        share: int,
        shelf: Shelf,
        aside: Callable[..., Any],
        remember: int = 256,
    ) -> None:
        self.places, self.extra, self.queue, self.share = places, extra, queue, share
        self.tasks: dict[str, Task] = {}
        self.closed = False
        self._shelf, self._aside, self._remember = shelf, aside, remember
        self._waiting: collections.OrderedDict[str, collections.deque[Task]] = collections.OrderedDict()
        self._running: collections.Counter[str] = collections.Counter()
        self._lanes: collections.Counter[bool] = collections.Counter()  # running, by whether they are long
        self._took_s: collections.deque[float] = collections.deque([5.0], maxlen=64)  # a guess until the first end
        self._guess = True

    @property
    def waiting(self) -> int:
        """Tasks that wait for a place."""
        return sum(len(line) for line in self._waiting.values())

    @property
    def running(self) -> int:
        """Tasks that hold a place."""
        return self._running.total()

    @property
    def mean_s(self) -> float:
        """Mean time of the last tasks."""
        return sum(self._took_s) / len(self._took_s)

    def admit(self, request: Any, assets: Mapping[str, bytes], *, user: str, digest: str) -> Task:
        """Take a task in, or raise `BusyError`. The caller ends one whose result is on the shelf."""
        if self.closed:
            raise BusyError(503, 10)
        if not self._shelf.has(digest):
            own = len(self._waiting.get(user, ())) + self._running[user]
            if own >= self.share:
                raise BusyError(429, self._retry_after((0 if self._running[user] else self.waiting) + 1))
            if self.waiting >= self.queue:
                raise BusyError(503, self._retry_after(1))
        body = dump_json(request)
        long = len(body) + sum(map(len, assets.values())) > SHORT_BYTES
        task = Task(id=uuid.uuid4().hex, user=user, digest=digest, request=body, assets=assets, long=long)
        self._forget_old()
        self.tasks[task.id] = task
        self._waiting.setdefault(user, collections.deque()).append(task)
        return task

    def next(self) -> Task | None:
        """The task whose turn it is, now running, or None: of the user with the fewest running, and of those the one
        whose turn came up longest ago; of that user's the first whose lane has a place.
        """
        if self.running >= self.places + self.extra:
            return None
        for user in sorted(self._waiting, key=lambda name: self._running[name]):  # stable: equals in order of the turns
            task = next((task for task in self._waiting[user] if self._lanes[task.long] < self.places), None)
            if task is not None:
                self._leave_line(task)
                if user in self._waiting:
                    self._waiting.move_to_end(user)
                self._running[user] += 1
                self._lanes[task.long] += 1
                task.state, task.started_s = "running", time.monotonic()
                task.changed()
                return task
        return None

    def tell(self, task: Task, progress: Any, stage: Any, partial: bytes | None) -> bool:
        """Note progress; False where the worker said something impossible."""
        if type(progress) not in (int, float) or not 0.0 <= progress <= 1.0:
            return False
        if not isinstance(stage, str) or not _STAGE.fullmatch(stage):
            return False
        if task.state == "running":
            task.progress, task.stage = max(task.progress, float(progress)), stage
            task.partial = partial or task.partial
            task.changed()
        return True

    def finish(
        self, task: Task, state: str, *, error: dict[str, Any] | None = None, result: Result | None = None
    ) -> bool:
        """Bring a task to its one end; False (and nothing changes) where it has ended already."""
        if task.state in FINAL:
            return False
        if task.state == "running":
            self._running[task.user] -= 1
            self._lanes[task.long] -= 1
            self._running += collections.Counter()  # drops the users at nought
        elif task.state == "queued":
            self._leave_line(task)
        task.state, task.error, task.ended_s = state, error, time.monotonic()
        if state == "done" and result is not None:
            task.progress, task.value, task.unfiled = 1.0, result.value, result
            self._aside(self._file, task, result)
        if state != "done":
            task.partial = None
        if task.started_s is not None and state != "cancelled":
            if self._guess:
                self._took_s.clear()
                self._guess = False
            self._took_s.append(task.ended_s - task.started_s)
        task.request, task.assets = b"", {}
        task.changed()
        return True

    def result(self, task: Task) -> Result | None:
        """A done task's bytes, proved against their sha-256; None where it is not done, or its result was thrown out
        or has changed on disk. Reads a file: for a thread.
        """
        return task.unfiled or (self._shelf.get(task.digest) if task.state == "done" else None)

    def close(self) -> None:
        """Take no more tasks in, and end those that wait."""
        self.closed = True
        for task in [task for line in self._waiting.values() for task in line]:
            self.finish(task, "failed", error={"type": "Interrupted", "message": "the server is stopping"})

    def _leave_line(self, task: Task) -> None:
        line = self._waiting[task.user]
        line.remove(task)
        if not line:
            del self._waiting[task.user]

    def _file(self, task: Task, result: Result) -> None:
        self._shelf.put(task.digest, result)
        task.unfiled = task.partial = None

    def _retry_after(self, ends: int) -> int:
        return min(600, max(1, math.ceil(self.mean_s * ends / self.places)))

    def _forget_old(self) -> None:
        if len(self.tasks) >= self._remember:
            for name in [key for key, task in self.tasks.items() if task.state in FINAL][: self._remember // 4]:
                del self.tasks[name]
