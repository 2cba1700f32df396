"""The child's work, once its walls stand: make ready, be shut in, then run one task after another.

The warm-up (`warm()` of the entry's module) runs each compiled loop once and may fill its cache on disk; then the
worker is shut in, then comes the lifeline (a second thread), then "ready". No foreign byte is read before that.

A task is ``task(request, assets, *, tell) -> (value, arrays)``: JSON values and bytes in, JSON values and arrays out.
"""

import importlib
import os
import queue
import threading
import time
import traceback
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from server.workers import heap, wire
from server.workers import walls as w

__all__ = ["CancelledError", "Teller", "serve"]

INPUT_BYTES = 512 << 20  # 72 photographs of 7 MB
TELL_EVERY_S = 0.05  # smoother than a bar on a page can show

Frame = tuple[dict[str, Any], dict[str, bytes]]
Write = Callable[[Mapping[str, Any], Mapping[str, bytes]], None]


class CancelledError(Exception):
    """The server has no more use for the task under way."""


def serve(source: BinaryIO, sink: BinaryIO, settings: Mapping[str, Any], stands: dict[str, str]) -> None:
    """Load and warm the task, be shut in, say "ready", and serve until the server closes the pipe or kills us."""
    limits = w.Walls(**settings["walls"])
    heap.keep()
    task = _load(settings["entry"])
    stands["shut_in"] = w.shut_in(settings["folder"])  # binds the threads started from here on
    frames: queue.SimpleQueue[Frame] = queue.SimpleQueue()
    unwanted: set[str] = set()
    threading.Thread(target=_lifeline, args=(source, frames, unwanted), daemon=True).start()

    def write(header: Mapping[str, Any], parts: Mapping[str, bytes]) -> None:
        wire.write_frame(sink, header, parts)

    write({"kind": "ready", "walls": stands}, {})
    while True:
        header, parts = frames.get()
        w.allow_cpu(limits.cpu_s)
        _serve(task, header["task"], parts, write, unwanted)
        del header, parts


def _serve(task: Callable[..., Any], name: str, parts: dict[str, bytes], write: Write, unwanted: set[str]) -> None:
    """Run one task and send what came of it."""
    try:
        request = wire.load_json(parts.pop("request"))
        value, arrays = task(request, parts, tell=Teller(name, write, unwanted))
        heap.give_back()  # before the answer: the supervisor then looks whether the worker has grown fat
        result = {"json": wire.dump_json(value), "npz": wire.dump_arrays(arrays)}
    except CancelledError:
        write({"kind": "failed", "task": name, "error": {"type": "Cancelled"}, "fit": True}, {})
    except BaseException as exc:  # SystemExit too: nothing a task raises ends the worker
        fit = isinstance(exc, Exception) and not isinstance(exc, MemoryError | RecursionError)
        write({"kind": "failed", "task": name, "error": _described(exc), "fit": fit}, {})
    else:
        write({"kind": "done", "task": name}, result)
    unwanted.discard(name)


class Teller:
    """Progress that only grows, at most 20 times a second; a new stage is told at once. `arrays`, when given, is
    what can be drawn already. Raises CancelledError once the server has no more use for the task.
    """

    def __init__(self, name: str, write: Write, unwanted: set[str]) -> None:
        self._name, self._write, self._unwanted = name, write, unwanted
        self._progress, self._stage, self._sent_s = 0.0, "", -1.0

    def __call__(self, stage: str, progress: float, arrays: Mapping[str, Any] | None = None) -> None:
        """Tell the server how far the task is."""
        if self._name in self._unwanted:
            raise CancelledError
        if progress >= self._progress:  # NaN is not
            self._progress = min(float(progress), 1.0)
        now_s = time.monotonic()
        if arrays is None and stage == self._stage and now_s - self._sent_s < TELL_EVERY_S:
            return
        self._stage, self._sent_s = stage, now_s
        header = {"kind": "progress", "task": self._name, "progress": self._progress, "stage": stage}
        self._write(header, {} if arrays is None else {"npz": wire.dump_arrays(arrays)})


def _load(entry: str) -> Callable[..., Any]:
    """The function named ``module:function``, after its module's ``warm()`` has run where there is one."""
    module_name, _, function = entry.partition(":")
    module = importlib.import_module(module_name)
    if hasattr(module, "warm"):
        module.warm()
    found: Callable[..., Any] = getattr(module, function)
    return found


def _described(exc: BaseException) -> dict[str, Any]:
    """What may be told of an exception. One of the engine's own has words for the person; any other leaves its trace
    for the server's log.
    """
    told: dict[str, Any] = {"type": type(exc).__name__, "declared": hasattr(exc, "hint")}
    if not told["declared"]:
        return told | {"trace": "".join(traceback.format_exception(exc))[-4000:]}
    for name in ("message", "where", "hint"):
        told[name] = str(getattr(exc, name, ""))[:500]
    return told


def _lifeline(source: BinaryIO, frames: queue.SimpleQueue[Frame], unwanted: set[str]) -> None:
    """Read tasks and cancels as they come; when the server's end closes, leave at once, busy or not."""
    try:
        while (frame := wire.read_frame(source, most_bytes=INPUT_BYTES)) is not None:
            if frame[0]["kind"] == "cancel":
                unwanted.add(frame[0]["task"])
            else:
                frames.put(frame)
    finally:
        os._exit(0)
