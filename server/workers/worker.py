"""The child's first steps: walls, then pipes, and only then anything that reads foreign bytes (`serving`).

Started by `handle.Handle` as ``python -m server.workers.worker PARENT_PID SETTINGS_JSON``. Standard input brings frames
with tasks, standard output takes frames back (`wire`); both are moved to private descriptors first and replaced by the
null device and standard error, so that a library that prints cannot break the format.
"""

import faulthandler
import importlib
import json
import os
import sys
from collections.abc import Mapping
from typing import Any, BinaryIO

from server.workers import walls as w  # nothing beyond the standard library before the walls stand

__all__ = ["main"]


def main(parent_pid: int, settings: Mapping[str, Any]) -> None:
    """Raise the walls and go to work."""
    stands = w.build(w.Walls(**settings["walls"]), parent_pid)
    source, sink = _private_pipes()
    os.chdir(settings["folder"])
    faulthandler.enable()  # a segfault leaves its stack in the worker's log
    importlib.import_module("server.workers.serving").serve(source, sink, settings, stands)


def _private_pipes() -> tuple[BinaryIO, BinaryIO]:
    source, sink = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    null = os.open(os.devnull, os.O_RDONLY)
    os.dup2(null, 0)
    os.close(null)
    os.dup2(2, 1)
    return source, sink


if __name__ == "__main__":
    main(int(sys.argv[1]), json.loads(sys.argv[2]))
