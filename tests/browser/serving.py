"""A real server for the browser: the command that a person types, in a process of its own, with its own data."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, "-m", "server.cli", "serve", "--port", "0", "--no-browser"]


@contextmanager
def serving(data: Path, *, opening: Path | None = None) -> Iterator[str]:
    """The address of a server that keeps its data in `data` and opens a job file, for as long as the block lasts."""
    command = [*COMMAND, "--data", str(data)] + (["--open", str(opening)] if opening else [])
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as server:
        try:
            yield _address(server)
        finally:
            server.terminate()


def _address(server: subprocess.Popen[str]) -> str:
    told = []
    for line in server.stdout or ():
        told.append(line)
        found = re.search(r"http://\S+", line)
        if found:
            return found.group().rstrip("/")
    raise RuntimeError("the server did not start: " + "".join(told))
