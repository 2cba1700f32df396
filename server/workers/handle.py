"""The server's end of one worker: start it, hand it a task, hear it, kill it, bury it.

Two small threads per worker do what would block the event loop: `_hear` reads frames and checks a result's bytes,
`_bury` waits for the death. Each frame is handed to the loop and the next is read only when the loop has dealt with it,
so a worker that floods its pipe fills nothing but that pipe. Threads rather than the loop's own readers, since they
work the same on every loop; the pool is small.

The kernel's dies-with-parent signal is bound to the *thread* that starts the worker: `Handle` must be made on the
loop's own thread, which lives as long as the server.
"""

import asyncio
import contextlib
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO, cast

from server.workers import walls as w
from server.workers import wire

__all__ = ["Handle", "Result"]

BURST, RATE = 64, 1000.0  # progress frames heard at once, and a second thereafter


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A task's bytes, checked: `value` is the JSON read, `json` and `npz` as they came (see `wire`)."""

    value: Any
    json: bytes
    npz: bytes


class Handle:
    """One worker process. `state`: warming, idle, busy, leaving (cancelled, not done yet), gone (never used again)."""

    def __init__(
        self,
        number: int,
        folder: Path,
        *,
        entry: str,
        limits: w.Walls,
        import_paths: tuple[str, ...],
        extra_env: Mapping[str, str],
        on_frame: Callable[["Handle", dict[str, Any], Result | bytes | None], None],
        on_death: Callable[["Handle"], None],
    ) -> None:
        self.number, self.folder, self.state = number, folder, "warming"
        self.task: Any = None
        self.tasks_done = 0
        self.cpu_base_s = 0.0  # CPU used before the task now running
        self.fault = ""  # what it did against the rules of the wire
        self.walls: dict[str, str] = {}
        self.born_s = time.monotonic()
        self.dead = asyncio.Event()
        self.returncode: int | None = None
        self._loop, self._on_frame, self._on_death = asyncio.get_running_loop(), on_frame, on_death
        self._reaped, self._lock, self._writing = False, threading.Lock(), threading.Lock()
        folder.mkdir(mode=0o700)
        self._log_path = folder.with_suffix(".log")
        settings = {"entry": entry, "walls": asdict(limits), "folder": str(folder)}
        with self._log_path.open("wb") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-s", "-P", "-m", "server.workers.worker", str(os.getpid()), json.dumps(settings)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                cwd=folder,
                close_fds=True,
                env=w.worker_env(folder, import_paths=import_paths, extra=extra_env),
                **w.start_options(),
            )
        self.pid = self._process.pid
        self._hearer = threading.Thread(target=self._hear, name=f"hear-{number}", daemon=True)
        self._hearer.start()
        threading.Thread(target=self._bury, name=f"bury-{number}", daemon=True).start()

    def hand(self, task_id: str, request: bytes, assets: Mapping[str, bytes]) -> None:
        """Empty the worker's folder and send it a task. Blocks: for a thread. What goes wrong here kills the worker."""
        try:
            for left in self.folder.iterdir():
                shutil.rmtree(left) if left.is_dir() and not left.is_symlink() else left.unlink()
            with self._writing:
                wire.write_frame(
                    cast("BinaryIO", self._process.stdin),
                    {"kind": "task", "task": task_id},
                    {"request": request, **assets},
                )
        except (OSError, ValueError) as exc:  # it died meanwhile, or the task does not fit: `_bury` tells the pool
            if not isinstance(exc, BrokenPipeError):
                self.fault = self.fault or f"the task could not be handed over ({type(exc).__name__})"
            self.kill()

    def ask_to_leave(self, task_id: str) -> None:
        """Tell the worker that its task is not wanted any more. Blocks while it does not read: for a thread."""
        with contextlib.suppress(OSError, ValueError), self._writing:
            wire.write_frame(cast("BinaryIO", self._process.stdin), {"kind": "cancel", "task": task_id})

    def kill(self) -> None:
        """Kill at once. Safe to repeat, from any thread, at any time: a number that is reaped is never signalled."""
        self.state = "gone"
        with self._lock:
            if not self._reaped:
                w.kill_group(self._process)

    def last_words(self) -> str:
        """The end of what it wrote to standard error: for the server's log, not for a user."""
        try:
            return self._log_path.read_bytes()[-2000:].decode("utf-8", "replace")
        except OSError:
            return ""

    def remove_files(self) -> None:
        """Remove the worker's folder and its log."""
        shutil.rmtree(self.folder, ignore_errors=True)
        self._log_path.unlink(missing_ok=True)

    def _hear(self) -> None:
        source = cast("BinaryIO", self._process.stdout)
        credit, heard_s = float(BURST), 0.0
        try:
            while (frame := wire.read_frame(source, most_bytes=wire.RESULT_BYTES)) is not None:
                header, parts = frame
                body = _checked(header["kind"], parts)
                now_s = time.monotonic()
                credit, heard_s = min(BURST, credit + (now_s - heard_s) * RATE) - 1.0, now_s
                if credit < 0.0:
                    time.sleep(1.0 / RATE)
                if not self._tell(self._on_frame, self, header, body):
                    return
        except (wire.WireError, OSError, ValueError) as exc:
            self.fault = self.fault or f"the worker broke the format: {exc}"
        self.kill()  # it closed its pipe or broke the format: no use for it, dead or not

    def _bury(self) -> None:
        w.wait_unreaped(self._process)
        with self._lock:
            w.kill_group(self._process)  # whatever it may have started
        self._hearer.join(0.5)  # let its last frame be heard first
        with self._lock:
            self.returncode = self._process.wait()
            self._reaped = True
        with contextlib.suppress(OSError), self._writing:
            cast("BinaryIO", self._process.stdin).close()
        if not self._hearer.is_alive():
            cast("BinaryIO", self._process.stdout).close()
        self._tell(self._died, wait=False)

    def _died(self) -> None:
        self.state = "gone"
        self.dead.set()
        self._on_death(self)

    def _tell(self, call: Callable[..., None], *args: Any, wait: bool = True) -> bool:
        """Run `call` on the loop, and wait until it has run; False where there is no loop any more."""
        done = threading.Event()

        def step() -> None:
            try:
                call(*args)
            finally:
                done.set()

        try:
            self._loop.call_soon_threadsafe(step)
        except RuntimeError:
            return False
        while wait and not done.wait(5.0):
            if self._loop.is_closed():
                return False
        return True


def _checked(kind: str, parts: dict[str, bytes]) -> Result | bytes | None:
    """What a frame carries, proved to be what it claims; WireError otherwise."""
    if kind == "progress" and parts:
        if set(parts) != {"npz"}:
            raise wire.WireError("progress with parts of another name")
        wire.load_arrays(parts["npz"])
        return parts["npz"]
    if kind != "done":
        return None
    if set(parts) != {"json", "npz"}:
        raise wire.WireError("a result without its two parts")
    wire.load_arrays(parts["npz"])
    return Result(value=wire.load_json(parts["json"]), json=parts["json"], npz=parts["npz"])
